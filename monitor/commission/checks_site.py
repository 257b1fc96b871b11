"""Checks of other sources, protection, alarms raised on purpose, and what is drawn unasked."""

from __future__ import annotations

from typing import Final

from monitor.bank import SourceKind
from monitor.commission.check import Ask, Check, Result, Watch, asking, judged, not_done, within
from monitor.commission.checks_charging import ac_chargers, source_amps
from monitor.commission.memory import SINCE, eased, lasted, steady
from monitor.commission.record import Figure, Limit, Verdict
from monitor.commission.setting import Setting

_SOURCES: Final = "other sources"
_GUARDS: Final = "protection and alarms"

_MINUTE: Final = 60.0
#: An engine's charging is judged after it idled for so long (common practice: hot, not cold).
_IDLE_SECONDS: Final = 1200.0
#: Of its rating, what a hot source gives at idle (from memory: about half).
_IDLE_SHARE: Final = 0.40
_ALARM_SECONDS: Final = 2700.0
_DRAW_SECONDS: Final = 300.0
_OPEN_AMPS: Final = 0.5
#: Since when the engine's charging runs; a gap in the readings ends it.
_RUN: Final = "run" + SINCE


# -- other sources ------------------------------------------------------------------------------


def _no_generator(setting: Setting, target: str) -> str:
    del target
    if not ac_chargers(setting):
        return "no AC charger"
    return "" if setting.installation.generator else "no generator"


def _generator(watch: Watch) -> Result | None:
    volts, hertz = watch.figure("volts"), watch.figure("hertz")
    name = ac_chargers(watch.setting)[0]
    amps, rated = watch.look.source(name).amps, watch.setting.rated_amps(name)
    if amps is None:
        amps = watch.amps
    if volts is None or hertz is None or amps is None:
        return None
    now = eased(watch.memory, "amps", amps, watch.look.seconds, 20.0)
    nominal = 230.0 if volts > 180.0 else 120.0
    figures = [
        Figure("volts over nominal", volts / nominal, "", 0.01),
        Figure("hertz", hertz, "Hz", 0.1),
    ]
    if rated is not None:
        figures.append(Figure("output over rating", now / rated, "", 0.02))
    return judged(watch.limits, tuple(figures))


def _generator_limits(setting: Setting, target: str) -> tuple[Limit, ...]:
    del setting, target
    return (
        Limit("volts over nominal", "", 0.90, 1.10, "IEC 60038, ±10 % (from memory)"),
        Limit("hertz", "Hz", 47.0, 63.0, "50 or 60 Hz less or more 5 % (common practice)"),
        Limit("output over rating", "", 0.85, None, "our choice: a generator holds full output"),
    )


def solar(setting: Setting) -> tuple[str, ...]:
    return tuple(each.id for each in setting.sources if each.kind is SourceKind.SOLAR)


def _solar(watch: Watch) -> Result | None:
    amps, clamp = source_amps(watch), watch.figure("clamp")
    if amps is None or clamp is None:
        return None
    others = [s for s in watch.look.sources if s.id != watch.target and (s.amps or 0.0) > 1.0]
    if others:
        return not_done(f"{others[0].id} gives as well: switch it off")
    now = eased(watch.memory, "amps", amps, watch.look.seconds, 20.0)
    if lasted(watch.memory, "alone", True, watch.look.seconds) < _MINUTE:
        return None
    doubt = watch.setting.meter_sd("A", clamp)
    return judged(
        watch.limits,
        (
            Figure("clamp", clamp, "A", doubt),
            Figure("told", now, "A"),
            Figure("told less clamp", now - clamp, "A", doubt),
        ),
    )


def _solar_limits(setting: Setting, target: str) -> tuple[Limit, ...]:
    off = max(1.0, 0.05 * (setting.rated_amps(target) or 0.0))
    return (
        Limit("clamp", "A", 1.0, None, "our choice: an ampere or more, else wait for the sun"),
        Limit("told less clamp", "A", -off, off, "our choice: 5 % of its rating"),
    )


def engine_sources(setting: Setting) -> tuple[str, ...]:
    kinds = (SourceKind.ALTERNATOR, SourceKind.DC_DC)
    return tuple(each.id for each in setting.sources if each.kind in kinds)


