"""Checks of what measures: batteries before they are joined, volts, amps, zero, sign.

Everything later is judged by these instruments, so they come first.
"""

from __future__ import annotations

import math
from typing import Final

from monitor.commission.check import Ask, Check, Result, Watch, asking, judged, not_done, within
from monitor.commission.checks_entered import each_source
from monitor.commission.memory import eased, steady, stepped
from monitor.commission.record import Figure, Limit, Verdict
from monitor.commission.setting import Setting

GROUP: Final = "measuring"
CAUTION_POSTS: Final = (
    "Take off metal jewellery. A meter's probes on the posts: one hand, meter set to volts, "
    "leads never in the amps sockets."
)
_CAUTION_CLAMP: Final = (
    "Close the clamp round one insulated cable only; keep hands and jaws away from the posts."
)

#: Where a current is taken to stand still: shunts resolve a tenth of an amp, loads vary by 2 or
#: 3 % (common practice). A step must be well beyond it.
_BAND_AMPS: Final = 0.8
_BAND_SHARE: Final = 0.03
_STILL_SECONDS: Final = 15.0
_LEAST_AMPS: Final = 2.0
_ZERO_SECONDS: Final = 60.0


# -- before joining -----------------------------------------------------------------------------


def _battery_asks(setting: Setting, target: str) -> tuple[Ask, ...]:
    del target
    asks = [
        Ask(each.name, f"{each.name}: open-circuit volts, rested, nothing joined", "V", 1.0, 64.0)
        for each in setting.installation.batteries
    ]
    gravity = "or: highest less lowest specific gravity of all cells, at 25 °C"
    cells = "or: highest less lowest cell, in mV"
    asks.append(
        Ask("gravity spread", gravity, "", 0.0, 0.3, True)
        if setting.lead
        else Ask("cell spread", cells, "mV", 0.0, 2000.0, True)
    )
    return tuple(asks)


def _battery_limits(setting: Setting, target: str) -> tuple[Limit, ...]:
    del target
    apart = 0.10 if setting.lead else 0.05
    return (
        Limit(
            "highest less lowest",
            "V",
            None,
            apart,
            "our choice: 0.1 V of a 12 V lead-acid battery is an eighth of its charge (BCI "
            "table); half of it for LFP, whose curve is flat",
        ),
        Limit("gravity spread", "", None, 0.025, "TM 9-6140-200-14: more is unserviceable"),
        Limit("cell spread", "mV", None, 30.0, "our choice: LFP cells within 30 mV at rest"),
    )


def _batteries(watch: Watch) -> Result | None:
    names = [each.name for each in watch.setting.installation.batteries]
    if not names:
        return not_done("no battery was entered")
    volts = [watch.figure(name) for name in names]
    known = [each for each in volts if each is not None]
    if len(known) < len(names):
        left = [name for name, each in zip(names, volts, strict=True) if each is None]
        return not_done(f"not measured: {', '.join(left)}") if watch.done else None
    doubt = math.sqrt(2.0) * 0.01 / math.sqrt(3.0)  # one meter: only its digits differ
    figures = [Figure(name, each, "V") for name, each in zip(names, known, strict=True)]
    figures.append(Figure("highest less lowest", max(known) - min(known), "V", doubt))
    for name, unit in (("gravity spread", ""), ("cell spread", "mV")):
        spread = watch.figure(name)
        if spread is not None:
            figures.append(Figure(name, spread, unit))
    return judged(watch.limits, tuple(figures))


# -- volts and amps -----------------------------------------------------------------------------


def _voltmeter_limits(setting: Setting, target: str) -> tuple[Limit, ...]:
    del target
    off = 0.05 * setting.twelves
    source = "our choice: half of the tenth of a volt to which set-points are judged"
    return (Limit("tool less meter", "V", -off, off, source),)


def _voltmeter(watch: Watch) -> Result | None:
    if watch.look.volts is None:
        return None
    shown = eased(watch.memory, "volts", watch.look.volts, watch.look.seconds, 10.0)
    meter = watch.figure("meter")
    if meter is None:
        return None
    doubt = watch.setting.meter_sd("V", meter)
    return judged(
        watch.limits,
        (
            Figure("meter", meter, "V", doubt),
            Figure("tool", shown, "V"),
            Figure("tool less meter", shown - meter, "V", doubt),
        ),
    )


