"""Sunrise and sunset against an almanac's figures (from memory, to the minute), and the poles."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from monitor.engine.daylight import Place, clear_share, height, next_sunrise, next_sunset, up

LONDON = Place(51.5, -0.12)
NEW_YORK = Place(40.71, -74.0)
SYDNEY = Place(-33.87, 151.2)


def unix(text: str) -> float:
    return datetime.fromisoformat(text).replace(tzinfo=UTC).timestamp()


@pytest.mark.parametrize(
    ("place", "asked", "rises", "sets"),
    [
        (LONDON, "2026-06-21T01:00", "2026-06-21T03:43", "2026-06-21T20:21"),
        (LONDON, "2026-12-21T01:00", "2026-12-21T08:04", "2026-12-21T15:53"),
        (NEW_YORK, "2026-03-20T05:00", "2026-03-20T11:00", "2026-03-20T23:08"),
        (SYDNEY, "2026-12-20T14:00", "2026-12-20T18:41", "2026-12-21T09:05"),
    ],
)
def test_sunrise_and_sunset_are_those_of_the_almanac(
    place: Place, asked: str, rises: str, sets: str
) -> None:
    found = next_sunrise(place, unix(asked))
    assert found == pytest.approx(unix(rises), abs=300.0)
    assert next_sunset(place, unix(asked)) == pytest.approx(unix(sets), abs=300.0)


def test_the_next_one_lies_ahead_and_the_sun_is_up_between() -> None:
    moment = unix("2026-05-05T12:00")
    sets = next_sunset(LONDON, moment)
    rises = next_sunrise(LONDON, moment)
    assert sets is not None
    assert rises is not None
    assert moment < sets < rises < moment + 86400.0
    assert up(LONDON, moment)
    assert not up(LONDON, 0.5 * (sets + rises))
    assert next_sunrise(LONDON, rises + 1.0) == pytest.approx(rises + 86400.0, abs=180.0)


def test_within_the_polar_circle_it_may_not_rise_or_not_set() -> None:
    far_north = Place(70.0, 20.0)
    assert next_sunrise(far_north, unix("2026-12-20T00:00")) is None
    assert next_sunset(far_north, unix("2026-06-20T00:00")) is None
    assert up(far_north, unix("2026-06-20T23:00"))


def test_a_clear_sky_is_highest_at_noon_and_nothing_at_night() -> None:
    """Overhead at the equator on the equinox; Haurwitz has the whole of it there."""
    equator = Place(0.0, 0.0)
    noon = unix("2026-03-20T12:07")
    assert height(equator, noon) == pytest.approx(1.0, abs=1e-3)
    assert clear_share(equator, noon) == pytest.approx(1.0, abs=2e-3)
    assert clear_share(equator, noon + 4 * 3600.0) < clear_share(equator, noon + 3 * 3600.0)
    assert clear_share(equator, noon + 43200.0) == 0.0
