"""Calling a service: the first words over its socket, without an event loop.

`call` is quick (it is what `now` and the start of `watch` wait for) and says in one line why there
is no answer.
"""

from __future__ import annotations

import contextlib
import socket
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from adapters.reading import Command
from monitor.bank import Site
from monitor.engine.outlook import Outlook
from monitor.engine.snapshot import Snapshot
from monitor.mishaps import Refusal
from monitor.service import wire
from monitor.service.places import LONGEST_PATH
from monitor.software import software

#: A service answers at once or hangs.
ANSWER_SECONDS: Final = 5.0


@dataclass(frozen=True, slots=True)
class Greeted:
    """A service that answered, and what it tells of."""

    path: Path
    hello: wire.Hello
    site: Site


def call(path: Path) -> Greeted:
    """Ask who is there; `Refusal` in one line where nobody is, or somebody else."""
    with _calling(path) as (_, greeted):
        return greeted


def look(path: Path) -> tuple[Greeted, Snapshot]:
    """One snapshot, and away."""
    with _calling(path) as (line, greeted):
        line.send(wire.line(wire.Watch(look_only=True)))
        while True:
            said = wire.from_service(line.read())
            if isinstance(said, wire.News):
                return greeted, said.snapshot


def foresee(path: Path, bank: str) -> tuple[Greeted, Snapshot, Outlook | None]:
    """One snapshot, and what plans of a bank are made from."""
    with _calling(path) as (line, greeted):
        line.send(wire.line(wire.Watch(look_only=True)) + wire.line(wire.Foresee(1, bank)))
        snapshot, answer = None, None
        while snapshot is None or answer is None:
            match wire.from_service(line.read()):
                case wire.News(news):
                    snapshot = news
                case wire.Foreseen() as told:
                    answer = told
                case wire.Refused(_, words):
                    raise Refusal(f"{path}: {words}")
                case _:
                    pass
        return greeted, snapshot, answer.outlook


def tell(path: Path, commands: Sequence[Command]) -> None:
    """Give commands, each acknowledged; `Refusal` in one line where one is refused."""
    with _calling(path) as (line, _):
        for number, each in enumerate(commands, start=1):
            line.send(wire.line(wire.Do(number, each.action, each.target, each.note)))
            answer = wire.from_service(line.read())
            if not isinstance(answer, wire.Done):
                raise Refusal(f"{path}: {getattr(answer, 'words', 'not taken')}")


class _Line:
    def __init__(self, connected: socket.socket) -> None:
        self._socket = connected
        self._file = connected.makefile("rb")

    def send(self, data: bytes) -> None:
        self._socket.sendall(data)

    def read(self) -> bytes:
        data = self._file.readline(wire.LONGEST_NEWS)
        if not data.endswith(b"\n"):
            raise OSError("it hung up")
        return data


@contextlib.contextmanager
def _calling(path: Path) -> Iterator[tuple[_Line, Greeted]]:
    if len(str(path).encode()) > LONGEST_PATH:
        raise Refusal(f"{path}: too long for a socket, at most {LONGEST_PATH} bytes")
    try:
        with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as connected:
            connected.settimeout(ANSWER_SECONDS)
            connected.connect(str(path))
            line = _Line(connected)
            yield line, greeted_by(path, line.read())
    except PermissionError:
        raise Refusal(
            f"{path}: not for this user; be a member of the socket's group, or of root"
        ) from None
    except TimeoutError:
        raise Refusal(
            f"{path}: the service does not answer within {ANSWER_SECONDS:g} s; restart it"
        ) from None
    except OSError as error:
        why = error.strerror or str(error)
        raise Refusal(
            f"{path}: no service there ({why.lower()}); start one with: ampwright serve"
        ) from None
    except wire.WireError as error:
        raise Refusal(f"{path}: {error}") from None


def greeted_by(path: Path, data: bytes) -> Greeted:
    """A service by its first line; WireError where it is none that this program understands."""
    said = wire.from_service(data)
    if not isinstance(said, wire.Hello):
        raise wire.WireError("expected a hello, found something else; is it another program's?")
    return Greeted(path, said, wire.site_of(said, software))