def _zero_limits(setting: Setting, target: str) -> tuple[Limit, ...]:
    del target
    amps = max(0.1, 0.001 * setting.bank.amp_hours)
    source = "our choice: a thousandth of the 20 h capacity is 2.4 % of charge a day"
    return (Limit("zero", "A", -amps, amps, source),)


def _zero(watch: Watch) -> Result | None:
    if watch.amps is None or not watch.done:
        return None
    still = steady(watch.memory, "amps", watch.amps, watch.look.seconds, _BAND_AMPS)
    if still.seconds < _ZERO_SECONDS:
        return None
    return judged(watch.limits, (Figure("zero", still.mean, "A", max(still.sd, 0.03)),))


def band(watch: Watch) -> float:
    """Within what the current is taken to stand still."""
    return max(_BAND_AMPS, _BAND_SHARE * abs(watch.amps or 0.0))


def shunt_step(watch: Watch) -> tuple[float, float] | None:
    """How far the shunt stepped since the check began, and its standard deviation; once a
    clamp reading was entered, also where it did not step at all."""
    if watch.amps is None:
        return None
    memory, seconds = watch.memory, watch.look.seconds
    step = stepped(memory, "amps", watch.amps, seconds, band(watch), _STILL_SECONDS)
    if step is not None and abs(step.size) >= _LEAST_AMPS:
        # kept: whoever reads the clamp may switch off again before it is entered
        memory["step"], memory["step_sd"] = step.size, max(step.sd, 0.05)
    if "step" in memory:
        return memory["step"], memory["step_sd"]
    now, before = memory.get("amps.mean"), memory.get("amps.before")
    since = memory.get("amps.from", seconds)
    if now is None or before is None or seconds - since < _STILL_SECONDS:
        return None
    return (now - before, 0.1) if watch.figure("clamp") is not None else None


def _polarity(watch: Watch) -> Result | None:
    step = shunt_step(watch)
    if step is None:
        return None
    # as the shunt tells it: a shunt found reversed before may have been turned round since
    amps, doubt = step[0] * watch.facts.get("sign", 1.0), step[1]
    figures = (Figure("step", amps, "A", doubt),)
    if amps > 0.0:
        return Result(
            Verdict.FAIL,
            f"a load makes the current step by {amps:+.1f} A: the shunt is reversed (its two "
            "sense wires, or load and battery side); until it is turned round everything after "
            "this is judged with the sign turned",
            figures,
            facts=(("sign", -1.0),),
        )
    why = "a load draws: the current is negative"
    return Result(Verdict.PASS, why, figures, facts=(("sign", 1.0),))


def _scale(watch: Watch) -> Result | None:
    step, clamp = shunt_step(watch), watch.figure("clamp")
    if step is None or clamp is None or abs(clamp) < _LEAST_AMPS:
        return None
    amps, doubt = abs(step[0]), step[1]
    ratio = amps / abs(clamp)
    sd = ratio * math.hypot(watch.setting.meter_sd("A", clamp) / abs(clamp), doubt / max(amps, 0.1))
    return judged(
        watch.limits,
        (
            Figure("clamp", abs(clamp), "A", watch.setting.meter_sd("A", clamp)),
            Figure("shunt", amps, "A", doubt),
            Figure("shunt over clamp", ratio, "", sd),
        ),
    )


def each_large_load_and_source(setting: Setting) -> tuple[str, ...]:
    return (*setting.installation.large_loads, *each_source(setting))


def _through_limits(setting: Setting, target: str) -> tuple[Limit, ...]:
    del setting, target
    source = (
        "our choice: shunt 1 %, clamp 2 to 3 %, other loads meanwhile; what goes past the "
        "shunt shows as nothing at all"
    )
    return (Limit("shunt over clamp", "", 0.85, 1.15, source),)


