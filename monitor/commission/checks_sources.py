"""Checks of other sources: generator and the change to it, sun, engine, another bank, and what a
source takes back while it gives nothing."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from monitor.bank import SourceKind
from monitor.commission.ac_side import ac_figures, settled_since_done
from monitor.commission.check import NO, Ask, Check, Result, Watch, asking, judged, not_done, within
from monitor.commission.checks_charging import (
    IDLE_SHARE,
    ac_chargers,
    first_ac,
    in_bulk,
    solar,
    source_amps,
)
from monitor.commission.checks_entered import each_source
from monitor.commission.memory import SINCE, eased, lasted, steady
from monitor.commission.record import Figure, Limit, Verdict
from monitor.commission.setting import Setting

_GROUP: Final = "other sources"
_MINUTE: Final = 60.0
#: An engine's charging is judged after it idled for so long (common practice: hot, not cold).
_IDLE_SECONDS: Final = 1200.0
#: Since when the engine's charging runs; a gap in the readings ends it.
_RUN: Final = "run" + SINCE
#: Of its rating, what a charger gives on a generator that carries it (our choice: it holds full
#: output, and ratings are told to 5 %).
_CARRIED_SHARE: Final = 0.85
#: After so long on the other supply a charger gives all it has again (common practice: change-over
#: switches wait some 20 to 30 s, chargers start softly within a minute; our choice: five minutes).
_CHANGE_SECONDS: Final = 300.0
#: The sun is taken to stand still where what it gives has done so before a reading and after.
_STILL_SECONDS: Final = 30.0
#: Idle, a converter draws some watts and is hand-warm at most (our choice).
_IDLE_CELSIUS: Final = 15.0


# -- generator -----------------------------------------------------------------------------------


def _no_generator(setting: Setting, target: str) -> str:
    del target
    if not ac_chargers(setting):
        return "no AC charger"
    return "" if setting.installation.generator else "no generator"


_GENERATOR_ASKS: Final = (
    Ask("volts", "AC volts on the generator", "V", 50.0, 300.0, told_as="volts"),
    Ask("hertz", "Its frequency", "Hz", 20.0, 100.0, told_as="hertz"),
)


def _generator(watch: Watch) -> Result | None:
    name = ac_chargers(watch.setting)[0]
    found = ac_figures(watch, name, _GENERATOR_ASKS)
    amps, rated = watch.look.source(name).amps, watch.setting.rated_amps(name)
    if amps is None:
        amps = watch.amps
    if found is None or amps is None or (found.told and not settled_since_done(watch)):
        return None
    volts, hertz = found.all["volts"], found.all["hertz"]
    now = eased(watch.memory, "amps", amps, watch.look.seconds, 20.0)
    figures = [
        Figure("volts over nominal", volts / watch.setting.ac_volts(name), "", 0.01),
        Figure("hertz", hertz, "Hz", 0.1),
    ]
    if rated is not None:
        figures.append(Figure("output over rating", now / rated, "", 0.02))
    return judged(watch.limits, tuple(figures), found.words)


def _generator_limits(setting: Setting, target: str) -> tuple[Limit, ...]:
    del target
    hertz = setting.ac_hertz(ac_chargers(setting)[0])
    carried = "our choice: a generator holds full output"
    return (
        Limit("volts over nominal", "", 0.90, 1.10, "IEC 60038, ±10 % (from memory)"),
        Limit(
            "hertz",
            "Hz",
            0.95 * hertz,
            1.05 * hertz,
            f"{hertz:.0f} Hz as entered, else by its volts; 5 % either way (common practice)",
        ),
        Limit("output over rating", "", _CARRIED_SHARE, None, carried),
    )


def _change_limits(setting: Setting, target: str) -> tuple[Limit, ...]:
    del setting, target
    source = "our choice: either supply carries the charger, within five minutes of the change"
    return (
        Limit("output on the generator over rating", "", _CARRIED_SHARE, None, source),
        Limit("output back on shore over rating", "", _CARRIED_SHARE, None, source),
    )


def _change(watch: Watch) -> Result | None:
    """The cord's pins are answered for while the generator carries the charger; then the person
    changes back and says done."""
    name = ac_chargers(watch.setting)[0]
    amps, rated = watch.look.source(name).amps, watch.setting.rated_amps(name)
    pins, memory, seconds = watch.said("pins"), watch.memory, watch.look.seconds
    if pins == NO:
        why = "the cord's pins are live while the generator runs: it feeds back into the supply"
        return Result(Verdict.FAIL, f"{why}. Stop it now; a licensed electrician mends this first")
    if rated is None:
        return not_done(f"rated amps of {name} were not entered")
    if amps is None:
        amps = watch.amps
    if amps is None:
        return None
    now = eased(memory, "amps", amps, seconds, 20.0)
    if pins is None:
        return None
    on_generator = memory.setdefault("generator", now)
    if not watch.done:
        return None
    since = seconds - memory.setdefault("since", seconds)
    full = now >= _CARRIED_SHARE * rated
    if since < _MINUTE or (not full and since < _CHANGE_SECONDS):
        return None
    if not full and in_bulk(replace(watch, target=name)) is False:
        return not_done("the bank no longer takes full output: discharge it and do it again")
    return judged(
        watch.limits,
        (
            Figure("output on the generator over rating", on_generator / rated, "", 0.02),
            Figure("output back on shore over rating", now / rated, "", 0.02),
        ),
    )


def _solar(watch: Watch) -> Result | None:
    amps, clamp = source_amps(watch), watch.figure("clamp")
    if amps is None:
        return None
    # a regulator that is asked every ten seconds lags behind a clamp where clouds pass
    memory, seconds = watch.memory, watch.look.seconds
    told = steady(memory, "told", amps, seconds, max(0.5, 0.05 * amps))
    alone = lasted(memory, "alone", True, seconds)
    if clamp is None:
        return None
    others = [s for s in watch.look.sources if s.id != watch.target and (s.amps or 0.0) > 1.0]
    if others:
        return not_done(f"{others[0].id} gives as well: switch it off")
    entered = memory.setdefault("entered", seconds)
    if alone < _MINUTE or seconds - entered < _STILL_SECONDS:
        return None
    if told.seconds < 2.0 * _STILL_SECONDS:
        return not_done("the sun came or went meanwhile: do it again while it stands still")
    now = told.mean
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
    before, after, parted = (watch.figure(name) for name in ("before", "after", "parted"))
    if before is None or after is None or parted is None:
        return None
    doubt = watch.setting.meter_sd("A", parted)
    return judged(
        watch.limits,
        (
            Figure("rise of the other bank", after - before, "V", 0.02),
            Figure("flows while parted", abs(parted), "A", doubt),
        ),
    )


# -- what is taken back -------------------------------------------------------------------------


def may_stand(setting: Setting) -> float:
    """Amps that everything together may draw unasked: half of the bank in a fortnight (our choice:
    a coach that stands for two weeks), or half as much again as its owner said."""
    amps = 0.5 * setting.bank.amp_hours / (14.0 * 24.0)
    return round(max(amps, (setting.bank.standing_amps or 0.0) * 1.5), 2)


def _idle_sources(setting: Setting) -> tuple[str, ...]:
    """The engine's have a check of their own, which asks for it with the ignition off."""
    engine = engine_sources(setting)
    return tuple(each for each in each_source(setting) if each not in engine)


