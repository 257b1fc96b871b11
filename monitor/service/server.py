"""The socket of a running feed: whoever may open it sees the same, and may give commands.

A snapshot is built and written once for all who watch, and not at all while nobody does. Each
client has room for one snapshot (a newer takes the place of one that was not sent yet) and a few
answers; a client that takes nothing for some seconds is dropped, so that one that hangs costs
nothing. Events are never pushed and so never lost: a client sees from the snapshot that there are
newer ones, and asks for them by number.

The socket is for its owner and group (0660). Who gives a command is told by the kernel (peer
credentials), never by the client.
"""

from __future__ import annotations

import asyncio
import contextlib
import os
import pwd
import socket
import struct
from collections import deque
from collections.abc import AsyncIterator, Callable
from pathlib import Path
from typing import Final, Protocol

from adapters.reading import Action, Command
from monitor.bank import Site
from monitor.engine.outlook import Outlook
from monitor.engine.parts import Part
from monitor.engine.said import Said
from monitor.engine.snapshot import Event, Snapshot
from monitor.link_counts import LinkCount
from monitor.mishaps import Refusal
from monitor.service import wire
from monitor.service.places import LONGEST_PATH, make_folder
from monitor.trend import Trend

#: A client that takes nothing for so long is dropped (our choice: a phone's radio may sleep for a
#: second or two).
WRITE_SECONDS: Final = 5.0
#: Answers that may wait for one client; more outstanding requests are no watcher's.
MOST_WAITING: Final = 32
#: Clients at once (our choice); each costs a task and some kilobytes.
MOST_CLIENTS: Final = 32
#: Columns of a chart: wider than any terminal.
MOST_COLUMNS: Final = 1000
#: A window of the trend in seconds: as much as the trend keeps.
LONGEST_WINDOW: Final = 31 * 86_400.0

#: Commands that only the tool itself gives.
_OWN: Final = frozenset({Action.POLL_PERIOD})


def _unsaid(words: str) -> None:
    del words


class Served(Protocol):
    """The feed, as far as it is needed here."""

    site: Site

    def snapshots(self) -> AsyncIterator[Snapshot]: ...
    def events(self, since: int) -> tuple[Event, ...]: ...
    def trend(self, bank: str, window_seconds: float, columns: int) -> Trend: ...
    def explain(self, bank: str) -> tuple[Part, ...]: ...
    def outlook(self, bank: str) -> Outlook | None: ...
    def said(self, bank: str) -> tuple[Said, ...]: ...
    def link_counts(self) -> tuple[LinkCount, ...]: ...
    def send(self, command: Command) -> None: ...


