"""Checks of what goes on beside the cable: strings and sources that share, AC input, ripple."""

from __future__ import annotations

from typing import Final

from monitor.bank import SourceKind
from monitor.commission.ac_side import ac_figures, settled_since_done
from monitor.commission.check import Ask, Check, Result, Watch, asking, judged, not_done, within
from monitor.commission.checks_charging import (
    CAUTION_LIVE,
    FULL_SECONDS,
    GROUP,
    IDLE_SHARE,
    ac_chargers,
    chargers,
    enough,
    first_ac,
    regulated_volts,
)
from monitor.commission.memory import eased, lasted
from monitor.commission.record import Figure, Limit, Verdict
from monitor.commission.setting import Setting

_CAUTION_AC: Final = (
    "Mains: only by who is allowed to, with a plug-in power meter or a closed test box; never "
    "with probes in an open panel."
)


# -- sharing ------------------------------------------------------------------------------------


def _strings(setting: Setting) -> list[int]:
    """By their numbers: as entered, else as many as the configuration has in parallel."""
    entered = sorted({each.string or 1 for each in setting.installation.batteries})
    return entered or list(range(1, (setting.bank.parallel or 1) + 1))


def _single_string(setting: Setting, target: str) -> str:
    del target
    return "" if len(_strings(setting)) > 1 else "one string: nothing to share with"


def _string_asks(setting: Setting, target: str) -> tuple[Ask, ...]:
    del target
    return tuple(
        Ask(f"string {each}", f"Amps into string {each} by the clamp", "A", -2000.0, 2000.0)
        for each in _strings(setting)
    )


def _string_limits(setting: Setting, target: str) -> tuple[Limit, ...]:
    del target
    source = "our choice: a fifth from the mean; cables of equal length share better"
    return tuple(Limit(f"share of string {n}", "", 0.80, 1.20, source) for n in _strings(setting))


def _string_share(watch: Watch) -> Result | None:
    strings = _strings(watch.setting)
    read = [watch.figure(f"string {each}") for each in strings]
    known = [each for each in read if each is not None]
    if len(known) < len(strings):
        return None
    mean = sum(known) / len(known)
    if abs(mean) < 5.0:
        return not_done("too little current to judge how strings share: do it at full output")
    figures: list[Figure] = []
    for number, amps in zip(strings, known, strict=True):
        doubt = watch.setting.meter_sd("A", amps)
        figures.append(Figure(f"string {number}", amps, "A", doubt))
        figures.append(Figure(f"share of string {number}", amps / mean, "", doubt / abs(mean)))
    return judged(watch.limits, tuple(figures))


def _single_source(setting: Setting, target: str) -> str:
    del target
    return "" if len(chargers(setting)) > 1 else "no two sources that can run at the same time"


def _sharing(watch: Watch) -> Result | None:
    names = chargers(watch.setting)
    seconds, figures = watch.look.seconds, []
    since = seconds - watch.memory.setdefault("since", seconds)
    for name in names:
        amps, rated = watch.look.source(name).amps, watch.setting.rated_amps(name)
        if amps is None or rated is None:
            return not_done(f"{name}: amps or rating not known") if since > 60.0 else None
        now = eased(watch.memory, name, amps, seconds, 30.0)
        figures.append(Figure(f"{name}, share of its rating", now / rated, "", 0.01))
    least = {each.name: each.low or 0.0 for each in watch.limits}
    together = all(each.figure >= least[each.name] for each in figures)
    if lasted(watch.memory, "together", together, seconds) < FULL_SECONDS and since < 600.0:
        return None
    return judged(watch.limits, tuple(figures))


def _sharing_limits(setting: Setting, target: str) -> tuple[Limit, ...]:
    del target
    source = "our choice: with the bank low nothing holds either of them back"
    return tuple(
        Limit(f"{name}, share of its rating", "", _together_share(setting, name), None, source)
        for name in chargers(setting)
    )


def _together_share(setting: Setting, name: str) -> float:
    """A hot alternator at idle never gives what its label says."""
    hot = setting.source(name).kind is SourceKind.ALTERNATOR
    return IDLE_SHARE if hot else 0.80


