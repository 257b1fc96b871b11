"""What `speed.py` measures in time, counted instead: the same on any machine, however busy."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Sequence
from functools import partial
from types import FrameType
from typing import Any

import pytest

from adapters.reading import Reading
from monitor.engine.engine import Engine
from monitor.engine.forecast import Forecast
from tests.monitor.engine.captures import capture
from tests.reference.speed import REFRESHES, repeated, start_up

PERIOD = 120.0


def calls_of(work: Callable[[], None]) -> int:
    """Calls of functions, ours and the interpreter's, that some work makes."""
    count = 0

    def counting(_: FrameType, event: str, __: Any) -> None:
        nonlocal count
        count += event in ("call", "c_call")

    sys.setprofile(counting)
    try:
        work()
    finally:
        sys.setprofile(None)
    return count


def uncounted(method: Callable[..., Any]) -> Callable[..., Any]:
    """The same method, whose own work is left out: a forecast costs what there is to foresee."""

    def done(*given: Any) -> Any:
        counting = sys.getprofile()
        sys.setprofile(None)
        try:
            return method(*given)
        finally:
            sys.setprofile(counting)

    return done


def test_the_cost_of_a_reading_does_not_grow_with_the_history(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A day lived again and again: the sixth costs what the third did, and keeps as much."""
    for name in REFRESHES:
        monkeypatch.setattr(Forecast, name, uncounted(getattr(Forecast, name)))
    _, where, readings = capture("c01")
    day = [each for each in readings if each.seconds < 86400.0][:: round(PERIOD / 5.0)]
    engine = Engine(where)
    calls: dict[int, int] = {}
    sizes: dict[int, int] = {}

    def live(inputs: Sequence[Reading]) -> None:
        for each in inputs:
            engine.step(each)

    for number, lived in enumerate(repeated(day, 6), start=1):
        if number in (3, 6):
            calls[number] = calls_of(partial(live, lived))
        else:
            live(lived)
        sizes[number] = len(json.dumps(engine.state()))
    assert calls[6] < 1.02 * calls[3]
    assert sizes[6] < 1.02 * sizes[3]


def test_forecasts_are_refreshed_where_the_table_looks_for_it() -> None:
    assert REFRESHES


def test_nothing_heavy_is_imported_at_start_up() -> None:
    for module in ("monitor.engine.engine", "monitor.cli"):
        _, modules, heavy = start_up(module, passes=1)
        assert modules > 10
        assert heavy == []
