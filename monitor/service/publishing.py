"""What the service sees, published to an MQTT broker (MQTT 5, OASIS standard).

    NAME/here          retained: {"here": true, "at": ...}, again and again as a sign of life; the
                       broker itself says {"here": false} when the connection is lost (last will)
    NAME/banks/BANK    retained: how one bank is
    NAME/alarms        retained: the alarms that stand, worst first
    NAME/events        each event once it happened (QoS 1)

Payloads are JSON with units in the names; figures that are not known are null. Positive current
flows into the bank; fractions are 0 to 1. Times are ISO 8601, null while the clock is not set.

Nothing waits here: what was not delivered is fetched again from the feed, by number, and no more
than the newest `MOST_EVENTS`; a gap in the numbers tells that some are lost. A broker acknowledges
what it has received, not what it has stored.
"""

from __future__ import annotations

import asyncio
import json
import ssl
from collections.abc import AsyncIterator, Callable
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any, Final, Protocol

from adapters.extras import install
from monitor.config_mqtt import Mqtt
from monitor.engine.as_of import missing
from monitor.engine.snapshot import AlarmView, BankView, Event, EventKind, Snapshot
from monitor.mishaps import Refusal

if TYPE_CHECKING:
    import aiomqtt

#: Events that may still be told after the broker was away (our choice): a bad day's worth.
MOST_EVENTS: Final = 500
#: Waits before calling again (common practice).
FIRST_WAIT_SECONDS: Final = 1.0
LONGEST_WAIT_SECONDS: Final = 60.0
#: How often it is looked for events; what takes a broker longer to take in is an error.
LOOK_SECONDS: Final = 1.0
ANSWER_SECONDS: Final = 10.0

#: What makes the state worth telling at once.
_AT_ONCE: Final = frozenset({EventKind.ALARM, EventKind.STAGE, EventKind.LINK})


class Seen(Protocol):
    """The feed, as far as it is needed here."""

    def snapshot(self) -> Snapshot: ...
    def snapshots(self) -> AsyncIterator[Snapshot]: ...
    def events(self, since: int) -> tuple[Event, ...]: ...


def needs_mqtt() -> None:
    """`Refusal` in one line where the library is not installed."""
    try:
        import aiomqtt  # noqa: F401
    except ImportError:
        raise Refusal(
            f"[mqtt] needs a library that is not installed; install it with: {install('mqtt')}"
        ) from None