def _engine(watch: Watch) -> Result | None:
    """Back-feed is entered with the ignition off, then the engine idles until it is hot."""
    back, amps = watch.figure("back-feed"), source_amps(watch)
    rated = watch.setting.rated_amps(watch.target)
    if back is None or amps is None:
        return None
    if rated is None:
        return not_done(f"rated amps of {watch.target} were not entered")
    memory, seconds = watch.memory, watch.look.seconds
    if _RUN not in memory and amps < 0.1 * rated:
        since = seconds - memory.setdefault("since", seconds)
        if since < 3.0 * _IDLE_SECONDS:
            return None
        return Result(Verdict.FAIL, "the engine runs, nothing comes: no charge with ignition on")
    now = eased(memory, "amps", amps, seconds, 60.0)
    if seconds - memory.setdefault(_RUN, seconds) < _IDLE_SECONDS:
        return None
    figures = [
        Figure("back-feed", abs(back), "A", 0.05),
        Figure("hot idle over rating", now / rated, "", 0.02),
    ]
    case = watch.figure("case")
    if case is not None:
        figures.append(Figure("case", case, "°C", 2.0))
    return judged(watch.limits, tuple(figures))


def _one_bank(setting: Setting, target: str) -> str:
    del target
    return "" if len(setting.site.banks) > 1 else "one bank only"


def _both_banks(watch: Watch) -> Result | None:
    before, after = watch.figure("before"), watch.figure("after")
    if before is None or after is None:
        return None
    return judged(watch.limits, (Figure("rise of the other bank", after - before, "V", 0.02),))


# -- protection and alarms ----------------------------------------------------------------------


def _guards(setting: Setting) -> tuple[str, ...]:
    return tuple(each.name for each in setting.installation.protection) or ("",)


def _no_guard(setting: Setting, target: str) -> str:
    if target:
        return ""
    if setting.lead:
        return "lead-acid without protection of its own"
    return ""


def _guard(watch: Watch) -> Result | None:
    if not watch.target:
        return not_done("no protection was entered; LFP must have one")
    opened, closed, amps = watch.said("opened"), watch.said("closed"), watch.amps
    if amps is not None:
        flowing = abs(amps) >= 2.0
        watch.memory["flowed"] = max(watch.memory.get("flowed", 0.0), float(flowing))
        stopped = lasted(watch.memory, "stopped", abs(amps) < _OPEN_AMPS, watch.look.seconds)
        if watch.memory["flowed"] and stopped >= 3.0:
            watch.memory["seen"] = 1.0
    if opened == "no":
        return Result(Verdict.FAIL, "it did not open")
    if closed == "no":
        return Result(Verdict.FAIL, "it did not close again")
    if opened is None or closed is None:
        return None
    if not watch.memory.get("seen"):
        return Result(Verdict.FAIL, "said to have opened, but the shunt's current never stopped")
    return Result(Verdict.PASS, "opened, the current stopped, closed again")


#: Safe ways to raise an alarm: what to do, and the alarms that it may raise.
_WAYS: Final[dict[str, tuple[str, tuple[str, ...]]]] = {
    "link": (
        "Pull the data plug of the shunt for some minutes, then plug it in again.",
        ("device-silent", "figure-missing", "polls-lost"),
    ),
    "temperature": (
        "Pull the plug of the tool's temperature sensor for twenty minutes, then plug it in again.",
        ("temperature-missing", "figure-missing", "readings-implausible", "temperature-leapt"),
    ),
}


def _ways(setting: Setting) -> tuple[str, ...]:
    del setting
    return tuple(_WAYS)


def _alarm(watch: Watch) -> Result | None:
    names = _WAYS[watch.target][1]
    up = [alarm for alarm in watch.look.alarms if alarm.split(":", 1)[1] in names]
    memory, seconds = watch.memory, watch.look.seconds
    since = seconds - memory.setdefault("since", seconds)
    if "began" not in memory:
        memory["began"] = 1.0
        memory["already"] = float(bool(up))
    if memory["already"]:
        return not_done(f"{', '.join(up)} was up before: clear it first")
    if up and "raised" not in memory:
        memory["raised"] = since
    if "raised" in memory and not up:
        figures = (
            Figure("raised after", memory["raised"], "s"),
            Figure("cleared after", since, "s"),
        )
        return Result(Verdict.PASS, "raised and cleared again", figures)
    if since < _ALARM_SECONDS:
        return None
    if up:
        return Result(Verdict.FAIL, f"{', '.join(up)} was raised and did not clear")
    return Result(Verdict.FAIL, "no alarm came")


def _draw_limits(setting: Setting, target: str) -> tuple[Limit, ...]:
    del target
    # Half of the bank in a fortnight (our choice: a coach that stands for two weeks).
    amps = 0.5 * setting.bank.amp_hours / (14.0 * 24.0)
    most = max(amps, (setting.bank.standing_amps or 0.0) * 1.5)
    source = "our choice: takes at least a fortnight for half of the bank"
    return (Limit("standing draw", "A", None, round(most, 2), source),)