def _through(watch: Watch) -> Result | None:
    step, clamp = shunt_step(watch), watch.figure("clamp")
    if step is None or clamp is None or abs(clamp) < _LEAST_AMPS:
        return None
    amps, doubt = abs(step[0]), step[1]
    ratio = amps / abs(clamp)
    sd = math.hypot(watch.setting.meter_sd("A", clamp), doubt) / abs(clamp)
    why = ""
    if ratio < 0.5:
        why = f"the negative of {watch.target} goes past the shunt"
    return judged(
        watch.limits,
        (
            Figure("clamp", abs(clamp), "A", watch.setting.meter_sd("A", clamp)),
            Figure("shunt", amps, "A", doubt),
            Figure("shunt over clamp", ratio, "", sd),
        ),
        why,
    )


CHECKS: Final = (
    Check(
        id="batteries",
        group="before joining",
        title="Each battery alone: open-circuit volts",
        purpose="Strings that differ drive current round in each other as soon as they are joined.",
        caution=CAUTION_POSTS + " Nothing joined yet; posts covered but for the one measured.",
        hands="Let each battery rest at least 4 hours (common practice). Measure each one.",
        watches="the figures entered",
        asks=_battery_asks,
        limits=_battery_limits,
        watch=_batteries,
    ),
    Check(
        id="voltmeter",
        group=GROUP,
        title="The tool's volts against a reference meter",
        purpose="Every set-point is judged by these volts.",
        caution=CAUTION_POSTS,
        hands="Measure at the battery's own posts, not at a busbar. Enter what the meter shows.",
        watches="bank volts over ten seconds",
        shows="volts",
        asks=asking(Ask("meter", "Volts at the posts by the meter", "V", 2.0, 80.0)),
        limits=_voltmeter_limits,
        watch=_voltmeter,
    ),
    Check(
        id="shunt-zero",
        group=GROUP,
        title="Shunt zero with everything off",
        purpose="A false zero counts day and night.",
        caution="Open each source's AC supply first, then the disconnects; a dark screen is no "
        "proof that a circuit is dead: measure it.",
        hands="Everything off: sources, loads, inverter. Say done, then wait a minute.",
        watches="bank current for a minute in which it stands still",
        shows="amps",
        limits=_zero_limits,
        watch=_zero,
        until_done=True,
    ),
    Check(
        id="polarity",
        group=GROUP,
        title="Polarity of the shunt",
        purpose="Current into the bank counts as positive; reversed, a charge empties the bank.",
        hands="Sources off. Wait until the tool says so, then switch on a known load of 5 A or "
        "more.",
        watches="the step of the bank current",
        shows="amps",
        limits=within(Limit("step", "A", None, -_LEAST_AMPS, "what a load must do")),
        watch=_polarity,
    ),
    Check(
        id="scale",
        group=GROUP,
        title="Scale of the shunt against a clamp meter",
        purpose="A shunt set up for another size counts too much or too little, always.",
        caution=_CAUTION_CLAMP,
        hands="Load off; zero the clamp on the bank's negative cable. Switch on a large load (20 "
        "A or more is better), enter what the clamp shows.",
        watches="the step of the bank current",
        shows="amps",
        asks=asking(Ask("clamp", "Amps by the clamp on the bank's cable", "A", -2000.0, 2000.0)),
        limits=within(
            Limit(
                "shunt over clamp",
                "",
                0.94,
                1.06,
                "our choice: shunt 1 %, clamp 2 to 3 %, reading of both",
            )
        ),
        watch=_scale,
    ),
    Check(
        id="through-shunt",
        group=GROUP,
        title="Its negative goes through the shunt",
        purpose="What is joined to the battery's own post is never counted.",
        caution=_CAUTION_CLAMP,
        hands="This one alone: off, the clamp zeroed on its own cable; wait, then on; enter what "
        "it shows. A combiner to another bank out meanwhile.",
        watches="the step of the bank current against the clamp",
        shows="amps",
        targets=each_large_load_and_source,
        asks=asking(Ask("clamp", "Amps by the clamp on its own cable", "A", -2000.0, 2000.0)),
        limits=_through_limits,
        watch=_through,
    ),
)