# -- AC -----------------------------------------------------------------------------------------


#: Full output is waited for so long where no meter's figures were typed.
_PATIENCE_SECONDS: Final = 900.0


def _itself(setting: Setting, target: str) -> str:
    del setting
    return target


def _ac_limits(setting: Setting, target: str) -> tuple[Limit, ...]:
    charger = setting.charger(target)
    nominal = setting.ac_volts(target)
    low, high, source = (
        (207.0, 253.0, "IEC 60038, 230 V ±10 % (from memory)")
        if nominal > 180.0
        else (110.0, 127.0, "ANSI C84.1 range B for 120 V (from memory)")
    )
    limits = [Limit("AC volts", "V", low, high, source)]
    if charger.power_factor is not None:
        least = charger.power_factor - 0.05
        limits.append(
            Limit("power factor", "", least, None, "its label or sheet as entered, less 0.05")
        )
        if charger.efficiency is not None:
            source = "volts times amps by volts, efficiency and power factor; a tenth for doubt"
            limits.append(Limit("AC amps over expected", "", None, 1.10, source))
    return tuple(limits)


_AC_ASKS: Final = (
    Ask("volts", "AC volts", "V", 50.0, 300.0, told_as="volts"),
    Ask("amps", "AC amps", "A", 0.0, 200.0, told_as="amps"),
    Ask("factor", "Power factor, such as 0.95", "", 0.0, 1.0, told_as="power_factor"),
)


def _ac(watch: Watch) -> Result | None:
    dc_amps, dc_volts = enough(watch), regulated_volts(watch)
    found = ac_figures(watch, watch.target, _AC_ASKS)
    if found is None:
        return None
    if dc_amps is None or dc_volts is None:
        waited = watch.look.seconds - watch.memory.setdefault("since", watch.look.seconds)
        if found.told and waited < _PATIENCE_SECONDS and not watch.done:
            return None  # nobody typed them at this moment: full output may come
        return not_done("too little output to judge the input: do it at full output")
    volts, amps, factor = (found.all[name] for name in ("volts", "amps", "factor"))
    figures = [
        Figure("AC volts", volts, "V", 0.01 * volts),
        Figure("AC amps", amps, "A", 0.02 * amps),
        Figure("power factor", factor, "", 0.02),
    ]
    charger = watch.setting.charger(watch.target)
    if charger.power_factor is None:
        return not_done(f"power factor of {watch.target} was not entered", tuple(figures))
    if charger.efficiency is not None:
        expected = dc_volts * dc_amps / (volts * charger.efficiency * charger.power_factor)
        figures.append(Figure("AC amps over expected", amps / expected, "", 0.03))
    units = {"volts": "V", "amps": "A"}
    figures += [
        Figure(f"{name} by its device", figure, units.get(name, ""))
        for name, figure in found.beside.items()
    ]
    return judged(watch.limits, tuple(figures), found.words)


def _no_split(setting: Setting, target: str) -> str:
    del target
    return "" if setting.installation.split_supply else "the supply has one leg only"


#: Without a neutral the loaded leg may stand near nought, the other near both together.
_LEG_ASKS: Final = (
    Ask("leg 1", "Volts of the loaded leg", "V", 0.0, 500.0, told_as="volts"),
    Ask("leg 2", "Volts of the other leg", "V", 0.0, 500.0, told_as="other_leg_volts"),
)


def _neutral(watch: Watch) -> Result | None:
    found = ac_figures(watch, first_ac(watch.setting, ""), _LEG_ASKS)
    if found is None or (found.told and not settled_since_done(watch)):
        return None
    one, other = found.all["leg 1"], found.all["leg 2"]
    figures = (Figure("leg 1", one, "V"), Figure("leg 2", other, "V"))
    apart = Figure("legs apart", abs(one - other), "V", 1.0)
    return judged(watch.limits, (*figures, apart), found.words)


