"""The demonstration: clock times of the coach that is shown, wherever the machine is."""

from __future__ import annotations

from datetime import datetime, timedelta, timezone

import pytest

from monitor.cli import main
from monitor.commands import screens
from monitor.commands.demo import shipped, shipped_path, with_fault, zone_of
from monitor.recorded import open_recorded


@pytest.mark.parametrize("name", shipped())
def test_the_zone_is_that_of_the_coach(name: str) -> None:
    recorded = open_recorded(shipped_path(name))
    ahead = zone_of(recorded).utcoffset(datetime(2026, 6, 11))
    assert ahead is not None
    longitude = recorded.config.site.longitude
    assert longitude is not None
    assert ahead / timedelta(hours=1) == round(longitude / 15.0)


def test_a_simulated_coach_has_its_zone_too() -> None:
    recorded, _, _ = with_fault("shunt_reversed")
    assert zone_of(recorded).utcoffset(datetime(2026, 6, 11)) == timedelta(hours=-7)


def test_lines_and_screen_are_given_the_zone(monkeypatch: pytest.MonkeyPatch) -> None:
    given: list[object] = []
    monkeypatch.setattr(screens, "print_recording", lambda *rest: given.append(rest[-1]))
    assert main(["demo", "pinewater", "--plain"]) == 0
    monkeypatch.setattr(screens, "screen_wanted", lambda _: True)
    monkeypatch.setattr(screens, "dashboard", lambda *_, zone, **__: given.append(zone) or 0)
    assert main(["demo", "pinewater"]) == 0
    assert given == [timezone(timedelta(hours=-7))] * 2


@pytest.mark.parametrize(
    "command", [["demo"], ["demo", "--plain"], ["replay", str(shipped_path(shipped()[0]))]]
)
def test_colours_that_are_none_are_refused_without_a_screen_too(
    command: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    assert main([*command, "--theme", "nosuch"]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err.startswith("ampwright: --theme: expected one of ")
    assert err.count("\n") == 1
