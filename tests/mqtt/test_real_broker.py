"""Published to a real mosquitto, with a password; killed and started again in between.

A suite of its own (`make mqtt`): skipped where there is no broker to run.
"""

from __future__ import annotations

import asyncio
import contextlib
import json
import shutil
import socket
import subprocess
import sys
from collections import defaultdict
from collections.abc import AsyncIterator, Iterator
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Any

import pytest

from adapters.reading import LinkState
from monitor.config_mqtt import Mqtt
from monitor.service.publishing import MOST_EVENTS, Publisher
from tests.monitor.service.showing_feed import ShowingFeed
from tests.wire.waiting import soon

aiomqtt = pytest.importorskip("aiomqtt", reason="the extra mqtt is not installed")

BROKER = shutil.which("mosquitto", path="/usr/sbin:/usr/local/sbin:/usr/bin:/usr/local/bin")
pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(
        BROKER is None or shutil.which("mosquitto_passwd") is None,
        reason="mosquitto is not installed; on Debian it is the package mosquitto",
    ),
]
USER, PASSWORD = "coach", "sesame-94"


class Broker:
    """mosquitto on a port of its own, which it keeps."""

    def __init__(self, folder: Path) -> None:
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            self.port = free.getsockname()[1]
        passwords, self._config = folder / "passwords", folder / "mosquitto.conf"
        subprocess.run(
            ["mosquitto_passwd", "-b", "-c", passwords, USER, PASSWORD],
            check=True,
            capture_output=True,
        )
        self._config.write_text(
            f"listener {self.port} 127.0.0.1\npassword_file {passwords}\n"
            "allow_anonymous false\npersistence false\nuser root\n"
        )
        self._process: subprocess.Popen[bytes] | None = None

    async def start(self) -> None:
        assert BROKER is not None
        self._process = subprocess.Popen(
            [BROKER, "-c", self._config], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
        )

        def listens() -> bool:
            with socket.socket() as tried:
                return tried.connect_ex(("127.0.0.1", self.port)) == 0

        await soon(listens, 20, "the broker listens")

    def kill(self) -> None:
        if self._process is not None:
            self._process.kill()
            self._process.wait()
            self._process = None


class Heard:
    """What a subscriber heard: the payloads of each topic, and which of them were retained."""

    def __init__(self) -> None:
        self.payloads: dict[str, list[Any]] = defaultdict(list)
        self.retained: set[str] = set()

    def last(self, topic: str) -> Any:
        heard = self.payloads[topic]
        return heard[-1] if heard else None

    def numbers(self) -> list[int]:
        return [event["number"] for event in self.payloads["van/events"]]


@asynccontextmanager
async def hearing(broker: Broker) -> AsyncIterator[Heard]:
    heard, ready = Heard(), asyncio.Event()

    async def listen() -> None:
        client = aiomqtt.Client("127.0.0.1", broker.port, username=USER, password=PASSWORD)
        async with client:
            await client.subscribe("van/#", qos=1)
            ready.set()
            async for message in client.messages:
                topic = str(message.topic)
                heard.payloads[topic].append(json.loads(message.payload))
                if message.retain:
                    heard.retained.add(topic)

    task = asyncio.create_task(listen())
    await asyncio.wait({task, asyncio.create_task(ready.wait())}, return_when="FIRST_COMPLETED")
    try:
        yield heard
    finally:
        task.cancel()
        with contextlib.suppress(asyncio.CancelledError, aiomqtt.MqttError):
            await task


@pytest.fixture
def broker(tmp_path: Path) -> Iterator[Broker]:
    made = Broker(tmp_path)
    yield made
    made.kill()


@asynccontextmanager
async def publishing(
    feed: ShowingFeed, broker: Broker, said: list[str], password: str = PASSWORD
) -> AsyncIterator[Publisher]:
    settings = Mqtt("127.0.0.1", broker.port, name="van", username=USER, every_seconds=1.0)
    publisher = Publisher(
        feed, settings, password, 0, said.append, look_seconds=0.05, first_wait_seconds=0.1
    )
    task = asyncio.create_task(publisher.run())
    try:
        yield publisher
    finally:
        task.cancel()
        await asyncio.gather(task, return_exceptions=True)