def _no_ac(setting: Setting, target: str) -> str:
    del target
    return "" if ac_chargers(setting) else "no AC charger"


def _tester(watch: Watch) -> Result | None:
    answer = watch.said("tester")
    if answer is None:
        return None
    if answer == "no":
        return Result(Verdict.FAIL, "the tester shows wrong wiring: call an electrician")
    return Result(Verdict.PASS, "the tester shows right wiring")


def _ripple(watch: Watch) -> Result | None:
    ripple, volts = watch.figure("ripple"), watch.look.volts
    if ripple is None or volts is None:
        return None
    if enough(watch) is None:
        return not_done("too little output to judge ripple: do it at full output")
    share = ripple / 1000.0 / volts
    return judged(watch.limits, (Figure("ripple", ripple, "mV"), Figure("of volts", share, "")))


CHECKS: Final = (
    Check(
        id="string-share",
        group=GROUP,
        title="Parallel strings share the current",
        purpose="A string that takes more than its share ages first and takes the others along.",
        caution=CAUTION_LIVE,
        hands="Clamp on one cable of each string, one after the other, quickly.",
        watches="the figures entered",
        shows="amps",
        needless=_single_string,
        asks=_string_asks,
        limits=_string_limits,
        watch=_string_share,
    ),
    Check(
        id="sharing",
        group=GROUP,
        title="Two sources at once",
        purpose="With the bank low, each gives all it has; else one of them stands too low.",
        caution=CAUTION_LIVE,
        hands="Bank low. Switch all of them on together (not the sun).",
        watches="each source's amps for a minute",
        shows="amps",
        needless=_single_source,
        limits=_sharing_limits,
        watch=_sharing,
    ),
    Check(
        id="ac-input",
        group=GROUP,
        title="AC input at full output",
        purpose="A low power factor trips a breaker or fills a generator with nothing.",
        caution=_CAUTION_AC,
        hands="Power meter in the charger's supply, full output. Enter its three figures; what the "
        "charger tells by itself may be left out.",
        watches="the charger's output meanwhile",
        shows="source_amps",
        targets=ac_chargers,
        asks=asking(*_AC_ASKS),
        fed_by=_itself,
        limits=_ac_limits,
        watch=_ac,
    ),
    Check(
        id="neutral",
        group=GROUP,
        title="Neutral of a split supply",
        purpose="Without its neutral one leg rises until something burns.",
        caution=_CAUTION_AC,
        hands="A large load on one leg only (a heater, nothing dear on the other). Enter the volts "
        "of both legs (where the charger tells both: say done, leave the load on for a minute); "
        "switch it off at once where they are far apart.",
        watches="the figures entered",
        needless=_no_split,
        asks=asking(*_LEG_ASKS),
        fed_by=first_ac,
        done_if_told=True,
        limits=within(
            Limit("legs apart", "V", None, 8.0, "our choice: drop of a sound cable under load")
        ),
        watch=_neutral,
    ),
    Check(
        id="ac-polarity",
        group=GROUP,
        title="AC polarity and earth by a tester",
        purpose="Live and neutral changed over leave everything live that is switched off.",
        caution=_CAUTION_AC,
        hands="Plug a receptacle tester in, inside and at the pedestal.",
        watches="your answer",
        needless=_no_ac,
        asks=asking(Ask("tester", "Does the tester show right wiring? yes or no")),
        watch=_tester,
    ),
    Check(
        id="ripple",
        group=GROUP,
        title="Ripple at the posts",
        purpose="Ripple warms the battery and shows a charger with dried capacitors.",
        caution=CAUTION_LIVE,
        hands="Meter on AC volts (true rms), at the posts, full output.",
        watches="the figure entered",
        shows="source_amps",
        targets=ac_chargers,
        asks=asking(Ask("ripple", "AC millivolts at the posts", "mV", 0.0, 5000.0)),
        limits=within(
            Limit(
                "of volts",
                "",
                None,
                0.010,
                "from memory: 0.5 % rms in float for sealed batteries; twice that at full output",
            )
        ),
        watch=_ripple,
    ),
)
