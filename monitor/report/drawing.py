"""A plot as marks on a plane: one geometry, which the page writers only paint.

Units are points of a page `WIDTH` wide, y downward from the top. Everything is told by shape and
place, nothing by colour alone: a grey print says the same.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final, TypeVar

from monitor.report.document import Lane, Pane, Plot

T = TypeVar("T")

WIDTH: Final = 500.0
_LEFT: Final = 62.0
_RIGHT: Final = 8.0
_PANE: Final = 104.0
_BETWEEN: Final = 16.0
_LANE: Final = 11.0
_TEXT: Final = 7.5
#: Grey of what is filled, of rules, of ink: 0 black, 1 white.
FILL: Final = 0.72
RULE: Final = 0.82
INK: Final = 0.0


@dataclass(frozen=True, slots=True)
class Box:
    x: float
    y: float
    width: float
    height: float
    fill: float | None
    edge: float | None


@dataclass(frozen=True, slots=True)
class Run:
    """A line through points; `closed` and filled where `fill` is given."""

    points: tuple[tuple[float, float], ...]
    ink: float
    width: float = 0.6
    dashed: bool = False
    fill: float | None = None


@dataclass(frozen=True, slots=True)
class Words:
    """`anchor` is start, middle or end."""

    x: float
    y: float
    words: str
    anchor: str = "start"
    size: float = _TEXT


Mark = Box | Run | Words


def height_of(plot: Plot) -> float:
    panes = len(plot.panes) * (_PANE + _BETWEEN)
    return panes + len(plot.lanes) * _LANE + 4.0 + 14.0


def marks_of(plot: Plot) -> Iterator[Mark]:
    top = _BETWEEN - 4.0
    for pane in plot.panes:
        yield from _pane(plot, pane, top)
        top += _PANE + _BETWEEN
    top -= _BETWEEN - 6.0
    for number, lane in enumerate(plot.lanes):
        yield from _lane(plot, lane, top + number * _LANE)
    foot = top + len(plot.lanes) * _LANE
    for seconds, words in plot.ticks:
        x = _x(plot, seconds)
        yield Run(((x, foot), (x, foot + 3.0)), INK)
        yield Words(x, foot + 11.0, words, "middle")


def _x(plot: Plot, seconds: float) -> float:
    start, end = plot.edges[0], plot.edges[-1]
    return _LEFT + (WIDTH - _LEFT - _RIGHT) * (seconds - start) / (end - start)


def _pane(plot: Plot, pane: Pane, top: float) -> Iterator[Mark]:
    yield Words(_LEFT, top - 4.0, f"{pane.words} [{pane.unit}]")
    low, high, step = scale(_all(pane))

    def y(figure: float) -> float:
        return top + _PANE * (1.0 - (figure - low) / (high - low))

    digits = max(0, -math.floor(math.log10(step) + 1e-9))
    figure = low
    while figure <= high + step / 2:
        if low < figure < high - step / 2:
            yield Run(((_LEFT, y(figure)), (WIDTH - _RIGHT, y(figure))), RULE, 0.4)
        yield Words(_LEFT - 4.0, y(figure) + 2.6, f"{figure + 0.0:.{digits}f}", "end")
        figure = round(figure + step, 9)
    for seconds, _ in plot.ticks:
        x = _x(plot, seconds)
        yield Run(((x, top), (x, top + _PANE)), RULE, 0.4)
    yield Box(_LEFT, top, WIDTH - _LEFT - _RIGHT, _PANE, None, INK)
    for points in _stretches(plot, pane):
        upper = [(x, y(most)) for x, _, most in points]
        lower = [(x, y(least)) for x, least, _ in points]
        yield Run((*upper, *reversed(lower)), 0.25, 0.5, fill=FILL)
    for level in pane.levels:
        points_of = [
            (x, y(each)) if each is not None else None
            for x, each in zip(_centres(plot), level.figures, strict=True)
        ]
        for stretch in _unbroken(points_of):
            yield Run(tuple(stretch), INK, 0.7, dashed=True)
        known = [point for point in points_of if point is not None]
        if known:
            yield Words(_LEFT + 3.0, known[0][1] - 2.5, level.words)


def _all(pane: Pane) -> list[float]:
    figures = [each for each in (*pane.low, *pane.high) if each is not None]
    for level in pane.levels:
        figures += [each for each in level.figures if each is not None]
    return figures


def scale(figures: Sequence[float]) -> tuple[float, float, float]:
    """Round ends and a step of 1, 2 or 5 that hold all figures in about five steps."""
    least, most = (min(figures), max(figures)) if figures else (0.0, 1.0)
    spread = max(most - least, 0.01 * max(abs(most), abs(least)), 0.1)
    wanting = (spread - (most - least)) / 2.0
    least, most = least - wanting, most + wanting
    rough = spread / 4.5
    whole = 10.0 ** math.floor(math.log10(rough))
    step = next(whole * times for times in (1.0, 2.0, 5.0, 10.0) if whole * times >= rough)
    low = math.floor(least / step + 1e-6) * step
    high = math.ceil(most / step - 1e-6) * step
    return round(low, 9), round(max(high, low + step), 9), step


def _centres(plot: Plot) -> list[float]:
    middles = zip(plot.edges, plot.edges[1:], strict=False)
    return [_x(plot, (start + end) / 2.0) for start, end in middles]


def _stretches(plot: Plot, pane: Pane) -> Iterator[list[tuple[float, float, float]]]:
    rows = [
        (x, least, most) if least is not None and most is not None else None
        for x, least, most in zip(_centres(plot), pane.low, pane.high, strict=True)
    ]
    half = (WIDTH - _LEFT - _RIGHT) / max(len(rows), 1) / 2.0
    for stretch in _unbroken(rows):
        if len(stretch) == 1:
            # a bin alone between gaps is shown as wide as it is
            x, least, most = stretch[0]
            yield [(x - half, least, most), (x + half, least, most)]
        else:
            yield stretch


def _unbroken(rows: Sequence[T | None]) -> Iterator[list[T]]:
    stretch: list[T] = []
    for row in rows:
        if row is None:
            if stretch:
                yield stretch
            stretch = []
        else:
            stretch.append(row)
    if stretch:
        yield stretch


def _lane(plot: Plot, lane: Lane, top: float) -> Iterator[Mark]:
    yield Words(_LEFT - 4.0, top + _LANE - 3.0, lane.words, "end")
    yield Run(((_LEFT, top + _LANE), (WIDTH - _RIGHT, top + _LANE)), RULE, 0.3)
    for start, end in lane.on:
        x = _x(plot, start)
        yield Box(x, top + 2.0, max(_x(plot, end) - x, 0.8), _LANE - 3.5, 0.35, None)
