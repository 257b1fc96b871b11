"""The shipped captures: complete, small, openable, and what the command makes."""

from __future__ import annotations

import gzip
import hashlib
import tomllib
from pathlib import Path

import pytest

from adapters.reading import LinkState, Reading, Tick
from monitor.config import parse_config
from replay.capture import open_capture, verify
from replay.coach.__main__ import main
from replay.coach.config_text import config_text
from replay.coach.make_captures import HOME, SHIPPED, file_name, make_captures
from replay.coach.make_captures import main as make_main
from replay.coach.recording import write_capture
from replay.coach.stories import STORIES


def digest(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()


def rows_digest(path: Path) -> str:
    with gzip.open(path) as rows:
        return hashlib.sha256(rows.read()).hexdigest()


def test_making_twice_gives_the_same_bytes(tmp_path):
    first, second = tmp_path / "a", tmp_path / "b"
    for folder in (first, second):
        folder.mkdir()
    made = make_captures(first, hours=0.5), make_captures(second, hours=0.5)
    assert [digest(path) for path in made[0]] == [digest(path) for path in made[1]]
    assert sorted(path.name for path in first.iterdir()) == sorted(map(file_name, SHIPPED))


@pytest.mark.parametrize("name", SHIPPED)
def test_the_shipped_capture_begins_as_the_command_makes_it(name, tmp_path):
    """The first two hours, row by row; the whole file is compared by the slow test."""
    story = STORIES[name].with_hours(2.0)
    made = write_capture(story, tmp_path / file_name(name))
    with gzip.open(made) as short, gzip.open(HOME / file_name(name)) as whole:
        rows = short.readlines()
        assert len(rows) > story.hours * 3600 / 10
        assert rows == [whole.readline() for _ in rows]


@pytest.mark.slow
def test_the_shipped_captures_are_what_the_command_makes(tmp_path):
    """Row for row; the gzip around them may differ with another zlib."""
    for made in make_captures(tmp_path):
        assert rows_digest(made) == rows_digest(HOME / made.name), (
            f"{made.name}: make the captures again"
        )


def test_shipped_captures_are_small_and_whole():
    assert sum((HOME / file_name(name)).stat().st_size for name in SHIPPED) < 3_000_000
    for name in SHIPPED:
        found = verify(HOME / file_name(name))
        assert found.problems.lossless
        assert not found.gaps
        hours = (found.last_seconds or 0.0) / 3600
        assert hours == pytest.approx(STORIES[name].hours, abs=0.01)


@pytest.mark.parametrize("name", SHIPPED)
def test_shipped_capture_opens_without_more(name):
    """Its config is sound and names every device and owner that speaks in it."""
    capture = open_capture(HOME / file_name(name))
    site = parse_config(capture.header.config, name).site
    devices = {link.device for link in site.links}
    owners = {bank.id for bank in site.banks} | {source.id for source in site.sources}
    seen = set()
    for number, value in enumerate(capture.inputs()):
        if number == 0:
            assert value == Tick(0.0, capture.header.wall_offset)
        if isinstance(value, Reading):
            seen.add(value.device)
            assert {channel.owner for channel, _ in value.values} <= owners
        if isinstance(value, LinkState):
            assert value.device in devices
        if number > 3000:
            break
    assert seen == devices
    assert capture.header.origin == "simulated"


@pytest.mark.parametrize("name", STORIES)
def test_config_of_every_story_is_sound(name):
    text = config_text(STORIES[name])
    site = parse_config(text, name).site
    story = STORIES[name]
    assert site.banks[0].amp_hours == story.bank.amp_hours
    assert site.banks[0].set_points.absorption == story.sources[0].settings.absorption
    assert {source.id for source in site.sources} == {source.id for source in story.sources}
    periods = {link.device: link.period_seconds for link in site.links}
    assert periods == {device.name: device.period_seconds for device in story.devices}
    assert "shunt" in tomllib.loads(text)["devices"]


def test_command_lists_and_tells(capsys):
    assert main([]) == 0
    listed = capsys.readouterr().out
    assert "pinewater" in listed
    assert "thermal_runaway" in listed
    assert main(["bench", "--hours", "2", "--fault", "shunt_offset@1"]) == 0
    assert "bulk" in capsys.readouterr().out


@pytest.mark.parametrize("ending", ["capture", "capture.gz"])
def test_command_writes_a_capture(ending, tmp_path, capsys):
    out = tmp_path / f"night.{ending}"
    assert main(["bench", "--hours", "0.2", "--out", str(out)]) == 0
    assert verify(out).counts["readings"] > 100
    assert str(out) in capsys.readouterr().out
    assert [path.name for path in tmp_path.iterdir()] == [out.name]


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["pinewatr"], 'did you mean "pinewater"?'),
        (["bench", "--fault", "shorted_sell"], 'did you mean "shorted_cell"?'),
        (["bench", "--fault", "shorted_cell@noon"], "no number of hours"),
        (["bench", "--hours", "-2"], "--hours -2"),
        (["bench", "--hours", "soon"], "invalid float value"),
        (["bench", "--sideways"], "unrecognized arguments"),
        (["bench", "--hours", "0.1", "--out", "/no/such/folder/x.capture"], "cannot be written"),
    ],
)
def test_mistakes_get_one_line(arguments, said, capsys):
    assert main(arguments) == 2
    error = capsys.readouterr().err
    assert said in error
    assert error.count("\n") == 1


def test_make_captures_says_how_it_is_used(capsys, tmp_path):
    assert make_main(["--help-me"]) == 2
    assert "usage" in capsys.readouterr().err
    blocked = tmp_path / "file"
    blocked.write_text("")
    assert make_main([str(blocked)]) == 2
    assert capsys.readouterr().err.count("\n") == 1
