"""What the recording shows: extremes against limits, coverage, clock, plots, sizing."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from monitor.commission.record import Extreme
from monitor.report.document import (
    Block,
    Heading,
    Lane,
    Level,
    Pairs,
    Pane,
    Paragraph,
    Plot,
    Table,
)
from monitor.report.making import Charge, Making
from monitor.report.told import NOT_GIVEN, amount, given, moment, span

_NAMES: Final = {"volts": "Volts", "amps": "Amps", "celsius": "Temperature"}
#: Order of the lanes, from what fills the bank to what empties it.
_STAGES: Final = ("bulk", "absorption", "float", "equalize", "fixed", "rest", "discharge")
#: Marks on the time axis: at most so many, at one of these distances (seconds).
_MOST_TICKS: Final = 9
_TICK_SECONDS: Final = (60, 300, 600, 1800, 3600, 7200, 10800, 21600, 43200, 86400, 172800, 604800)


def extremes(making: Making) -> Iterator[Block]:
    record = making.record
    yield Heading("Highest and lowest against the battery's own limits")
    if not record.extremes:
        yield Paragraph("Nothing was measured.")
        return
    beyond = [_beyond(each) for each in record.extremes]
    rows = tuple(
        (
            _NAMES.get(each.quantity, each.quantity),
            f"{_figure(each.lowest, each)} at {_at(each.lowest_seconds, making)}",
            _limit(each.low_limit, each),
            f"{_figure(each.highest, each)} at {_at(each.highest_seconds, making)}",
            _limit(each.high_limit, each),
            words or _inside(each),
        )
        for each, words in zip(record.extremes, beyond, strict=True)
    )
    yield Table(
        ("", "Lowest", "Allowed from", "Highest", "Allowed to", "So"),
        rows,
        (0.14, 0.22, 0.12, 0.22, 0.12, 0.18),
        frozenset(number for number, words in enumerate(beyond) if words),
    )
    sources = {each.source for each in record.extremes if each.source}
    yield Paragraph(
        "The whole commissioning counts, also what was provoked on purpose: a sensor warmed by "
        "hand, a load switched on to see it. Negative amps flow out of the bank. "
        f"Limits: {'; '.join(sorted(sources)) or NOT_GIVEN}."
    )


def beyond_limits(making: Making) -> tuple[str, ...]:
    """What went beyond the battery's own limits, a line each."""
    return tuple(
        f"{_NAMES.get(each.quantity, each.quantity)} {words}: {_figure(each.lowest, each)} to "
        f"{_figure(each.highest, each)}, allowed {_limit(each.low_limit, each)} to "
        f"{_limit(each.high_limit, each)}"
        for each in making.record.extremes
        if (words := _beyond(each))
    )


def _figure(figure: float, extreme: Extreme) -> str:
    digits = 2 if extreme.unit == "V" else 1
    return f"{figure:.{digits}f} {extreme.unit}"


def _limit(figure: float | None, extreme: Extreme) -> str:
    return amount(figure, extreme.unit)


def _beyond(extreme: Extreme) -> str:
    words = []
    if extreme.low_limit is not None and extreme.lowest < extreme.low_limit:
        words.append("BELOW its limit")
    if extreme.high_limit is not None and extreme.highest > extreme.high_limit:
        words.append("ABOVE its limit")
    return " and ".join(words)


def _inside(extreme: Extreme) -> str:
    if extreme.low_limit is None and extreme.high_limit is None:
        return "no limit given"
    if extreme.low_limit is None or extreme.high_limit is None:
        return "within the one limit given"
    return "within its limits"


def _at(own_seconds: float, making: Making) -> str:
    """The record counts the procedure's own time from where it began."""
    coverage, record = making.record.coverage, making.record
    if record.began is None or coverage is None:
        return f"{span(own_seconds)} from the start"
    return moment(record.began + own_seconds - coverage.from_seconds, making.zone)


