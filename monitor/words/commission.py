"""The commissioning in words: a check told, its limits, an outcome in a line, what is left."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

from monitor.commission.check import Ask, Check, Watch, range_words, told
from monitor.commission.checks_charging import source_amps, source_volts
from monitor.commission.item import Item, Phase
from monitor.commission.record import Limit, Outcome, Verdict
from monitor.words.figures import MISSING, degree_unit, degrees

HEADING: Final = "Proving an installation"
#: What is asked on the screen.
WHY_SKIPPED: Final = "Left out: why?"
NOTE_ASKED: Final = "Note beside this check:"

#: Told before anything else.
INTRODUCTION: Final = (
    "What the tool measures is no proof that a circuit is dead: measure it. Local codes and who "
    "is licensed for mains come first."
)
HOW: Final = (
    "Answer, or: begin, done, skip WHY, again, note WORDS, later, go CHECK, list, left, quit"
)
MARK: Final = {
    Verdict.PASS: "pass",
    Verdict.FAIL: "FAIL",
    Verdict.NOT_DONE: "not done",
    Verdict.NOT_APPLICABLE: "not applicable",
}


def caution(words: str) -> str:
    return f"Caution: {words}"


def name_of(item: Item) -> str:
    return f"{item.check.title}: {item.target}" if item.target else item.check.title


def limit_line(limit: Limit) -> str:
    words = f" {limit.words}" if limit.words else ""
    return f"{limit.name}: {range_words(limit)}{words} ({limit.source})"


def short_limit(limits: Sequence[Limit]) -> str:
    """The limits without their sources, for a narrow screen."""
    return "; ".join(f"{each.name} {range_words(each)}" for each in limits)


def question(ask: Ask, *, fahrenheit: bool = False) -> str:
    unit = f", in {_unit(ask, fahrenheit)}" if ask.unit else ""
    return f"{ask.words}{unit}{' (may be left out)' if ask.optional else ''}"


def _unit(ask: Ask, fahrenheit: bool) -> str:
    return degree_unit(fahrenheit) if ask.unit == degree_unit(False) else ask.unit


def answer(ask: Ask, text: str, *, fahrenheit: bool) -> str:
    """What was typed, with the unit that the question showed where none was typed."""
    bare = text.removeprefix("-").replace(".", "", 1).isdecimal()
    return f"{text}F" if fahrenheit and bare and ask.unit == degree_unit(False) else text


def outcome_line(outcome: Outcome) -> str:
    """`FAIL  lead-drop@shore: both legs 812 mV, expected at most 300 mV`."""
    why = f": {outcome.why}" if outcome.why else ""
    follows = f" (follows from {outcome.follows})" if outcome.follows else ""
    return f"{MARK[outcome.verdict]}  {outcome.key}{why}{follows}"


def figures_line(outcome: Outcome) -> str:
    return "; ".join(f"{each.name} {told(each)}" for each in outcome.figures)


def introduce(item: Item) -> Iterator[str]:
    """A check before hands begin: its caution first."""
    yield f"== {name_of(item)}  [{item.key}]"
    if item.check.caution:
        yield caution(item.check.caution)
    yield f"Why: {item.check.purpose}"
    yield f"Do: {item.check.hands}"
    yield f"Watched: {item.check.watches}"
    for limit in item.limits:
        yield f"Limit: {limit_line(limit)}"


def live_figure(check: Check, watch: Watch | None, *, fahrenheit: bool = False) -> tuple[str, str]:
    """The figure to put up large, and its unit; missing where the check watches none."""
    if watch is None or not check.shows:
        return "", ""
    if check.shows == "alarms":
        return str(len(watch.look.alarms)), "alarms"
    figure = {
        "volts": watch.look.volts,
        "amps": watch.amps,
        "celsius": watch.look.celsius,
        "source_amps": source_amps(watch),
        "source_volts": source_volts(watch) or watch.look.volts,
    }[check.shows]
    if figure is None:
        return MISSING, ""
    if check.shows.endswith("volts"):
        return f"{figure:.2f}", "V"
    if check.shows == "celsius":
        return f"{degrees(figure, fahrenheit):.1f}", degree_unit(fahrenheit)
    return f"{figure:.1f}", "A"


def what_next(item: Item, *, fahrenheit: bool = False) -> str:
    """One line: what hands are to do now."""
    if item.phase is not Phase.RUNNING:
        return "" if item.attempts else "begin when you are there"
    asks = [each for each in item.open_asks if not each.optional]
    if not asks and not item.told:
        asks = list(item.open_asks)
    if asks:
        return question(asks[0], fahrenheit=fahrenheit)
    if item.waits_for_done:
        return "say done when your hands are finished"
    return f"watching: {item.check.watches}"


def counted(outcomes: Sequence[Outcome]) -> str:
    """`12 passed, 1 failed, 9 to do, 4 not applicable`."""
    names = (
        (Verdict.PASS, "passed"),
        (Verdict.FAIL, "failed"),
        (Verdict.NOT_DONE, "not done"),
        (Verdict.NOT_APPLICABLE, "not applicable"),
    )
    counts = [(sum(o.verdict is verdict for o in outcomes), word) for verdict, word in names]
    return ", ".join(f"{count} {word}" for count, word in counts if count)


def summary(outcomes: Sequence[Outcome]) -> Iterator[str]:
    """At the end: defects first, what follows from them, what was not done, then the rest."""
    order = (
        ("Defects", [o for o in outcomes if o.verdict is Verdict.FAIL and not o.follows]),
        ("Follows from them", [o for o in outcomes if o.verdict is Verdict.FAIL and o.follows]),
        ("Not done", [o for o in outcomes if o.verdict is Verdict.NOT_DONE]),
        ("Passed", [o for o in outcomes if o.verdict is Verdict.PASS]),
        ("Not applicable", [o for o in outcomes if o.verdict is Verdict.NOT_APPLICABLE]),
    )
    for heading, those in order:
        if those:
            yield f"{heading}:"
            for each in those:
                yield f"  {outcome_line(each)}"
                if each.figures and each.verdict in (Verdict.PASS, Verdict.FAIL):
                    yield f"      {figures_line(each)}"
    yield counted(outcomes)


def listed(item: Item) -> Iterator[str]:
    """A check for `--list`: with limits and where they come from."""
    yield f"{item.key}: {item.check.title}"
    if item.needless:
        yield f"    not applicable: {item.needless}"
        return
    yield f"    {item.check.purpose}"
    if item.check.alone:
        yield "    completes itself"
    for limit in item.limits:
        yield f"    {limit_line(limit)}"


#: Where the screen is opened over a feed without a commissioning.
NO_SESSION: Final = (
    "Nothing is being proved here. Begin, or go on, with: ampwright commission "
    "(it keeps what was found, and asks check by check)."
)


def state_of(item: Item, *, fahrenheit: bool = False) -> str:
    """What is to be done now, or what came out: the line that is read first."""
    if item.needless:
        return f"not applicable: {item.needless}"
    last = item.last
    if item.phase is Phase.RUNNING:
        return f"NOW {what_next(item, fahrenheit=fahrenheit)}"
    if last is None:
        return "to do: read the caution, then b"
    why = f": {last.why}" if last.why else ""
    return f"{MARK[last.verdict]}{why}"


def told_below(item: Item, trouble: str) -> Iterator[str]:
    """What is to be read once, below the figure; the caution stands before it."""
    if trouble:
        yield trouble
    if item.needless:
        return
    yield f"Do: {item.check.hands}"
    yield f"Watched: {item.check.watches}"
    if item.check.alone:
        yield "Completes itself."
    yield f"Why: {item.check.purpose}"
    if item.last is not None:
        figures = "; ".join(f"{each.name} {told(each)}" for each in item.last.figures)
        if figures:
            yield f"Measured: {figures}"
    if item.note:
        yield f"Note: {item.note}"
    for limit in item.limits:
        yield f"Limit: {limit_line(limit)}"
