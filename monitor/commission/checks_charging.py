"""Checks at full output, with a discharged bank: amps, heat, drop of the cables, each lug."""

from __future__ import annotations

import math
from typing import Final

from monitor.bank import SourceKind
from monitor.commission.check import Ask, Check, Result, Watch, asking, judged, not_done
from monitor.commission.memory import SINCE, eased, lasted
from monitor.commission.record import Figure, Limit
from monitor.commission.setting import Setting

GROUP: Final = "full output"
CAUTION_LIVE: Final = (
    "Full current flows: no loose terminal may be touched, probes only on metal that is firm; "
    "one hand. A lug too hot to hold is a defect: stop."
)

#: Of the rating, what counts as full output (our choice: ratings are told at 25 °C, and to 5 %).
FULL_SHARE: Final = 0.90
FULL_SECONDS: Final = 60.0
#: Of its rating, what a hot alternator gives at idle (from memory: about half).
IDLE_SHARE: Final = 0.40
_PATIENCE_SECONDS: Final = 900.0
#: Proved hot after so long with the compartment closed (the time within which converters reach
#: their final temperature: common practice, 30 to 60 minutes).
_HOT_SECONDS: Final = 1800.0
_LAST_SECONDS: Final = 300.0
#: A shorter run was another check's, not a try at this one.
_WORTH_MINUTES: Final = 10.0
#: Since when it gives all it has; a gap in the readings ends it.
_RUN: Final = "run" + SINCE
#: A source this far below its set-point gives all it has, per 12 V (our choice).
_BELOW_VOLTS: Final = 0.15
#: Bulk is not over before it was reached for so long: loads dip.
_OVER_SECONDS: Final = 120.0

#: Charging cables are sized for 1.5 % (`ampwright size cable`); what is measured has joints in it.
_MOST_SHARE: Final = 0.02
#: A crimped and bolted lug in order is below a tenth of a milliohm; three times that is a bad one
#: (common practice: a few mV at 40 A).
_LUG_MILLIOHMS: Final = 0.3
#: What joints and fuses may add to the cable itself, both legs (four lugs, a fuse and its holder).
_JOINTS_MILLIOHMS: Final = 1.2


def source_amps(watch: Watch) -> float | None:
    """What the source gives: by its own device, else by the shunt where it is the only source."""
    own = watch.look.source(watch.target).amps
    if own is not None:
        return own
    return watch.amps if len(watch.setting.sources) == 1 else None


def source_volts(watch: Watch) -> float | None:
    """Volts at the source's terminals where it tells them."""
    return watch.look.source(watch.target).volts


def regulated_volts(watch: Watch) -> float | None:
    own = source_volts(watch)
    return own if own is not None else watch.look.volts


def in_bulk(watch: Watch) -> bool | None:
    """Below its absorption set-point: the source gives all that it has."""
    aim = watch.setting.set_point(watch.target, "absorption", watch.look.celsius)
    volts = regulated_volts(watch)
    if aim is None or volts is None:
        return None
    return volts < aim - _BELOW_VOLTS * watch.setting.twelves


def chargers(setting: Setting) -> tuple[str, ...]:
    """Sources that can be asked for their full output at any time: not the sun."""
    kinds = (SourceKind.SOLAR,)
    return tuple(each.id for each in setting.sources if each.kind not in kinds)


def ac_chargers(setting: Setting) -> tuple[str, ...]:
    return tuple(each.id for each in setting.sources if each.kind is SourceKind.AC_CHARGER)


def first_ac(setting: Setting, target: str) -> str:
    """The one by which supplies are judged; "" where there is none."""
    del target
    return next(iter(ac_chargers(setting)), "")


def solar(setting: Setting) -> tuple[str, ...]:
    return tuple(each.id for each in setting.sources if each.kind is SourceKind.SOLAR)


def at_any_time(setting: Setting) -> tuple[str, ...]:
    """Those that can be asked for current; the sun where there is nothing else, at its noon."""
    return chargers(setting) or solar(setting)


def _label_of_a_cold_one(setting: Setting, target: str) -> str:
    if setting.source(target).kind is not SourceKind.ALTERNATOR:
        return ""
    return "an alternator's label is for a cold one at speed: it is judged hot, at idle"


