"""The tool's own links are told as what they are, and lost polls are counted without a price."""

from __future__ import annotations

import pytest

from adapters.reading import LinkState, OwnLink, Reading, Tick
from monitor.engine.engine import Engine
from monitor.engine.snapshot import EventKind
from tests.monitor.engine.cases_tool import disturbed, gappy
from tests.monitor.engine.sites import AMPS, reading, site

NAMES = {
    OwnLink.RECORDER: "recording-stopped",
    OwnLink.DISK: "disk-nearly-full",
    OwnLink.HEARTBEAT: "heartbeat-not-delivered",
}


@pytest.mark.parametrize("link", OwnLink)
def test_an_own_link_raises_its_own_condition_and_no_other(link: OwnLink) -> None:
    engine = Engine(site())
    engine.step(Tick(0.0, 1e9))
    engine.step(reading(1.0))
    down = engine.step(LinkState(2.0, link, False, "/data: no room left"))
    told = [event for event in down if event.kind is EventKind.CONDITION]
    assert [event.name for event in told] == [NAMES[link]]
    assert "/data: no room left" in told[0].evidence[0].words
    assert any(event.words == "does not work: /data: no room left" for event in down)
    assert not [alarm for alarm in engine.snapshot().alarms if alarm.name == "device-silent"]
    up = engine.step(LinkState(3.0, link, True, "writes again"))
    assert [event.name for event in up if event.kind is EventKind.CONDITION] == [NAMES[link]]
    # nobody expects figures of it: it does not fall silent by itself
    for second in range(4, 200):
        assert not any(event.target == link for event in engine.step(reading(float(second))))


def test_a_device_called_like_an_own_link_is_a_device() -> None:
    """In a capture of before the names were taken."""
    engine = Engine(site(links=(("disk", 1.0),)))
    engine.step(Tick(0.0, 1e9))
    engine.step(LinkState(1.0, "disk", False, "unplugged"))
    assert [alarm.name for alarm in engine.snapshot().alarms] == ["device-silent"]


def test_a_missing_voltage_is_told_though_the_device_answers() -> None:
    engine = Engine(site())
    names = set()
    for second in range(600):
        value = reading(float(second))
        if second > 200:
            value = Reading(float(second), "shunt", ((AMPS, 1.0),))
        names |= {e.name for e in engine.step(value) if e.kind is EventKind.CONDITION}
    assert names == {"figure-missing"}
    (alarm,) = engine.snapshot().alarms
    assert "no bank voltage for" in alarm.evidence[0].words


def test_lost_polls_and_refused_figures_from_worked_figures() -> None:
    """Every second poll lost is a half; six refused an hour settle at about six."""
    assert gappy(2).lost_share == pytest.approx(0.4, abs=0.1)
    assert gappy(1000).lost_share < 0.02
    assert disturbed(0.1, hours=8.0).refused_an_hour == pytest.approx(6.0, abs=0.7)


def test_a_restart_is_the_tool_s_own_silence_and_no_device_s() -> None:
    """Killed at rest, started again later: nobody is called silent for the time between."""
    engine = Engine(site(links=(("shunt", 1.0), ("charger", 5.0))))
    engine.step(Tick(0.0, 1e9))
    for second in range(60):
        engine.step(reading(float(second)))
        engine.step(reading(float(second), device="charger"))
    again = Engine(site(links=(("shunt", 1.0), ("charger", 5.0))), engine.state())
    events = [*again.step(Tick(200.0, 1e9)), *again.step(reading(201.0))]
    assert not [event for event in events if event.kind is EventKind.LINK]
    # one that stays away is told, after the time that it has from then on
    told = [e for second in range(202, 260) for e in again.step(reading(float(second)))]
    silent = [event for event in told if event.name == "device-silent"]
    assert [event.target for event in silent] == ["charger"] * len(silent)
    assert silent
    assert silent[0].seconds >= 215.0