def _back_limits(setting: Setting, target: str) -> tuple[Limit, ...]:
    del target
    source = "our choice: no more than everything together may draw, and what a clamp resolves"
    warm = "our choice: idle, it takes some watts; hotter, it takes more or gives still"
    return (
        Limit("back-feed", "A", None, max(may_stand(setting), 0.3), source),
        Limit("case above the air", "°C", None, _IDLE_CELSIUS, warm),
    )


def _back(watch: Watch) -> Result | None:
    back, case, air = (watch.figure(name) for name in ("back-feed", "case", "air"))
    if back is None or case is None or air is None:
        return None
    gives = watch.look.source(watch.target).amps or 0.0
    if gives > 1.0:
        return not_done(f"it still gives {gives:.1f} A: cord out, panels covered or night")
    doubt, warmth = watch.setting.meter_sd("A", back), watch.setting.meter_sd("°C", case)
    return judged(
        watch.limits,
        (
            Figure("back-feed", abs(back), "A", doubt),
            Figure("case above the air", case - air, "°C", 1.41 * warmth),
        ),
    )


CHECKS: Final = (
    Check(
        id="generator",
        group=_GROUP,
        title="The charger on the generator",
        purpose="A generator that is too small or runs too fast shows here, not at night.",
        caution="Generator outdoors, exhaust away from windows: carbon monoxide kills.",
        hands="Shore lead out. Start the generator, charger at full output. Enter both figures; "
        "where the charger tells them, say done instead.",
        watches="the charger's output",
        shows="amps",
        needless=_no_generator,
        asks=asking(*_GENERATOR_ASKS),
        fed_by=first_ac,
        done_if_told=True,
        limits=_generator_limits,
        watch=_generator,
    ),
    Check(
        id="change-over",
        group=_GROUP,
        title="From shore to generator and back",
        purpose="The charger goes on by itself, and nothing comes out of the cord's pins, which "
        "would kill whoever holds it or works on the line.",
        caution="Take the pins for live until a tester says otherwise; a plug-in tester or a "
        "closed test box only. Mains work is for who is licensed, by local codes. Generator "
        "outdoors: carbon monoxide kills.",
        hands="Bank low, charger at full output on shore. Draw the cord, start the generator, wait "
        "for full output; test the pins of the cord's inlet; answer. Stop the generator, plug in "
        "again, say done.",
        watches="the charger's output on the generator and back on shore",
        shows="amps",
        needless=_no_generator,
        asks=asking(Ask("pins", "Cord out, generator on: are the inlet's pins dead? yes or no")),
        limits=_change_limits,
        watch=_change,
    ),
    Check(
        id="solar",
        group=_GROUP,
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
        group=_GROUP,
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
            Limit("hot idle over rating", "", IDLE_SHARE, None, "from memory: half when hot"),
            Limit("case", "°C", None, 105.0, "from memory: beyond this windings age quickly"),
        ),
        watch=_engine,
    ),
    Check(
        id="both-banks",
        group=_GROUP,
        title="The other bank is charged too",
        purpose="A combiner or second output that does nothing, or never opens again, is noticed "
        "when the engine is dead.",
        hands="Volts at the other bank's posts, charger off; charger on, and again ten minutes "
        "later. Charger off, a large load on: ten minutes later clamp on the cable between the "
        "banks.",
        watches="the figures entered",
        needless=_one_bank,
        asks=asking(
            Ask("before", "Volts of the other bank before", "V", 2.0, 80.0),
            Ask("after", "Volts of the other bank after", "V", 2.0, 80.0),
            Ask("parted", "Amps between the banks, charger off, load on", "A", -500.0, 500.0),
        ),
        limits=within(
            Limit("rise of the other bank", "V", 0.1, None, "our choice"),
            Limit(
                "flows while parted",
                "A",
                None,
                1.0,
                "our choice: what a clamp resolves; more, and one bank empties the other",
            ),
        ),
        watch=_both_banks,
    ),
    Check(
        id="back-feed",
        group=_GROUP,
        title="What a source takes back while it gives nothing",
        purpose="A source that draws at night, or stays hot, empties the bank and itself ages.",
        caution="Panels give volts whenever there is light, a cord may be live: clamp and "
        "thermometer outside, nothing opened.",
        hands="At night, or panels covered; cord out; an hour after it last gave. Clamp on its "
        "battery cable, thermometer on its case and in the air beside it.",
        watches="that it gives nothing meanwhile",
        shows="source_amps",
        targets=_idle_sources,
        asks=asking(
            Ask("back-feed", "Amps on its battery cable", "A", -100.0, 100.0),
            Ask("case", "Temperature of its case", "°C", -40.0, 150.0),
            Ask("air", "Temperature of the air beside it", "°C", -40.0, 80.0),
        ),
        limits=_back_limits,
        watch=_back,
    ),
)
