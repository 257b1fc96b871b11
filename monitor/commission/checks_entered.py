"""Checks of what was entered: labels, layout, cables, fuses, set-points. Nothing is measured here.

They end as *not done* where something was left out, never as passed.
"""

from __future__ import annotations

from typing import Final

from monitor.commission.check import (
    NO,
    YES,
    Ask,
    Check,
    Result,
    Watch,
    asking,
    judged,
    not_done,
)
from monitor.commission.record import Figure, Limit, Verdict
from monitor.commission.setting import Setting

_GROUP: Final = "as installed"

_CAUTION_TOOLS: Final = (
    "Take off rings and watch, use insulated tools: a spanner across the posts welds and burns. "
    "Open the charger's AC supply and the DC disconnect before touching a terminal."
)


def agreed(watch: Watch, missing: list[str], wrong: str) -> Result | None:
    """A label check: passed where the person says that it agrees and nothing was left out."""
    answers = [value for value in watch.entries.values() if isinstance(value, str)]
    if NO in answers:
        names = [name for name, value in watch.entries.items() if value == NO]
        return Result(Verdict.FAIL, f"{wrong}: {', '.join(names)}")
    asked = len([value for value in answers if value == YES])
    if not watch.done and not asked:
        return None
    if missing:
        return not_done(f"not entered: {', '.join(missing)}")
    return Result(Verdict.PASS, "as entered")


def _identity(watch: Watch) -> Result | None:
    entered = watch.setting.installation
    missing = [] if entered.batteries else ["batteries"]
    missing += [f"serial of {each.name}" for each in entered.batteries if not each.serial]
    missing += [f"date code of {each.name}" for each in entered.batteries if not each.date_code]
    for source in watch.setting.sources:
        charger = watch.setting.charger(source.id)
        missing += [f"serial of {source.id}"] if not charger.serial else []
        if watch.setting.rated_amps(source.id) is None:
            missing.append(f"rated amps of {source.id}")
    missing += [f"serial of {each.name}" for each in entered.protection if not each.serial]
    return agreed(watch, missing, "a label does not agree with the list")


def _layout_limits(setting: Setting, target: str) -> tuple[Limit, ...]:
    del target
    volts, amp_hours = float(setting.bank.nominal_volts), setting.bank.amp_hours
    source = "the configuration; batteries in series add volts, strings in parallel amp-hours"
    return (
        Limit("volts of a string", "V", volts * 0.99, volts * 1.01, source),
        Limit("amp-hours of all strings", "Ah", amp_hours * 0.99, amp_hours * 1.01, source),
    )


def _layout(watch: Watch) -> Result | None:
    batteries = watch.setting.installation.batteries
    if not batteries or any(b.nominal_volts is None or b.amp_hours is None for b in batteries):
        return not_done("volts and amp-hours of every battery were not entered")
    strings: dict[int, list[tuple[float, float]]] = {}
    for each in batteries:
        strings.setdefault(each.string or 1, []).append(
            (each.nominal_volts or 0.0, each.amp_hours or 0.0)
        )
    volts = {sum(v for v, _ in string) for string in strings.values()}
    if len(volts) > 1:
        return Result(Verdict.FAIL, f"strings of different volts in parallel: {sorted(volts)}")
    for number, string in strings.items():
        if len({amp_hours for _, amp_hours in string}) > 1:
            return Result(Verdict.FAIL, f"batteries of different amp-hours in string {number}")
    held = sum(string[0][1] for string in strings.values())
    return judged(
        watch.limits,
        (
            Figure("volts of a string", volts.pop(), "V"),
            Figure("amp-hours of all strings", held, "Ah"),
        ),
    )


def _cables(watch: Watch) -> Result | None:
    cables = watch.setting.installation.cables
    missing = [] if cables else ["cables"]
    for each in cables:
        gaps = {
            "conductor": not each.conductor,
            "one-way length": each.one_way_metres is None,
            "crimps": not each.crimps,
            "torque": each.torque_newton_metres is None,
        }
        missing += [f"{what} of {each.name}" for what, lacks in gaps.items() if lacks]
    without = [s.id for s in watch.setting.sources if watch.setting.cable(s.id) is None]
    missing += [f"cable of {source}" for source in without]
    return agreed(watch, missing, "not as it should be")


def _fuse_limits(setting: Setting, target: str) -> tuple[Limit, ...]:
    del target
    highest = max(
        filter(
            None,
            (
                setting.bank.set_points.absorption,
                setting.bank.set_points.equalize,
                setting.bank.chemistry.absorption.typical * setting.bank.cells,
            ),
        )
    )
    return (
        Limit(
            "lowest DC rating",
            "V",
            highest,
            None,
            "a fuse must break at the highest charging voltage (common practice)",
        ),
    )


def _fuse_asks(setting: Setting, target: str) -> tuple[Ask, ...]:
    del target
    return tuple(
        Ask(each.name, f"{each.name}: present, where entered, and its rating read? yes or no")
        for each in setting.installation.breaking
    )


