"""What goes over the socket comes back equal, and what is not understood is one line."""

from __future__ import annotations

import itertools
import json
from pathlib import Path

import msgspec
import pytest

from monitor.engine.snapshot import Snapshot
from monitor.recorded import open_recorded
from monitor.service import wire
from monitor.service.wire import shape_of
from monitor.showing import Showing
from monitor.trend import Trend
from tests.monitor.service.showing_feed import CAPTURES, recorded


def survives(path: Path, every: int, most: int | None = None) -> int:
    """Every so many inputs of a capture: snapshot, chain and trend, there and back."""
    made = open_recorded(path)
    showing = Showing(made.site, made.state)
    looked = 0
    for number, value in enumerate(itertools.islice(made.recording.inputs(), most)):
        showing.step(value)
        if number % every:
            continue
        looked += 1
        snapshot = showing.snapshot()
        assert wire.from_service(wire.line(wire.News(snapshot))) == wire.News(snapshot)
        for bank in made.site.banks:
            parts = showing.explain(bank.id)
            assert wire.from_service(wire.line(wire.Explained(1, parts))).parts == parts
            outlook, said = showing.outlook(bank.id), showing.said(bank.id)
            assert wire.from_service(wire.line(wire.Foreseen(4, outlook))).outlook == outlook
            assert wire.from_service(wire.line(wire.SaidTold(5, said))).values == said
            trend = showing.trend(bank.id, 21_600.0, 90)
            assert wire.from_service(wire.line(wire.TrendTold(2, trend))).trend == trend
    events = showing.events(0)
    assert events
    assert wire.from_service(wire.line(wire.EventPage(3, events))).events == events
    return looked


def test_what_a_capture_shows_survives_the_wire_equal() -> None:
    assert survives(CAPTURES / "pinewater.capture.gz", 30, 3000) == 100


@pytest.mark.slow
@pytest.mark.parametrize("path", sorted(CAPTURES.glob("*.gz")), ids=lambda path: path.name)
def test_every_snapshot_of_every_capture_survives_the_wire(path: Path) -> None:
    assert survives(path, 1) > 1000


def test_the_site_survives_the_hello() -> None:
    site = recorded().site
    said = wire.from_service(wire.hello("ampwright 1", 7, 1.5, "a.toml", site))
    assert isinstance(said, wire.Hello)
    assert (said.pid, said.since, said.config) == (7, 1.5, "a.toml")
    assert wire.site_of(said, lambda: "ampwright 1") == site


@pytest.mark.parametrize(
    "change",
    [{"protocol": 2}, {"shape": "abcdefabcdef"}, {"protocol": 2, "site": {"moons": 3}}],
    ids=["protocol", "shape", "both, and a site of another kind"],
)
def test_another_version_is_one_clear_line(change: dict[str, object]) -> None:
    said = json.loads(wire.hello("ampwright 9.9", 7, 1.5, "a.toml", recorded().site))
    greeting = wire.from_service(json.dumps(said | change).encode())
    assert isinstance(greeting, wire.Hello)
    with pytest.raises(wire.WireError) as caught:
        wire.site_of(greeting, lambda: "ampwright 0.1")
    words = str(caught.value)
    assert "\n" not in words
    assert "9.9" in words
    assert "0.1" in words
    assert "restart the service" in words


@pytest.mark.parametrize(
    "line", [b"", b"{", b"[]", b'{"say":"fireworks"}', b'{"say":"news","snapshot":{}}', b"\xff"]
)
def test_what_is_not_understood_is_one_line(line: bytes) -> None:
    for read in (wire.from_service, wire.from_client):
        with pytest.raises(wire.WireError) as caught:
            read(line)
        assert "\n" not in str(caught.value)


def test_the_shape_tells_of_any_change_however_deep() -> None:
    """A field more anywhere below makes another shape: never half of a newer snapshot."""
    assert shape_of(Snapshot) == shape_of(Snapshot)
    assert shape_of(Snapshot) != shape_of(Snapshot, Trend)
    inner = msgspec.defstruct("Inner", [("a", int)])
    other = msgspec.defstruct("Inner", [("a", float)])
    assert shape_of(tuple[inner, ...]) != shape_of(tuple[other, ...])  # type: ignore[valid-type]