def _draw(watch: Watch) -> Result | None:
    if watch.amps is None or not watch.done:
        return None
    still = steady(watch.memory, "amps", watch.amps, watch.look.seconds, 0.5)
    if still.seconds < _DRAW_SECONDS:
        return None
    return judged(watch.limits, (Figure("standing draw", -still.mean, "A", max(still.sd, 0.03)),))


CHECKS: Final = (
    Check(
        id="generator",
        group=_SOURCES,
        title="The charger on the generator",
        purpose="A generator that is too small or runs too fast shows here, not at night.",
        caution="Generator outdoors, exhaust away from windows: carbon monoxide kills.",
        hands="Shore lead out. Start the generator, charger at full output.",
        watches="the charger's output",
        shows="amps",
        needless=_no_generator,
        asks=asking(
            Ask("volts", "AC volts on the generator", "V", 50.0, 300.0),
            Ask("hertz", "Its frequency", "Hz", 20.0, 100.0),
        ),
        limits=_generator_limits,
        watch=_generator,
    ),
    Check(
        id="solar",
        group=_SOURCES,
        title="The sun alone",
        purpose="The regulator charges by itself, and tells what it gives.",
        caution="Panels give volts whenever there is light: cover them before touching a lead.",
        hands="Everything else off. Clamp on the regulator's battery cable; enter what it shows.",
        watches="the regulator's amps against the clamp, for a minute",
        shows="source_amps",
        targets=solar,
        asks=asking(Ask("clamp", "Amps by the clamp", "A", -10.0, 1000.0)),
        limits=_solar_limits,
        watch=_solar,
    ),
    Check(
        id="engine",
        group=_SOURCES,
        title="Charging by the engine: ignition, back-feed, hot idle",
        purpose="It charges with the ignition, takes nothing back without it, and stands the heat.",
        caution="Engine in the open or exhaust led away; hands and clothes clear of belts.",
        hands="Ignition off: clamp on its battery cable, enter the back-feed. Start the engine, "
        "let it idle for 20 minutes. Measure the case if it can be reached.",
        watches="the source's amps until it is hot",
        shows="source_amps",
        targets=engine_sources,
        asks=asking(
            Ask("back-feed", "Amps with ignition off", "A", -100.0, 100.0),
            Ask("case", "Temperature of its case, hot", "°C", -40.0, 200.0, True),
        ),
        limits=within(
            Limit("back-feed", "A", None, 0.5, "our choice: more empties a bank in weeks"),
            Limit("hot idle over rating", "", _IDLE_SHARE, None, "from memory: half when hot"),
            Limit("case", "°C", None, 105.0, "from memory: beyond this windings age quickly"),
        ),
        watch=_engine,
    ),
    Check(
        id="both-banks",
        group=_SOURCES,
        title="The other bank is charged too",
        purpose="A combiner or second output that does nothing is noticed when the engine is dead.",
        hands="Charger on. Volts at the other bank's posts before and ten minutes after.",
        watches="the figures entered",
        needless=_one_bank,
        asks=asking(
            Ask("before", "Volts of the other bank before", "V", 2.0, 80.0),
            Ask("after", "Volts of the other bank after", "V", 2.0, 80.0),
        ),
        limits=within(Limit("rise of the other bank", "V", 0.1, None, "our choice")),
        watch=_both_banks,
    ),
    Check(
        id="protection",
        group=_GUARDS,
        title="Protection opens and closes again",
        purpose="What must save the battery does so.",
        caution="Only in the way its maker describes (a test key, a command, its disconnect). "
        "Never by heat, frost, a short or by driving cells to their limits.",
        hands="A load or charge of some amps on. Open it, look, close it again.",
        watches="that the current stops",
        shows="amps",
        targets=_guards,
        needless=_no_guard,
        asks=asking(
            Ask("opened", "Did it open? yes or no"),
            Ask("closed", "Did it close again? yes or no"),
        ),
        watch=_guard,
    ),
    Check(
        id="alarm",
        group=_GUARDS,
        title="An alarm raised on purpose",
        purpose="Whoever lives there sees that the tool speaks up, and what that looks like.",
        caution="Data plugs only; no power or battery terminal is opened for this.",
        hands="link: " + _WAYS["link"][0] + " temperature: " + _WAYS["temperature"][0],
        watches="that the alarm comes, and clears",
        shows="alarms",
        targets=_ways,
        watch=_alarm,
    ),
    Check(
        id="standing-draw",
        group=_GUARDS,
        title="What is drawn with everything off",
        purpose="What nobody sees empties a bank in weeks.",
        hands="Sources off; everything off as the owner would leave it. Say done, then wait five "
        "minutes.",
        watches="bank current for five minutes in which it stands still",
        shows="amps",
        limits=_draw_limits,
        watch=_draw,
        until_done=True,
    ),
)