def _output_limits(setting: Setting, target: str) -> tuple[Limit, ...]:
    rated = setting.rated_amps(target)
    if rated is None:
        return ()
    source = "our choice: nine tenths of the rating on the label"
    return (Limit("output", "A", FULL_SHARE * rated, None, source),)


def _output(watch: Watch) -> Result | None:
    rated, amps = watch.setting.rated_amps(watch.target), source_amps(watch)
    if rated is None:
        return not_done(f"rated amps of {watch.target} were not entered")
    if amps is None:
        return None
    seconds = watch.look.seconds
    now = eased(watch.memory, "amps", amps, seconds, 30.0)
    best = watch.memory["best"] = max(watch.memory.get("best", 0.0), now)
    full = lasted(watch.memory, "full", amps >= FULL_SHARE * rated, seconds)
    # begun before it was switched on, the mean comes after: it is waited for
    if full >= FULL_SECONDS and now >= FULL_SHARE * rated:
        return judged(watch.limits, (Figure("output", now, "A", 0.01 * now),))
    since = seconds - watch.memory.setdefault("since", seconds)
    if since < _PATIENCE_SECONDS:
        return None
    figures = (Figure("output", best, "A", 0.01 * best),)
    if in_bulk(watch) is False:
        return not_done("the bank is too full to take it: discharge it first", figures)
    return judged(watch.limits, figures)


def _hot(watch: Watch) -> Result | None:
    """From the moment full output was first seen, half an hour on, still in bulk."""
    rated, amps, bulk = watch.setting.rated_amps(watch.target), source_amps(watch), in_bulk(watch)
    if rated is None:
        return not_done(f"rated amps of {watch.target} were not entered")
    if amps is None or bulk is None:
        return None
    memory, seconds = watch.memory, watch.look.seconds
    began = memory.get(_RUN)
    if began is None:
        if bulk and amps >= FULL_SHARE * rated:
            memory[_RUN] = seconds
        return None
    over = lasted(memory, "over", not bulk or amps < 0.05 * rated, seconds)
    if over >= _OVER_SECONDS:
        minutes = (seconds - over - began) / 60.0
        memory.clear()
        if minutes < _WORTH_MINUTES:
            return None
        return not_done(f"bulk lasted only {minutes:.0f} min: discharge further and do it again")
    if over:
        return None
    now = eased(memory, "amps", amps, seconds, _LAST_SECONDS / 3.0)
    if seconds - began < _HOT_SECONDS + _LAST_SECONDS:
        return None
    minutes = (seconds - began) / 60.0
    return judged(
        watch.limits,
        (
            Figure("output", now, "A", 0.01 * now),
            Figure("after", minutes, "min"),
            Figure("volts", regulated_volts(watch) or 0.0, "V", 0.01),
        ),
        f"{now / rated:.0%} of its rating after {minutes:.0f} min",
    )


# -- drop ---------------------------------------------------------------------------------------


def enough(watch: Watch) -> float | None:
    """Amps at which a drop can be judged: half the rating at least (our choice)."""
    amps, rated = source_amps(watch), watch.setting.rated_amps(watch.target)
    if amps is None:
        return None
    now = eased(watch.memory, "amps", amps, watch.look.seconds, 10.0)
    least = 0.5 * rated if rated is not None else 5.0
    return now if now >= least else None


def _drop(watch: Watch) -> Result | None:
    amps = enough(watch)
    positive, negative = watch.figure("positive"), watch.figure("negative")
    if positive is None or negative is None:
        return None
    if amps is None:
        return not_done("too little current to judge a drop: do it at full output")
    celsius = watch.setting.installation.ambient_celsius
    sizing = watch.setting.expected_drop(watch.target, amps, 20.0 if celsius is None else celsius)
    doubt = math.hypot(
        watch.setting.meter_sd("mV", positive), watch.setting.meter_sd("mV", negative)
    )
    measured = positive + negative
    figures = [
        Figure("amps", amps, "A", 0.01 * amps),
        Figure("positive leg", positive, "mV"),
        Figure("negative leg", negative, "mV"),
        Figure("both legs", measured, "mV", doubt),
        Figure("resistance", measured / amps, "mohm", doubt / amps),
    ]
    if sizing is None:
        return not_done(
            f"cable of {watch.target}: conductor or length was not entered", (*figures,)
        )
    expected = 1000.0 * sizing.expected_volts
    figures.append(Figure("expected of the cable", expected, "mV"))
    figures.append(Figure("beyond the cable", (measured - expected) / amps, "mohm", doubt / amps))
    nominal = 1000.0 * watch.setting.bank.nominal_volts
    figures.append(Figure("share of nominal volts", measured / nominal, "", doubt / nominal))
    return judged(watch.limits, tuple(figures))._replace(sizing=sizing)