def trust(making: Making) -> Iterator[Block]:
    record = making.record
    yield Heading("How much was seen, and whether the clock could be trusted")
    coverage, clock = record.coverage, record.clock
    if coverage is None:
        seen = "nothing was seen of the bank"
    else:
        whole = coverage.to_seconds - coverage.from_seconds
        gap = coverage.longest_gap_seconds
        longest = f"; the longest gap was {span(gap)}" if gap > 0.0 else "; no gap"
        seen = (
            f"{span(coverage.seen_seconds)} of {span(whole)} ({100.0 * coverage.share:.1f} %)"
            f"{longest}"
        )
    if clock is None:
        trusted = "nothing is known of the clock: do not trust the times in this report"
    elif clock.trusted:
        trusted = f"trusted: {clock.words}"
    else:
        trusted = f"NOT trusted: {clock.words}; times of day in this report may be wrong"
    yield Pairs((("Seen", seen), ("Wall clock", trusted)))


def plots(making: Making) -> Iterator[Block]:
    yield Heading("The charge")
    charge = making.charge
    if charge is None:
        yield Paragraph("No recording was there to be plotted.")
        return
    yield Plot(
        charge.edges,
        (
            _pane("Volts", "V", "volts", charge, levels=True),
            _pane("Amps, + into the bank", "A", "amps", charge),
            _pane("Temperature", "°C", "celsius", charge),
        ),
        _lanes(charge),
        _ticks(charge, making.zone),
        "Grey from the lowest to the highest of each stretch of "
        f"{span(charge.edges[1] - charge.edges[0])}. Dashed: absorption and float at the bank's "
        "temperature, as known then. Below: what the bank was doing, as inferred. White: not seen.",
    )


def _pane(words: str, unit: str, name: str, charge: Charge, *, levels: bool = False) -> Pane:
    ends = [getattr(each, name) for each in charge.bins]
    lines = (
        Level("absorption", tuple(each.absorption for each in charge.bins)),
        Level("float", tuple(each.float_ for each in charge.bins)),
    )
    return Pane(
        words,
        unit,
        tuple(None if each is None else each.low for each in ends),
        tuple(None if each is None else each.high for each in ends),
        lines if levels else (),
    )


def _lanes(charge: Charge) -> tuple[Lane, ...]:
    lanes = []
    for stage in _STAGES:
        on: list[tuple[float, float]] = []
        for number, each in enumerate(charge.bins):
            if each.stage != stage:
                continue
            start, end = charge.edges[number], charge.edges[number + 1]
            if on and on[-1][1] == start:
                on[-1] = (on[-1][0], end)
            else:
                on.append((start, end))
        if on:
            lanes.append(Lane(stage, tuple(on)))
    return tuple(lanes)


def _ticks(charge: Charge, zone: int) -> tuple[tuple[float, str], ...]:
    """Round times of day; where no clock was known, time since the recording began."""
    start, end = charge.edges[0], charge.edges[-1]
    ahead = -start if charge.wall_offset is None else charge.wall_offset + zone
    step = next(
        (each for each in _TICK_SECONDS if (end - start) / each <= _MOST_TICKS), _TICK_SECONDS[-1]
    )
    ticks = []
    at = -(-(start + ahead) // step) * step
    while at - ahead <= end:
        if charge.wall_offset is None:
            words = span(at)
        else:
            words = moment(at - zone, zone)[5 if step >= 43200 else 11 :]
        ticks.append((at - ahead, words))
        at += step
    return tuple(ticks)


def sizing(making: Making) -> Iterator[Block]:
    yield Heading("The sizing it was checked against")
    rows = tuple(
        (
            each.cable,
            each.conductor,
            f"{each.one_way_metres:g} m",
            f"{each.amps:.1f} A",
            f"{each.celsius:.0f} °C",
            f"{1000.0 * each.expected_volts:.0f} mV",
            given(each.source),
        )
        for each in making.record.sizing
    )
    if not rows:
        yield Paragraph(
            "No measured drop was compared with a calculated one: conductor or length was not "
            "entered, or the drop was not measured."
        )
        return
    yield Table(
        ("Cable", "Conductor", "One way", "At", "Copper at", "Both legs lose", "By"),
        rows,
        (0.2, 0.13, 0.11, 0.1, 0.11, 0.14, 0.21),
    )
