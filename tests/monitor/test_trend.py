"""The store behind the charts: nothing lost, nothing invented, the same after going back."""

from __future__ import annotations

import random

import pytest

from monitor.engine.snapshot import Glance, Stage
from monitor.trend import WIDEST_SECONDS, TrendStore


def glance(seconds: float, volts: float | None, stage: Stage | None = Stage.BULK) -> Glance:
    amps = None if volts is None else 10.0 * volts
    return Glance(seconds, volts, amps, 20.0, stage, 0.5, 0.02, None, None, None)


def test_columns_cover_the_window_and_the_newest_holds_the_newest() -> None:
    store = TrendStore()
    for second in range(3600):
        store.add("house", glance(float(second), 12.0 + second / 3600))
    trend = store.trend("house", 3600.0, 60)
    assert len(trend.columns) == 60
    assert (trend.start, trend.end) == (0.0, 3600.0)
    assert [column.seconds for column in trend.columns] == [60.0 * n for n in range(60)]
    last = trend.columns[-1]
    assert last.volts_low == pytest.approx(12.0 + 3540 / 3600)
    assert last.volts_high == pytest.approx(12.0 + 3599 / 3600)
    assert last.volts == pytest.approx(12.0 + 3569.5 / 3600)
    assert last.amps == pytest.approx(10 * last.volts)
    assert (last.celsius, last.soc, last.stage) == (20.0, pytest.approx(0.5), Stage.BULK)


@pytest.mark.parametrize("window", [1800.0, 3 * 3600.0, 86400.0, 5 * 86400.0])
def test_a_spike_of_one_reading_is_seen_at_every_width(window: float) -> None:
    store = TrendStore()
    for second in range(0, 6 * 86400, 10):
        spike = second == 6 * 86400 - 300
        store.add("house", glance(float(second), 15.9 if spike else 12.6))
    for columns in (20, 77, 150):
        seen = store.trend("house", window, columns).columns
        assert max(column.volts_high or 0.0 for column in seen) == 15.9
        assert all(column.volts is not None for column in seen)


def test_a_gap_stays_a_gap() -> None:
    store = TrendStore()
    for second in [*range(0, 600, 5), *range(1200, 1800, 5)]:
        store.add("house", glance(float(second), 12.6))
    empty = [
        column.seconds
        for column in store.trend("house", 1800.0, 30).columns
        if column.volts is None
    ]
    assert empty == [60.0 * n for n in range(10, 20)]


def test_the_stage_of_a_column_is_the_one_that_held_longest() -> None:
    store = TrendStore()
    for second in range(60):
        store.add("house", glance(float(second), 12.6, Stage.FLOAT if second < 35 else Stage.REST))
    assert store.trend("house", 60.0, 1).columns[0].stage is Stage.FLOAT


def test_what_was_not_measured_is_none() -> None:
    store = TrendStore()
    store.add("house", glance(1.0, None, None))
    (column,) = store.trend("house", 60.0, 1).columns
    assert (column.volts, column.volts_low, column.amps, column.stage) == (None,) * 4
    unknown = store.trend("start", 60.0, 3).columns
    assert len(unknown) == 3
    assert all(column.soc is None for column in unknown)


def test_a_finished_column_never_changes() -> None:
    store, before = TrendStore(), {}
    for second in range(7200):
        store.add("house", glance(float(second), 12.0 + (second % 97) / 97))
        if second % 61 == 0:
            columns = store.trend("house", 1800.0, 25).columns[:-2]
            for column in columns:
                if column.volts is not None:
                    assert before.setdefault(column.seconds, column) == column


def test_going_back_and_on_again_gives_the_same_columns() -> None:
    draw = random.Random(5)
    times, now = [], 0.0
    while now < 4 * WIDEST_SECONDS:
        now += draw.uniform(0.2, 9.0)
        times.append(now)
    glances = [
        glance(t, 12.0 + draw.random(), draw.choice([Stage.BULK, Stage.FLOAT])) for t in times
    ]
    store = TrendStore()
    for one in glances:
        store.add("house", one)
    straight = [store.trend("house", w, 40) for w in (600.0, 3000.0, 36000.0)]
    store.rewind(2 * WIDEST_SECONDS)
    for one in glances:
        if one.seconds >= 2 * WIDEST_SECONDS:
            store.add("house", one)
    assert [store.trend("house", w, 40) for w in (600.0, 3000.0, 36000.0)] == straight


def test_stage_and_charge_have_no_course_while_the_bank_is_not_read() -> None:
    """They stand still then; a flat line would say that they were known to."""
    store = TrendStore()
    for second in range(3600):
        store.add("house", glance(float(second), 12.6 if second < 1800 else None))
    columns = store.trend("house", 3600.0, 60).columns
    assert {(column.soc, column.stage) for column in columns[:30]} == {(0.5, Stage.BULK)}
    assert {(column.soc, column.stage) for column in columns[30:]} == {(None, None)}