def _drop_limits(setting: Setting, target: str) -> tuple[Limit, ...]:
    found = setting.expected_drop(target, 1.0, 60.0)
    spread = 0.15 * 1000.0 * found.expected_volts if found is not None else 0.0
    return (
        Limit(
            "beyond the cable",
            "mohm",
            None,
            round(_JOINTS_MILLIOHMS + spread, 2),
            "the cable by its table, a sixth more for its warmth and make, and four lugs and a "
            "fuse (common practice)",
        ),
        Limit(
            "share of nominal volts",
            "",
            None,
            _MOST_SHARE,
            "what charging cables are sized for, and a third for joints; ABYC E-11 has 0.03 for "
            "feeders",
        ),
    )


_LUGS: Final = (
    "positive lug at the charger",
    "positive lug at the post",
    "negative lug at the post",
    "negative lug at the charger",
)


def _lugs(watch: Watch) -> Result | None:
    amps = enough(watch)
    read = {name: watch.figure(name) for name in _LUGS}
    known = {name: value for name, value in read.items() if value is not None}
    if not known or (len(known) < len(_LUGS) and not watch.done):
        return None
    if amps is None:
        return not_done("too little current to judge a lug: do it at full output")
    figures = tuple(
        Figure(name, value / amps, "mohm", watch.setting.meter_sd("mV", value) / amps)
        for name, value in known.items()
    )
    return judged(watch.limits, figures)


def _lug_limits(setting: Setting, target: str) -> tuple[Limit, ...]:
    del setting, target
    source = "common practice: a sound lug is below 0.1 mΩ"
    return tuple(Limit(name, "mohm", None, _LUG_MILLIOHMS, source) for name in _LUGS)


CHECKS: Final = (
    Check(
        id="output",
        group=GROUP,
        title="Full output",
        purpose="The charger gives what its label says; else the charge takes longer, for ever.",
        caution="A charge makes explosive gas: ventilate, no flame, no spark.",
        hands="Discharge the bank to about half. Switch this source on alone.",
        watches="the source's amps for a minute",
        shows="source_amps",
        targets=chargers,
        needless=_label_of_a_cold_one,
        limits=_output_limits,
        watch=_output,
    ),
    Check(
        id="output-hot",
        group=GROUP,
        title="Full output, proved hot",
        purpose="A charger in a closed compartment may give much less after half an hour.",
        caution="Feel cables and lugs on the way: too hot to hold is a defect.",
        hands="Close the compartment. Let it charge for half an hour; do the other checks.",
        watches="amps from 30 to 35 minutes after full output began, still in bulk",
        shows="source_amps",
        targets=ac_chargers,
        limits=_output_limits,
        watch=_hot,
        alone=True,
    ),
    Check(
        id="lead-drop",
        group=GROUP,
        title="Drop of both legs at full current",
        purpose="What is lost in cables, joints and fuse lengthens every charge.",
        caution=CAUTION_LIVE,
        hands="Meter on mV. Positive leg: charger's own terminal to the battery's post. The same "
        "on the negative leg. Enter both, without sign.",
        watches="the source's amps meanwhile",
        shows="source_amps",
        targets=at_any_time,
        asks=asking(
            Ask("positive", "Drop of the positive leg", "mV", 0.0, 5000.0),
            Ask("negative", "Drop of the negative leg", "mV", 0.0, 5000.0),
        ),
        limits=_drop_limits,
        watch=_drop,
    ),
    Check(
        id="lugs",
        group=GROUP,
        title="Each lug at full current",
        purpose="One bad lug heats and burns long before the cable does.",
        caution=CAUTION_LIVE,
        hands="Meter on mV: from the copper behind each lug to the metal that it is bolted to.",
        watches="the source's amps meanwhile",
        shows="source_amps",
        targets=at_any_time,
        asks=asking(*(Ask(name, f"Drop across the {name}", "mV", 0.0, 2000.0) for name in _LUGS)),
        limits=_lug_limits,
        watch=_lugs,
    ),
)