class Publisher:
    """Publishes a feed. `since` is the number of the last event that is not to be told; `say` takes
    a line for the log, at each change of fortune; `told` is the last event that was delivered."""

    def __init__(
        self,
        feed: Seen,
        mqtt: Mqtt,
        password: str | None,
        since: int,
        say: Callable[[str], None],
        *,
        look_seconds: float = LOOK_SECONDS,
        first_wait_seconds: float = FIRST_WAIT_SECONDS,
    ) -> None:
        self._feed, self._mqtt, self._password = feed, mqtt, password
        self.told = since
        self._say = say
        self._look_seconds, self._first_wait = look_seconds, first_wait_seconds
        self._trouble = ""

    async def run(self) -> None:
        """Until cancelled: be connected, and call again whenever that ends."""
        import aiomqtt

        wait = self._first_wait
        while True:
            try:
                async with self._client() as client:
                    self._speak("")
                    wait = self._first_wait
                    await self._publish(client)
            except (aiomqtt.MqttError, OSError, ValueError) as error:
                self._speak(" ".join(str(error).split()) or type(error).__name__)
            await asyncio.sleep(wait)
            wait = min(2.0 * wait, LONGEST_WAIT_SECONDS)

    def _client(self) -> aiomqtt.Client:
        import aiomqtt

        mqtt = self._mqtt
        return aiomqtt.Client(
            mqtt.host,
            mqtt.port,
            username=mqtt.username,
            password=self._password,
            protocol=aiomqtt.ProtocolVersion.V5,
            will=aiomqtt.Will(f"{mqtt.name}/here", _text({"here": False}), qos=1, retain=True),
            timeout=ANSWER_SECONDS,
            keepalive=max(5, round(mqtt.every_seconds)),
            tls_context=ssl.create_default_context() if mqtt.tls else None,
        )

    def _speak(self, trouble: str) -> None:
        """A line when the broker goes and when it is back, never one a minute."""
        broker = f"broker {self._mqtt.host}:{self._mqtt.port}"
        if trouble and not self._trouble:
            self._say(f"{broker}: {trouble}; calling again")
        elif not trouble:
            self._say(f"{broker}: connected")
        self._trouble = trouble

    async def _publish(self, client: aiomqtt.Client) -> None:
        loop = asyncio.get_running_loop()
        due = loop.time()
        try:
            while True:
                news = await self._tell_events(client)
                if news or loop.time() >= due:
                    due = loop.time() + self._mqtt.every_seconds
                    await self._tell_state(client)
                await asyncio.sleep(self._look_seconds)
        except asyncio.CancelledError:
            # Told to end: the broker need not find out by itself.
            gone = _text({"here": False})
            await client.publish(f"{self._mqtt.name}/here", gone, qos=1, retain=True, timeout=1.0)
            raise

    async def _tell_events(self, client: aiomqtt.Client) -> bool:
        """What happened since; whether any of it changes the state that others see."""
        events = self._feed.events(self.told)[-MOST_EVENTS:]
        if not events:
            return False
        offset = self._feed.snapshot().wall_offset
        for event in events:
            await client.publish(
                f"{self._mqtt.name}/events", _text(event_payload(event, offset)), qos=1
            )
            self.told = event.number
        return any(event.kind in _AT_ONCE for event in events)

    async def _tell_state(self, client: aiomqtt.Client) -> None:
        snapshot = self._feed.snapshot()
        name = self._mqtt.name
        at = moment(snapshot.seconds, snapshot.wall_offset)
        states: dict[str, object] = {
            f"{name}/banks/{bank.id}": bank_payload(bank, snapshot) for bank in snapshot.banks
        }
        states[f"{name}/alarms"] = [alarm_payload(each, snapshot) for each in snapshot.alarms]
        states[f"{name}/here"] = {"here": True, "at": at}
        for topic, state in states.items():
            await client.publish(topic, _text(state), qos=1, retain=True)


def bank_payload(bank: BankView, snapshot: Snapshot) -> dict[str, Any]:
    """How one bank is. Stage and charge are null while they are only known from before."""
    charge, forecast = bank.charge, bank.forecast
    known = missing(bank.volts, bank.amps) is None
    return {
        "at": moment(snapshot.seconds, snapshot.wall_offset),
        "volts": bank.volts.figure,
        "amps": bank.amps.figure,
        "celsius": bank.celsius.figure,
        "load_amps": bank.load_amps.figure,
        "stage": str(bank.stage.stage) if known else None,
        "stage_probability": bank.stage.probability if known else None,
        "stage_since": moment(bank.stage.since_seconds, snapshot.wall_offset) if known else None,
        "charged_fraction": charge.soc.figure if known else None,
        "charged_fraction_sd": charge.soc.sd if known else None,
        "seconds_to_full": forecast.to_full.seconds,
        "seconds_left": forecast.left.seconds,
    }


def alarm_payload(alarm: AlarmView, snapshot: Snapshot) -> dict[str, Any]:
    return {
        "name": alarm.name,
        "about": alarm.target,
        "state": str(alarm.state),
        "priority": alarm.priority.name.lower(),
        "since": moment(alarm.since_seconds, snapshot.wall_offset),
        "words": alarm.words,
        "first": alarm.first,
        "caution": alarm.caution,
    }


def event_payload(event: Event, offset: float | None) -> dict[str, Any]:
    return {
        "number": event.number,
        "at": moment(event.seconds, offset),
        "kind": str(event.kind),
        "name": event.name,
        "about": event.target,
        "priority": event.priority.name.lower(),
        "words": event.words,
    }


def moment(seconds: float, offset: float | None) -> str | None:
    """Feed time as UTC, to the second; None while the clock is not known."""
    if offset is None:
        return None
    return datetime.fromtimestamp(seconds + offset, UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def _text(payload: object) -> str:
    return json.dumps(payload, ensure_ascii=False, allow_nan=False)
