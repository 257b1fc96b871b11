"""What is published, and that a broker that is not there is one line. The real one: tests/mqtt."""

from __future__ import annotations

import asyncio
import json

import pytest

from monitor.commands import serve
from monitor.config_mqtt import Mqtt
from monitor.mishaps import Refusal
from monitor.service import publishing
from monitor.service.publishing import (
    Publisher,
    alarm_payload,
    bank_payload,
    event_payload,
    moment,
)
from tests.monitor.service.showing_feed import ShowingFeed
from tests.wire.waiting import soon


def test_payloads_are_json_with_units_in_the_names() -> None:
    feed = ShowingFeed(4000)
    snapshot = feed.snapshot()
    bank = bank_payload(snapshot.banks[0], snapshot)
    assert json.loads(json.dumps(bank, allow_nan=False)) == bank
    assert bank["volts"] == snapshot.banks[0].volts.figure
    assert 0.0 <= bank["charged_fraction"] <= 1.0
    assert snapshot.alarms
    alarm = alarm_payload(snapshot.alarms[0], snapshot)
    assert alarm["priority"] in ("low", "medium", "high")
    assert json.loads(json.dumps(alarm, allow_nan=False)) == alarm
    for event in feed.events(0):
        told = event_payload(event, snapshot.wall_offset)
        assert told["number"] == event.number
        assert json.loads(json.dumps(told, allow_nan=False)) == told


def test_moments_are_utc_or_nothing() -> None:
    assert moment(60.0, 1_700_000_000.0) == "2023-11-14T22:14:20Z"
    assert moment(60.0, None) is None


async def test_a_broker_that_is_not_there_is_one_line_and_called_again() -> None:
    pytest.importorskip("aiomqtt", reason="the extra mqtt is not installed")
    said: list[str] = []
    settings = Mqtt("127.0.0.1", 1)
    publisher = Publisher(ShowingFeed(100), settings, None, 0, said.append, first_wait_seconds=0.01)
    tried = 0

    def counted() -> object:
        nonlocal tried
        tried += 1
        return original()

    original = publisher._client
    publisher._client = counted  # type: ignore[method-assign,assignment]
    task = asyncio.create_task(publisher.run())
    await soon(lambda: tried > 2, 20, "it calls again")
    task.cancel()
    await asyncio.gather(task, return_exceptions=True)
    assert len(said) == 1
    assert "calling again" in said[0]
    assert "\n" not in said[0]


def test_without_the_library_one_line_says_how_to_get_it(monkeypatch: pytest.MonkeyPatch) -> None:
    def missing() -> None:
        raise Refusal("[mqtt] needs a library")

    assert serve._ready_to_publish(Mqtt()) is None
    monkeypatch.setattr(publishing, "needs_mqtt", missing)
    with pytest.raises(Refusal, match="needs a library"):
        serve._ready_to_publish(Mqtt("broker"))
