"""Moments of a recording as people write them."""

from __future__ import annotations

from datetime import UTC, timedelta, timezone
from pathlib import Path

import pytest

from monitor.engine.engine import Engine
from monitor.mishaps import Refusal
from monitor.moments import Span, engine_at, moment, moment_words, span_of
from monitor.recorded import open_recorded
from tests.monitor.recordings import small_capture

#: From 2026-06-10 20:00 UTC on, 30 hours, by seconds that begin at 1000.
OFFSET = 1_781_121_600.0 - 1000.0
KNOWN = Span(1000.0, 1000.0 + 30 * 3600.0, OFFSET)
UNKNOWN = KNOWN._replace(wall_offset=None)
WEST = timezone(timedelta(hours=-6))


@pytest.mark.parametrize(
    ("text", "seconds"),
    [
        ("5400", 5400.0),
        ("1234.5", 1234.5),
        (" 5400 ", 5400.0),
        ("5400s", 6400.0),
        ("90m", 6400.0),
        ("1.5h", 6400.0),
        ("01:30:00", 6400.0),
        ("29:59:59", 1000.0 + 30 * 3600.0 - 1.0),
        ("start", 1000.0),
        ("end", 1000.0 + 30 * 3600.0),
    ],
)
def test_seconds_and_times_from_the_start(text: str, seconds: float) -> None:
    assert moment(text, KNOWN, UTC) == seconds
    assert moment(text, UNKNOWN, UTC) == seconds


@pytest.mark.parametrize(
    ("text", "hours"),
    [
        ("20:40", 2 / 3),
        ("5:00", 9.0),
        ("19:59", 24.0 - 1 / 60),
        ("2026-06-11 05:00", 9.0),
        ("2026-06-11T05:00:00", 9.0),
        ("2026-06-11T05:00:00Z", 9.0),
        ("2026-06-11T07:00:00+02:00", 9.0),
        ("2026-06-12 01:00", 29.0),
    ],
)
def test_the_clock_on_the_wall(text: str, hours: float) -> None:
    assert moment(text, KNOWN, UTC) == pytest.approx(1000.0 + hours * 3600.0)


def test_a_time_without_a_zone_is_that_of_the_place() -> None:
    assert moment("15:00", KNOWN, WEST) == 1000.0 + 3600.0
    assert moment("2026-06-10 15:00", KNOWN, WEST) == 1000.0 + 3600.0


@pytest.mark.parametrize("text", ["", "soon", "25:00", "1:2:3", "90x", "nan", "inf", "2026-13-01"])
def test_what_is_no_time_is_one_line(text: str) -> None:
    with pytest.raises(Refusal) as refused:
        moment(text, KNOWN, UTC)
    assert "\n" not in str(refused.value)
    assert f'found "{text}"' in str(refused.value)


@pytest.mark.parametrize("text", ["999", "200000", "31:00:00", "2026-06-12 03:00", "2020-01-01"])
def test_a_time_outside_names_what_there_is(text: str) -> None:
    with pytest.raises(Refusal, match=r"within the recording, 1000 to 109000 s \(2026-06-10 20:00"):
        moment(text, KNOWN, UTC)


def test_a_recording_without_a_clock_says_so() -> None:
    for text in ("20:40", "2026-06-11 05:00"):
        with pytest.raises(Refusal, match="does not know the wall clock"):
            moment(text, UNKNOWN, UTC)


def test_a_moment_in_words() -> None:
    words = moment_words(1000.0 + 9 * 3600.0, KNOWN, UTC)
    assert words == "at 09:00:00 of the recording, Thu 2026-06-11 05:00"
    assert moment_words(1061.0, UNKNOWN) == "at 00:01:01 of the recording"


def test_the_engine_is_brought_there_and_no_further(tmp_path: Path) -> None:
    recorded = open_recorded(small_capture(tmp_path, 800))
    span = span_of(recorded.recording)
    assert span.start == recorded.recording.start
    assert span.wall_offset is not None
    middle = 0.5 * (span.start + span.end)
    calls: list[float] = []
    engine = engine_at(recorded, middle, calls.append)
    twin = Engine(recorded.site)
    for value in recorded.recording.inputs():
        if value.seconds <= middle:
            twin.step(value)
    assert engine.state() == twin.state()
    assert engine.seconds is not None
    assert engine.seconds <= middle
    assert calls
