"""What is said over the service's socket: one JSON object a line, both ways.

    service -> client   hello, then news (whole snapshots), answers, ended
    client -> service   watch, then questions and commands, each with a number of its own

A snapshot tells the number of the last event, so whoever missed some asks for them by number.
Both sides are this program: `hello` carries the version of the protocol and a print of the shape of
everything that is sent, and a client that does not know that shape says so in one line instead of
showing half of it.

The objects are the frozen dataclasses that the engine gives; msgspec writes and reads them by
their types (a snapshot in some 60 microseconds, a tenth of what building it costs).
"""

from __future__ import annotations

import dataclasses
import hashlib
import json
import typing
from collections.abc import Callable, Mapping
from typing import Any, Final

import msgspec

from adapters.reading import Action
from monitor.bank import Site
from monitor.engine.outlook import Outlook
from monitor.engine.parts import Part
from monitor.engine.said import Said
from monitor.engine.snapshot import Event, Snapshot
from monitor.link_counts import LinkCount
from monitor.trend import Trend

#: Changes when the messages below mean something else.
PROTOCOL: Final = 1
#: Longest line a client may send; what people write is far shorter.
LONGEST_LINE: Final = 16_384
#: Longest line a service sends: a page of events with all their evidence is some 500 kB.
LONGEST_NEWS: Final = 16 * 1024 * 1024
#: Events in one answer; whoever wants more asks again.
PAGE: Final = 500
#: Longest words of a command, as of an entry of the log.
LONGEST_WORDS: Final = 300


class WireError(Exception):
    """What came over the socket cannot be understood; one line, with what to do."""


class Message(msgspec.Struct, frozen=True, tag_field="say", tag=str.lower):
    """What all have in common: `say` names the kind."""


class Hello(Message, frozen=True):
    """The first line of a service. `site` stays raw until protocol and shape are known to fit."""

    protocol: int
    shape: str
    software: str
    pid: int
    since: float
    config: str
    site: msgspec.Raw = msgspec.Raw(b"null")


class News(Message, frozen=True):
    snapshot: Snapshot


class EventPage(Message, frozen=True):
    """Events by number, oldest first; fewer than asked for where there are very many."""

    to: int
    events: tuple[Event, ...]


class TrendTold(Message, frozen=True):
    to: int
    trend: Trend


class Explained(Message, frozen=True):
    to: int
    parts: tuple[Part, ...]


class Foreseen(Message, frozen=True):
    """What plans are made from; None before the first reading."""

    to: int
    outlook: Outlook | None


class SaidTold(Message, frozen=True):
    to: int
    values: tuple[Said, ...]


class Counts(Message, frozen=True):
    to: int
    counts: tuple[LinkCount, ...]


class Done(Message, frozen=True):
    to: int


class Refused(Message, frozen=True):
    """A request that could not be met; why, in one line."""

    to: int
    words: str


class Ended(Message, frozen=True):
    """The service ends. `last_words` where it was its own choice."""

    last_words: str = ""


class Watch(Message, frozen=True):
    """Send snapshots from now on. `look_only`: take no command from me."""

    look_only: bool = False


class Events(Message, frozen=True):
    to: int
    since: int


class AskTrend(Message, frozen=True):
    to: int
    bank: str
    window_seconds: float
    columns: int


class Explain(Message, frozen=True):
    to: int
    bank: str


class Foresee(Message, frozen=True):
    to: int
    bank: str


class AskSaid(Message, frozen=True):
    to: int
    bank: str


class AskCounts(Message, frozen=True):
    to: int


class Do(Message, frozen=True):
    """A command. Who gives it is known from the socket itself."""

    to: int
    action: Action
    target: str
    note: str = ""


Answer = EventPage | TrendTold | Explained | Foreseen | SaidTold | Counts | Done | Refused
Question = Events | AskTrend | Explain | Foresee | AskSaid | AskCounts | Do
FromService = Hello | News | Answer | Ended
FromClient = Watch | Question


def _plain(value: object) -> object:
    """What msgspec does not know: read-only mappings in the chemistry tables."""
    if isinstance(value, Mapping):
        return dict(value)
    raise NotImplementedError(f"cannot be sent: {type(value).__name__}")


_encoder: Final = msgspec.json.Encoder(enc_hook=_plain)
_service: Final[msgspec.json.Decoder[FromService]] = msgspec.json.Decoder(FromService)
_client: Final[msgspec.json.Decoder[FromClient]] = msgspec.json.Decoder(FromClient)
_site: Final = msgspec.json.Decoder(Site)


def line(message: Message) -> bytes:
    """A message as it goes over the wire."""
    return _encoder.encode(message) + b"\n"


def from_service(data: bytes) -> FromService:
    """What a service said; WireError where this program does not know it."""
    try:
        return _service.decode(data)
    except msgspec.MsgspecError as error:
        raise WireError(
            f"the service says something this program does not know ({error}); "
            "end both, update, and start the service first"
        ) from None


def from_client(data: bytes) -> FromClient:
    """What a client said; WireError where it is no request."""
    try:
        return _client.decode(data)
    except msgspec.MsgspecError as error:
        raise WireError(f"expected a request, found something else ({error})") from None


def hello(software: str, pid: int, since: float, config: str, site: Site) -> bytes:
    raw = msgspec.Raw(_encoder.encode(site))
    return line(Hello(PROTOCOL, SHAPE, software, pid, since, config, raw))


def site_of(greeting: Hello, ours: Callable[[], str]) -> Site:
    """The site of a service that speaks as this program does; WireError in one line otherwise.

    `ours` tells which program this is, asked only where they differ."""
    if (greeting.protocol, greeting.shape) != (PROTOCOL, SHAPE):
        raise WireError(
            f"the service is {greeting.software} and speaks protocol {greeting.protocol} "
            f"({greeting.shape}), this program is {ours()} and speaks {PROTOCOL} ({SHAPE}); "
            "restart the service so that both are the same"
        )
    try:
        return _site.decode(greeting.site)
    except msgspec.MsgspecError as error:
        raise WireError(f"the service's hello holds no site ({error}); update both") from None


def shape_of(*kinds: Any) -> str:
    """A print of all fields with their types, however deep: it changes when any of them does."""
    seen: dict[str, list[str]] = {}
    for kind in kinds:
        _describe(kind, seen)
    return hashlib.sha256(json.dumps(seen, sort_keys=True).encode()).hexdigest()[:12]


def _describe(kind: Any, seen: dict[str, list[str]]) -> None:
    for inner in typing.get_args(kind):
        _describe(inner, seen)
    if not isinstance(kind, type) or kind.__name__ in seen or not _has_fields(kind):
        return
    hints = typing.get_type_hints(kind)
    seen[kind.__name__] = [f"{name}: {hint}" for name, hint in hints.items()]
    for hint in hints.values():
        _describe(hint, seen)


def _has_fields(kind: type) -> bool:
    return (
        dataclasses.is_dataclass(kind)
        or hasattr(kind, "_fields")
        or issubclass(kind, msgspec.Struct)
    )


#: The shape of all that this program sends and understands.
SHAPE: Final = shape_of(FromService, FromClient, Site)
