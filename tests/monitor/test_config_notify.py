"""The table [notify]: read strictly, every slip with its place and what to do."""

from __future__ import annotations

import pytest

from monitor.config import Config, ConfigError, parse_config
from monitor.config_notify import Notify

BANK = '[banks.house]\nchemistry = "agm"\nnominal_volts = 12\namp_hours = 200\n'


def read(text: str) -> Config:
    return parse_config(BANK + text, "coach.toml")


def test_without_the_table_nobody_is_told_and_nothing_rings() -> None:
    assert read("").notify == Notify()
    assert read("").notify.command == ()
    assert not read("").notify.bell


def test_everything_that_can_be_said() -> None:
    text = """\
[notify]
command = ["/usr/local/bin/tell", "--to", "ann; rm"]
priority = "high"
repeat_minutes = 0
most_per_hour = 12
timeout_seconds = 5
heartbeat_hours = 12
bell = true
"""
    assert read(text).notify == Notify(
        command=("/usr/local/bin/tell", "--to", "ann; rm"),
        priority="high",
        repeat_seconds=0.0,
        most_per_hour=12,
        timeout_seconds=5.0,
        heartbeat_seconds=43200.0,
        bell=True,
    )


def test_a_bell_needs_no_command() -> None:
    assert read("[notify]\nbell = true\n").notify.bell


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ('command = "tell --to ann"', "write a list, program first"),
        ("command = []", "write every part between quotes"),
        ('command = ["tell", 5]', "write every part between quotes"),
        ('command = [" "]', "the first part is the program"),
        ('priority = "urgent"', "one of low, medium, high"),
        ("most_per_hour = 0", "1 to 60"),
        ("timeout_seconds = 5000", "it is in seconds"),
        ("repeat_minutes = 99999", "it is in minutes"),
        ("heartbeat_hours = 86400", "it is in hours"),
        ('bell = "yes"', "write true or false"),
        ("hartbeat_hours = 24", 'did you mean "heartbeat_hours"?'),
        ("heartbeat_hours = 24", "expected a command beside it"),
    ],
)
def test_every_slip_has_its_place_and_what_to_do(line: str, words: str) -> None:
    with pytest.raises(ConfigError) as refused:
        read(f"[notify]\n{line}\n")
    (problem,) = refused.value.problems
    assert problem.startswith("coach.toml:6: notify.")
    assert words in problem