class Server:
    """Serves `feed` at `path`. `greeting` is the hello of all; `say` takes a line for the log."""

    def __init__(
        self,
        feed: Served,
        path: Path,
        greeting: bytes,
        say: Callable[[str], None] = _unsaid,
        *,
        write_seconds: float = WRITE_SECONDS,
    ) -> None:
        self.path = path
        self.feed, self.say = feed, say
        self.write_seconds = write_seconds
        self._greeting = greeting
        self._clients: dict[Client, asyncio.Task[None]] = {}
        self._watched = asyncio.Event()
        self._server: asyncio.Server | None = None
        self._publishing: asyncio.Task[None] | None = None
        self._inode = 0

    @property
    def clients(self) -> int:
        return len(self._clients)

    async def open(self) -> None:
        """Listen; `Refusal` in one line where that cannot be."""
        listening = _listening(self.path)
        self._inode = self.path.stat().st_ino
        self._server = await asyncio.start_unix_server(
            self._connected, sock=listening, limit=wire.LONGEST_LINE
        )
        self._publishing = asyncio.create_task(self._publish())

    async def close(self, last_words: str = "") -> None:
        """Tell everybody that this is the end, let them go and wait for every task."""
        if self._server is not None:
            self._server.close()
        if self._publishing is not None:
            self._publishing.cancel()
            await asyncio.gather(self._publishing, return_exceptions=True)
        tasks = list(self._clients.values())
        for client in tuple(self._clients):
            client.end(wire.line(wire.Ended(last_words)))
        if tasks:
            _, late = await asyncio.wait(tasks, timeout=0.5)
            for task in late:
                task.cancel()
            await asyncio.gather(*late, return_exceptions=True)
        with contextlib.suppress(OSError):
            if self.path.stat().st_ino == self._inode:  # never one that a successor made
                self.path.unlink()

    def _connected(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        if len(self._clients) >= MOST_CLIENTS:
            self.say(f"a client was turned away: {MOST_CLIENTS} are here already")
            writer.transport.abort()
            return
        client = Client(self, reader, writer)
        task = asyncio.create_task(client.serve(self._greeting))
        self._clients[client] = task
        task.add_done_callback(lambda _: self._gone(client))

    def _gone(self, client: Client) -> None:
        self._clients.pop(client, None)
        self.watch_changed()

    def watch_changed(self) -> None:
        """Somebody began or ceased to watch."""
        if any(client.watching for client in self._clients):
            self._watched.set()
        else:
            self._watched.clear()

    async def _publish(self) -> None:
        """Every snapshot to everybody who watches; none is built while nobody does."""
        while True:
            await self._watched.wait()
            snapshots = self.feed.snapshots()
            try:
                async for snapshot in snapshots:
                    if not self._watched.is_set():
                        break
                    news = wire.line(wire.News(snapshot))
                    for client in self._clients:
                        client.show(news)
                else:
                    return  # the feed has ended
            finally:
                if hasattr(snapshots, "aclose"):
                    await snapshots.aclose()

    def snapshot_for(self, client: Client) -> None:
        """The first snapshot of somebody who begins to watch."""
        look = getattr(self.feed, "snapshot", None)
        if look is not None:
            client.show(wire.line(wire.News(look())))


class Client:
    """One connection."""

    def __init__(
        self, server: Server, reader: asyncio.StreamReader, writer: asyncio.StreamWriter
    ) -> None:
        self._server, self._reader, self._writer = server, reader, writer
        self.watching = False
        self.who = _peer(writer.get_extra_info("socket"))
        self._look_only = False
        self._answers: deque[bytes] = deque()
        self._news: bytes | None = None
        self._wake = asyncio.Event()
        self._ending = False

    async def serve(self, greeting: bytes) -> None:
        """Until either side ends; never raises."""
        # Nothing waits in the process beyond the line that is being sent.
        self._writer.transport.set_write_buffer_limits(high=0)
        self._answer(greeting)
        tasks = [asyncio.create_task(self._read()), asyncio.create_task(self._write())]
        try:
            await asyncio.wait(tasks, return_when=asyncio.FIRST_COMPLETED)
        finally:
            for task in tasks:
                task.cancel()
            await asyncio.gather(*tasks, return_exceptions=True)
            self._writer.transport.abort()

    def show(self, news: bytes) -> None:
        if self.watching:
            self._news = news
            self._wake.set()

    def end(self, last: bytes) -> None:
        self._answers.append(last)
        self._ending = True
        self._wake.set()

    def _answer(self, data: bytes) -> None:
        self._answers.append(data)
        self._wake.set()

    async def _write(self) -> None:
        while True:
            await self._wake.wait()
            self._wake.clear()
            lines = list(self._answers)
            self._answers.clear()
            if self._news is not None:
                lines.append(self._news)
                self._news = None
            ending = self._ending
            try:
                async with asyncio.timeout(self._server.write_seconds):
                    self._writer.write(b"".join(lines))
                    await self._writer.drain()
            except TimeoutError:
                self._server.say(f"a client of {self.who} takes nothing any more; dropped")
                return
            except OSError:
                return
            if ending:
                return

    async def _read(self) -> None:
        while True:
            try:
                data = await self._reader.readline()
            except OSError:
                return  # it hung up with something still unread, as `now` does
            except ValueError:
                self._server.say(f"a client of {self.who} sent a line without end; dropped")
                return
            if not data:
                return
            if len(self._answers) >= MOST_WAITING:
                self._server.say(f"a client of {self.who} asks without listening; dropped")
                return
            try:
                request = wire.from_client(data)
            except wire.WireError as error:
                self._answer(wire.line(wire.Refused(0, str(error))))
                continue
            self._heed(request)

    def _heed(self, request: wire.FromClient) -> None:
        if isinstance(request, wire.Watch):
            self._look_only |= request.look_only
            self.watching = True
            self._server.snapshot_for(self)
            self._server.watch_changed()
            return
        try:
            answer: wire.Answer = self._answered(request)
        except KeyError:
            answer = wire.Refused(request.to, "there is no such bank")
        except ValueError as error:
            answer = wire.Refused(request.to, str(error))
        self._answer(wire.line(answer))

    def _answered(self, question: wire.Question) -> wire.Answer:
        feed = self._server.feed
        match question:
            case wire.Events(to, since):
                return wire.EventPage(to, feed.events(since)[: wire.PAGE])
            case wire.AskTrend(to, bank, window, columns):
                if not (0 < columns <= MOST_COLUMNS and 0 < window <= LONGEST_WINDOW):
                    raise ValueError(f"a trend of {window:g} s in {columns} columns is not kept")
                return wire.TrendTold(to, feed.trend(bank, window, columns))
            case wire.Explain(to, bank):
                return wire.Explained(to, feed.explain(bank))
            case wire.Foresee(to, bank):
                return wire.Foreseen(to, feed.outlook(bank))
            case wire.AskSaid(to, bank):
                return wire.SaidTold(to, feed.said(bank))
            case wire.AskCounts(to):
                return wire.Counts(to, feed.link_counts())
            case wire.Do(to, action, target, note):
                self._do(action, target, note)
                return wire.Done(to)

    def _do(self, action: Action, target: str, note: str) -> None:
        if self._look_only:
            raise ValueError("this screen only looks; give commands from a terminal")
        if action in _OWN:
            raise ValueError(f"{action} is for the tool itself")
        if len(target) > wire.LONGEST_WORDS or len(note) > wire.LONGEST_WORDS:
            raise ValueError(f"expected at most {wire.LONGEST_WORDS} letters")
        words = "".join(sign if sign.isprintable() else " " for sign in note)
        self._server.feed.send(Command(0.0, self.who, action, target, words))


def _peer(peer: socket.socket) -> str:
    """The user at the other end, as the kernel tells it."""
    _, uid, _ = struct.unpack(
        "3i", peer.getsockopt(socket.SOL_SOCKET, socket.SO_PEERCRED, struct.calcsize("3i"))
    )
    try:
        return pwd.getpwuid(uid).pw_name
    except KeyError:
        return f"user {uid}"


def _listening(path: Path) -> socket.socket:
    """A listening socket; one that a killed service left behind is put out of the way."""
    if len(os.fsencode(path)) > LONGEST_PATH:
        raise Refusal(f"{path}: too long for a socket, at most {LONGEST_PATH} bytes; use --socket")
    make_folder(path.parent)
    if _answers(path):
        raise Refusal(f"{path}: another service listens there; give this one a --socket of its own")
    if path.exists() and not path.is_socket():
        raise Refusal(f"{path}: expected a socket or nothing, found a file; name another")
    path.unlink(missing_ok=True)
    made = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
    before = os.umask(0o117)  # made as 0660: never open to others, not even for a moment
    try:
        made.bind(str(path))
    except OSError:
        made.close()
        raise
    finally:
        os.umask(before)
    made.setblocking(False)
    return made


def _answers(path: Path) -> bool:
    with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as tried:
        tried.settimeout(1.0)
        try:
            tried.connect(str(path))
        except OSError:
            return False
        return True
