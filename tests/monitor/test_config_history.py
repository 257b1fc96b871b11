"""The table [history]: what it may hold, and one line for what it may not."""

from __future__ import annotations

from pathlib import Path

import pytest

from monitor.config import ConfigError, parse_config
from monitor.config_history import History
from tests.monitor.recordings import BANK_TOML


def history(text: str, site: str = "") -> History:
    return parse_config(f"{site}\n{BANK_TOML}\n[history]\n{text}\n", "/coach/own.toml").history


def test_nothing_said_keeps_nothing() -> None:
    assert parse_config(BANK_TOML, "coach.toml").history.directory is None


def test_a_directory_lies_beside_the_configuration() -> None:
    assert history('directory = "record"').directory == Path("/coach/record")
    assert history('directory = "/var/record"').directory == Path("/var/record")
    home = history('directory = "~/record"').directory
    assert home == Path.home() / "record"


def test_what_is_said_is_meant() -> None:
    found = history(
        'directory = "r"\nkeep_days = 7\nkeep_years = 2\nkeep_megabytes = 100\n'
        "zone_hours = -7\nraw = true"
    )
    assert found == History(Path("/coach/r"), 7.0, 2.0, 100.0, -25200.0, "zone_hours", True)
    assert history('directory = "r"\noff = true').directory is None


@pytest.mark.parametrize(
    ("longitude", "hours"), [(-110.5, -7), (0.0, 0), (7.4, 0), (7.6, 1), (179.0, 12)]
)
def test_midnight_follows_the_longitude(longitude: float, hours: int) -> None:
    site = f"[site]\nlatitude = 44.0\nlongitude = {longitude}\n"
    assert history('directory = "r"', site).zone_seconds == 3600.0 * hours
    assert history('directory = "r"\nzone_hours = 3', site).zone_seconds == 10800.0


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ("keep_days = 7", "history: expected a directory to keep it in, found none; add directory"),
        ('directory = ""', "history.directory: expected the name of a directory"),
        ('directory = "r"\nkeep_days = 0', "history.keep_days: expected days from 1 to 3650"),
        ('directory = "r"\nkeep_day = 9', 'found the unknown "keep_day"; did you mean "keep_days"'),
        ('directory = "r"\nkeep_megabytes = 2', "megabytes from 10 to 10000000, found 2; it is in"),
        ('directory = "r"\nzone_hours = 99', "history.zone_hours: expected hours from -12 to 14"),
        ('directory = "r"\noff = "no"', "history.off: expected true or false"),
    ],
)
def test_what_cannot_be_is_one_line_with_its_place(text: str, line: str) -> None:
    with pytest.raises(ConfigError) as caught:
        history(text)
    assert line in str(caught.value)
    assert str(caught.value).startswith("/coach/own.toml:")
    assert "\n" not in str(caught.value)