async def test_state_is_retained_events_come_once_and_the_end_is_told(broker: Broker) -> None:
    await broker.start()
    feed, said = ShowingFeed(4000), list[str]()
    async with publishing(feed, broker, said):
        async with hearing(broker) as heard:
            await soon(lambda: heard.last("van/here"), 20, "a sign of life")
            assert heard.last("van/here")["here"] is True
            wanted = [event.number for event in feed.events(0)]
            await soon(lambda: feed.events(0)[-1].number in heard.numbers(), 20, "all events")
            assert set(heard.numbers()) <= set(wanted)
            count = len(heard.payloads["van/here"])
            await soon(lambda: len(heard.payloads["van/here"]) > count + 1, 20, "again and again")
        async with hearing(broker) as later:  # somebody who comes when nothing happens
            bank = feed.snapshot().banks[0]
            state = f"van/banks/{bank.id}"
            await soon(lambda: later.last(state), 20, "the state is kept by the broker")
            assert state in later.retained
            assert later.last(state)["volts"] == bank.volts.figure
            assert later.last(state)["charged_fraction"] == bank.charge.soc.figure
            assert later.last(state)["stage"] == str(bank.stage.stage)
            assert isinstance(later.last("van/alarms"), list)
            assert "van/events" not in later.retained
    async with hearing(broker) as after:
        await soon(lambda: after.last("van/here"), 20, "the end is told")
        assert after.last("van/here") == {"here": False}
    assert said == [f"broker 127.0.0.1:{broker.port}: connected"]


async def test_a_broker_that_is_killed_and_comes_back_misses_no_event(broker: Broker) -> None:
    await broker.start()
    feed, said = ShowingFeed(500), list[str]()
    async with publishing(feed, broker, said) as publisher:
        await soon(lambda: publisher.told == feed.snapshot().last_event, 20, "all are told")
        before = publisher.told
        broker.kill()
        feed.take(4000)
        last = feed.snapshot().last_event
        assert last > before + 3
        await soon(lambda: len(said) == 2, 30, "it is missed")
        await broker.start()
        async with hearing(broker) as heard:
            await soon(lambda: last in heard.numbers(), 30, "the newest is told")
            numbers = heard.numbers()
        # The subscriber may come after the first; what it hears has no gap, and none comes twice.
        assert numbers == list(range(numbers[0], last + 1))
        assert publisher.told == last
    assert "calling again" in said[1]
    assert said[2].endswith("connected")


async def test_a_broker_long_away_gets_the_newest_events_and_no_more(broker: Broker) -> None:
    """What waits is bounded, and a gap in the numbers tells of it."""
    feed, said = ShowingFeed(500), list[str]()
    async with publishing(feed, broker, said) as publisher:
        await soon(lambda: said, 20, "nobody is there")
        second = feed.snapshot().seconds
        for number in range(MOST_EVENTS + 100):
            second += 1.0
            feed.step(LinkState(second, feed.site.links[0].device, number % 2 == 1, "try"))
        last = feed.snapshot().last_event
        assert last > MOST_EVENTS + 50
        async with hearing_first(broker) as heard:
            await soon(lambda: publisher.told == last, 40, "all that is kept was told")
            await soon(lambda: last in heard.numbers(), 20, "and heard")
            assert len(heard.numbers()) <= MOST_EVENTS


@asynccontextmanager
async def hearing_first(broker: Broker) -> AsyncIterator[Heard]:
    await broker.start()
    async with hearing(broker) as heard:
        yield heard


async def test_a_service_that_is_killed_is_told_of_by_the_broker(
    broker: Broker, tmp_path: Path
) -> None:
    """The last will: a process that has no moment to say goodbye."""
    await broker.start()
    program = tmp_path / "killed.py"
    program.write_text(
        "import asyncio\n"
        "from monitor.config_mqtt import Mqtt\n"
        "from monitor.service.publishing import Publisher\n"
        "from tests.monitor.service.showing_feed import ShowingFeed\n"
        f"mqtt = Mqtt('127.0.0.1', {broker.port}, name='van', username='{USER}')\n"
        f"asyncio.run(Publisher(ShowingFeed(), mqtt, '{PASSWORD}', 0, print).run())\n"
    )
    killed = subprocess.Popen(
        [sys.executable, program], cwd=Path(__file__).parents[2], stdout=subprocess.DEVNULL
    )
    try:
        async with hearing(broker) as heard:
            await soon(lambda: (heard.last("van/here") or {}).get("here"), 30, "it is here")
            killed.kill()
            await soon(lambda: heard.last("van/here") == {"here": False}, 20, "the last will")
    finally:
        killed.kill()
        killed.wait()


async def test_a_wrong_password_is_one_line_without_it(broker: Broker) -> None:
    await broker.start()
    said = list[str]()
    async with publishing(ShowingFeed(), broker, said, password="wrong-77"):
        await soon(lambda: said, 20, "it is told")
    assert len(said) == 1
    assert "wrong-77" not in said[0]
    assert "\n" not in said[0]
