"""When the wall clock may be believed, and how long a row may wait."""

from __future__ import annotations

import dataclasses

import pytest

from monitor.commit_policy import BUSY_SECONDS, QUIET_SECONDS, commit_seconds
from monitor.engine.snapshot import Glance, Stage
from monitor.wall_clock import FIRST_YEAR, WallClock, boot_id, missed_seconds
from tests.monitor.test_feed_live import config

NOW = 1.75e9


class Clock:
    """Steady seconds, and a wall clock that somebody sets."""

    def __init__(self, wall: float) -> None:
        self.steady, self.wall = 100.0, wall

    def on(self, seconds: float, set_by: float = 0.0) -> None:
        self.steady += seconds
        self.wall += seconds + set_by

    def watched(self, known: float | None = None) -> WallClock:
        return WallClock(lambda: self.steady, lambda: self.wall, known)


def test_a_clock_that_runs_is_believed_and_no_news() -> None:
    clock = Clock(NOW)
    watched = clock.watched()
    assert watched.offset == NOW - 100.0
    clock.on(3600.0, 0.4)
    assert not watched.look()
    clock.on(1.0, 0.7)
    assert watched.look()
    assert watched.offset == pytest.approx(NOW - 100.0 + 1.1)


def test_a_year_long_gone_is_not_believed_until_it_is_set() -> None:
    clock = Clock(1_577_836_800.0)
    watched = clock.watched(known=NOW)
    for _ in range(5):
        clock.on(60.0)
        assert not watched.look()
    assert watched.offset is None
    clock.on(1.0, 1e6)
    assert not watched.look(), "set, but still before this program existed"
    clock.on(1.0, NOW - clock.wall)
    assert watched.look()
    assert watched.offset == pytest.approx(NOW - clock.steady, abs=1.1)


@pytest.mark.parametrize(
    ("behind", "believed"),
    [(-50.0, True), (0.0, True), (30.0, True), (1800.0, False), (80_000.0, False), (9e6, True)],
)
def test_a_little_behind_what_was_known_is_a_kept_time(behind: float, believed: bool) -> None:
    """A file of hours ago; a day and more behind, somebody had it wrong before."""
    clock = Clock(NOW - behind)
    watched = clock.watched(known=NOW)
    assert (watched.offset is not None) is believed
    clock.on(10.0, -1200.0)
    assert watched.look(), "once it was set while we looked, it is believed"


def test_missed_time_is_never_negative_nor_made_up() -> None:
    assert missed_seconds(NOW, NOW - 60.0) == 60.0
    assert missed_seconds(NOW, NOW + 60.0) == 0.0
    assert missed_seconds(FIRST_YEAR - 1.0, 0.0) == 0.0
    assert missed_seconds(NOW, None) == 0.0
    assert boot_id() == boot_id()


@pytest.mark.parametrize(
    ("stage", "amps", "seconds"),
    [
        (Stage.REST, 0.0, QUIET_SECONDS),
        (Stage.FLOAT, 1.0, QUIET_SECONDS),
        (Stage.DISCHARGE, -5.0, QUIET_SECONDS),
        (Stage.DISCHARGE, -60.0, BUSY_SECONDS),
        (Stage.BULK, 30.0, BUSY_SECONDS),
        (Stage.ABSORPTION, 3.0, BUSY_SECONDS),
        (Stage.FLOAT, 60.0, BUSY_SECONDS),
        (None, None, BUSY_SECONDS),
    ],
)
def test_rows_wait_no_longer_than_is_at_stake(
    stage: Stage | None, amps: float | None, seconds: float
) -> None:
    (bank,) = config().site.banks
    glance = Glance(0.0, 12.6, amps, 20.0, stage, 0.8, 0.1, None, None, None)
    assert commit_seconds([(bank, glance)]) == seconds
    busy = dataclasses.replace(bank, id="other"), glance._replace(stage=Stage.BULK)
    assert commit_seconds([(bank, glance), busy]) == BUSY_SECONDS
    assert commit_seconds([]) == BUSY_SECONDS