def _fuses(watch: Watch) -> Result | None:
    breaking = watch.setting.installation.breaking
    if not breaking:
        return not_done("no fuse, breaker or disconnect was entered")
    missing: list[str] = []
    for each in breaking:
        if each.amps is None:
            missing.append(f"amps of {each.name}")
        if each.dc_volts is None:
            missing.append(f"DC volts of {each.name}")
        if not watch.setting.lead and each.kind == "fuse" and each.interrupting_amps is None:
            missing.append(f"interrupting rating of {each.name}")
    answers = watch.entries
    if NO in answers.values():
        names = [name for name, value in answers.items() if value == NO]
        return Result(Verdict.FAIL, f"missing or of another rating: {', '.join(names)}")
    if len(answers) < len(breaking):
        left = [each.name for each in breaking if each.name not in answers]
        return not_done(f"not looked at: {', '.join(left)}") if watch.done else None
    if missing:
        return not_done(f"not entered: {', '.join(missing)}")
    lowest = min(each.dc_volts or 0.0 for each in breaking)
    return judged(watch.limits, (Figure("lowest DC rating", lowest, "V"),))


def each_source(setting: Setting) -> tuple[str, ...]:
    return tuple(each.id for each in setting.sources)


def _set_point_limits(setting: Setting, target: str) -> tuple[Limit, ...]:
    del target
    chemistry, cells = setting.bank.chemistry, setting.bank.cells
    spans = {"absorption": chemistry.absorption, "float": chemistry.float_}
    limits = [
        Limit(name, "V", span.low * cells, span.high * cells, chemistry.sources[key])
        for (name, span), key in zip(spans.items(), ("absorption", "float_"), strict=True)
    ]
    if chemistry.equalize is not None:
        span = chemistry.equalize
        source = chemistry.sources["equalize"]
        limits.append(Limit("equalize", "V", span.low * cells, span.high * cells, source))
    slope = chemistry.compensation_mv
    source = chemistry.sources["compensation_mv"]
    limits.append(Limit("compensation", "mV", slope.low, slope.high, source))
    return tuple(limits)


def _set_points(watch: Watch) -> Result | None:
    charger = watch.setting.charger(watch.target)
    entered = [each for each in charger.set_points if each.set is not None]
    if not any(each.name == "absorption" for each in entered):
        return not_done(f"absorption of {watch.target} as found and as set was not entered")
    chemistry = watch.setting.bank.chemistry
    names = {each.name for each in entered}
    if "equalize" in names and chemistry.equalize is None:
        return Result(Verdict.FAIL, f"equalize is set, which {chemistry.words} must never be given")
    figures = tuple(Figure(each.name, each.set or 0.0, each.unit) for each in entered)
    found = "; ".join(
        f"{each.name} found at {each.found:g} {each.unit}"
        for each in entered
        if each.found is not None and each.found != each.set
    )
    return judged(watch.limits, figures, found)


CHECKS: Final = (
    Check(
        id="identity",
        group=_GROUP,
        title="Labels of batteries, chargers and protection",
        purpose="What is described is what stands there; a claim later needs serial and date code.",
        caution=_CAUTION_TOOLS,
        hands="Read every label: rating, serial number, date code. Compare with the list entered.",
        watches="the list as entered, and your answer",
        asks=asking(Ask("labels", "Does every label agree with the list? yes or no")),
        watch=_identity,
    ),
    Check(
        id="layout",
        group=_GROUP,
        title="Layout: series and parallel",
        purpose="The batteries as they are joined make the bank that everything else assumes.",
        hands="Nothing: worked out from the list.",
        watches="volts and amp-hours of the batteries entered, against the configuration",
        limits=_layout_limits,
        watch=_layout,
        alone=True,
        at_once=True,
    ),
    Check(
        id="cables",
        group=_GROUP,
        title="Cables: conductor, length, crimps, torque",
        purpose="The drop to be measured is judged against the cable that was entered.",
        caution=_CAUTION_TOOLS,
        hands="Pull each crimp by hand, look for strands outside, torque each terminal as its "
        "maker says. Length is one way, there only.",
        watches="the list as entered, and your answer",
        asks=asking(Ask("crimps", "Is every crimp tight and every terminal torqued? yes or no")),
        watch=_cables,
    ),
    Check(
        id="fuses",
        group=_GROUP,
        title="Fuses and disconnects",
        purpose="Every positive cable can be broken by something that can break it.",
        caution=_CAUTION_TOOLS,
        hands="Go to each one. Read amps, DC volts and interrupting rating. A fuse stands within "
        "18 cm of the post, further only where the cable is sheathed (ABYC E-11 as quoted).",
        watches="the list as entered, and your answers",
        asks=_fuse_asks,
        limits=_fuse_limits,
        watch=_fuses,
    ),
    Check(
        id="set-points",
        group=_GROUP,
        title="Set-points as found and as set",
        purpose="The charger was told what this chemistry wants.",
        hands="Nothing here: entered in the list, as found and as set.",
        watches="each set-point entered, against the range of the chemistry",
        targets=each_source,
        limits=_set_point_limits,
        watch=_set_points,
        alone=True,
        at_once=True,
    ),
)
