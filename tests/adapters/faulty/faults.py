"""What goes wrong, as a table: on which wire, how, what must be seen, in which words.

Rows follow the list of measured faults of a Modbus library (section 1.3 of this project's notes
on protocols) and what real wiring does. `VALUE`: the right value goes on. `DOWN`: no value, and
the link is told down with a reason. `EITHER`: one of the two, never a wrong value.
"""

from __future__ import annotations

import asyncio
import random
import struct
from collections.abc import Awaitable, Callable
from dataclasses import replace
from typing import Final, NamedTuple

from tests.adapters.faulty.bench import Bench, Mangle, MangleText, words_of
from tests.adapters.faulty.wrong_baud import heard_at
from tests.adapters.scripted_device import Pty, Reply, Request, crc

VALUE, DOWN, EITHER = "value", "down", "value or down"
Act = Callable[[Bench], Awaitable[None]]


class Fault(NamedTuple):
    """`words` must stand in the reason where the link is told down. `idle`: nothing is plugged in
    meanwhile, and the reader must cost next to nothing."""

    name: str
    wire: str
    begin: Act
    end: Act
    expected: str
    words: str = ""
    idle: bool = False
    #: It begins so: the device is not there when the reader starts.
    at_first: bool = False


def _mangled(name: str, wire: str, how: Mangle, expected: str, words: str = "") -> Fault:
    """A fault of the answers."""

    async def begin(bench: Bench) -> None:
        bench.mangle = how

    async def end(bench: Bench) -> None:
        bench.mangle = None

    return Fault(name, wire, begin, end, expected, words)


def _told(name: str, how: MangleText, expected: str, words: str = "") -> Fault:
    """A fault of what a talking device writes."""

    async def begin(bench: Bench) -> None:
        bench.mangle_text = how

    async def end(bench: Bench) -> None:
        bench.mangle_text = None

    return Fault(name, "text", begin, end, expected, words)


def _raw(change: Callable[[bytes], bytes]) -> Mangle:
    """The whole RTU frame, changed."""

    def mangle(bench: Bench, request: Request, reply: Reply) -> Reply:
        return Reply(raw=change(bench.frame(request, reply)))

    return mangle


def _fixed(**changes: object) -> Mangle:
    return lambda _, __, reply: replace(reply, **changes)  # type: ignore[arg-type]


def _noise(seed: int = 1) -> Callable[[bytes], bytes]:
    source = random.Random(seed)
    return lambda data: source.randbytes(len(data))


_TEXT_NOISE: Final = _noise(2)


def _slowly(bench: Bench, request: Request, reply: Reply) -> None:
    """One byte at a time, 5 ms apart (less where the time limit is short)."""
    loop, gap = asyncio.get_running_loop(), min(0.005, bench.timeout / 40)
    for index, byte in enumerate(bench.frame(request, reply)):
        loop.call_later(gap * (index + 1), bench.write, bytes([byte]))


def _late(bench: Bench, request: Request, reply: Reply) -> Reply | None:
    """Every second answer comes as the next request is already out."""
    if request.number % 2:
        return replace(reply, after_seconds=1.4 * bench.timeout)
    return reply


def _slower(share: float) -> Mangle:
    return lambda bench, _, reply: replace(reply, after_seconds=share * bench.timeout)


def _fewer(_: Bench, __: Request, reply: Reply) -> Reply:
    return replace(reply, words=(reply.words or [])[:2])


def _protocol(_: Bench, request: Request, reply: Reply) -> Reply:
    body = struct.pack(">BB3H", request.function, 6, *(reply.words or []))
    return Reply(raw=struct.pack(">HHHB", request.transaction, 7, len(body) + 1, 1) + body)


def _other_master(bench: Bench, request: Request, reply: Reply) -> Reply:
    """Another master asks the same device for other registers; its request and its answer are on
    the line before ours."""
    foreign = Request(0, request.device, 3, 40, 7)
    asked = struct.pack(">BBHH", foreign.device, 3, 40, 7)
    answer = bench.frame(foreign, Reply(words=[1, 2, 3, 4, 5, 6, 7]))
    return Reply(raw=asked + crc(asked) + answer + bench.frame(request, reply))


def _other_slave(bench: Bench, request: Request, reply: Reply) -> Reply:
    """An answer of the same size, of another device that another master asked."""
    other = Reply(words=words_of(bench.count + 50), device=9)
    return Reply(raw=bench.frame(request, other) + bench.frame(request, reply))


def _rtu_at_half_rate(data: bytes) -> bytes:
    return heard_at(data, 19_200, 9_600)


async def _unplug(bench: Bench) -> None:
    await bench.unplug()


async def _plug(bench: Bench) -> None:
    """Again, and under another name of the terminal: the old one is still held by somebody."""
    held = Pty() if bench.wire != "tcp" else None
    await bench.plug()
    if held is not None:
        bench.serving.callback(held.close)


async def _mid_frame(bench: Bench) -> None:
    """Unplugged when half an answer is out."""

    def half(bench: Bench, request: Request, reply: Reply) -> Reply:
        frame = bench.frame(request, reply)
        return Reply(raw=frame[: len(frame) // 2])

    bench.mangle = half
    before = bench.count
    while bench.count == before:
        await asyncio.sleep(0.005)
    await bench.unplug()


async def _plug_healthy(bench: Bench) -> None:
    bench.mangle = bench.mangle_text = None
    await _plug(bench)


class _HalfOpen:
    """The other side is gone without a word: what was connected is dead, what connects anew is
    answered."""

    async def begin(self, bench: Bench) -> None:
        bench.mangle = lambda *_: None

    async def end(self, bench: Bench) -> None:
        device = bench.device
        assert device is not None
        old = set(getattr(device, "_served", {}))

        def only_new(bench: Bench, request: Request, reply: Reply) -> Reply | None:
            del bench, request
            return None if asyncio.current_task() in old else reply

        bench.mangle = only_new


class _Locked:
    """Somebody else holds the port, with a lock, when the reader comes back."""

    async def begin(self, bench: Bench) -> None:
        import serial

        await bench.unplug()
        await bench.plug()
        assert bench.pty is not None
        self.other = serial.Serial(bench.pty.path, exclusive=True)

    async def end(self, bench: Bench) -> None:
        del bench
        self.other.close()


class _NotATerminal:
    async def begin(self, bench: Bench) -> None:
        await bench.unplug()
        bench.port.write_text("not a terminal")

    async def end(self, bench: Bench) -> None:
        bench.port.unlink()
        await bench.plug()


_not_a_terminal, _half_open = _NotATerminal(), _HalfOpen()


def _port_held(wire: str) -> Fault:
    locked = _Locked()
    words = "in use"
    return Fault("port held by another program", wire, locked.begin, locked.end, DOWN, words)


OTHER_TALKER: Final = b"$TANKS,40,75*" + b"4C\r\n"
BOOT: Final = b"\x00\x00boot v1.3\r\nram ok, 48 kB\r\nstarting\r\n\xff\xfe"

#: Garbage that a device writes whenever it is asked while it starts.
_boot_modbus: Mangle = lambda *_: Reply(raw=BOOT)  # noqa: E731 (a row of a table)

NO_ANSWER, MISFIT = "gave no answer within", "a reply that does not fit"

FAULTS: Final[tuple[Fault, ...]] = (
    _mangled("no answer", "rtu", lambda *_: None, DOWN, NO_ANSWER),
    _mangled("no answer", "tcp", lambda *_: None, DOWN, NO_ANSWER),
    _mangled("answer cut short", "rtu", _raw(lambda frame: frame[:-3]), DOWN, NO_ANSWER),
    _mangled("wrong check", "rtu", _raw(lambda f: f[:-1] + bytes([f[-1] ^ 1])), DOWN, NO_ANSWER),
    _mangled("a bit flipped in a figure", "rtu",
             _raw(lambda f: f[:4] + bytes([f[4] ^ 8]) + f[5:]), DOWN, NO_ANSWER),
    _mangled("noise instead of an answer", "rtu", _raw(_noise()), DOWN, NO_ANSWER),
    _mangled("garbage before the answer", "rtu", _raw(lambda f: b"\x7f\x13\x00" + f), EITHER),
    _mangled("garbage after the answer", "rtu", _raw(lambda f: f + b"\x13\x7f"), EITHER),
    _mangled("a byte at a time", "rtu", _slowly, VALUE),
    _mangled("slow, within the limit", "rtu", _slower(0.6), VALUE),
    _mangled("slow, beyond the limit", "rtu", _slower(1.5), DOWN, NO_ANSWER),
    _mangled("every second answer late", "rtu", _late, EITHER),
    _mangled("every second answer late", "tcp", _late, EITHER),
    _mangled("answer of another device", "rtu", _fixed(device=9), DOWN, ""),
    _mangled("answer of another function", "rtu", _fixed(function=4), DOWN, MISFIT),
    _mangled("answer of another function", "tcp", _fixed(function=4), DOWN, MISFIT),
    _mangled("fewer registers than asked", "rtu", _fewer, DOWN, MISFIT),
    _mangled("fewer registers than asked", "tcp", _fewer, DOWN, MISFIT),
    *(_mangled(f"exception {code}", "tcp", _fixed(exception=code), DOWN, f"exception {code}")
      for code in (1, 2, 3, 4, 6, 11)),
    _mangled("exception 4", "rtu", _fixed(exception=4), DOWN, "exception 4"),
    _mangled("wrong transaction number", "tcp",
             lambda _, request, reply: replace(reply, transaction=request.transaction + 9), DOWN),
    _mangled("transaction number 0", "tcp", _fixed(transaction=0), DOWN, ""),
    _mangled("wrong protocol number", "tcp", _protocol, DOWN, NO_ANSWER),
    _mangled("a web server answers", "tcp",
             _fixed(raw=b"HTTP/1.1 400 Bad Request\r\n\r\n"), DOWN, ""),
    _mangled("connection closed at each request", "tcp", lambda *_: "hang up", DOWN, "closed"),
    _mangled("NUL flood", "rtu", _raw(lambda _: bytes(600)), DOWN, NO_ANSWER),
    _mangled("the device starts anew, talking", "rtu", _boot_modbus, DOWN, NO_ANSWER),
    _mangled("wrong baud rate", "rtu", _raw(_rtu_at_half_rate), DOWN, NO_ANSWER),
    _mangled("a second master, other registers", "rtu", _other_master, EITHER),
    _mangled("a second master, other device", "rtu", _other_slave, EITHER),
    Fault("half-open connection", "tcp", _half_open.begin, _half_open.end, DOWN, NO_ANSWER),
    Fault("server gone and back", "tcp", _unplug, _plug, DOWN, "refuses", idle=True),
    Fault("unplugged, back under another name", "rtu", _unplug, _plug, DOWN, "no such port",
          idle=True),
    *(Fault("not there at the start", wire, _unplug, _plug, DOWN, words, at_first=True)
      for wire, words in (("rtu", "no such port"), ("tcp", "refuses"), ("text", "no such port"))),
    Fault("unplugged in mid-answer", "rtu", _mid_frame, _plug_healthy, DOWN, "no such port"),
    _port_held("rtu"),
    Fault("the port is a file", "rtu", _not_a_terminal.begin, _not_a_terminal.end, DOWN, ""),
    _told("nothing comes", lambda *_: b"", DOWN, "nothing comes within"),
    _told("line cut short", lambda _, data: data[:-6] + b"\r\n", DOWN, "no line as"),
    _told("wrong check", lambda _, data: data.replace(b"1", b"2", 1), DOWN, "no line as"),
    _told("noise", lambda _, data: _TEXT_NOISE(data), DOWN, "no line as"),
    _told("noise between lines", lambda _, data: b"\x13\x7f\x00\xf0\r\n" + data, VALUE),
    _told("NUL flood", lambda *_: bytes(300), DOWN, "no line as"),
    _told("a line without an end", lambda *_: b"x" * 300, DOWN, "no line as"),
    _told("wrong baud rate", lambda _, data: heard_at(data, 19_200, 9_600), DOWN, ""),
    _told("wrong baud rate, too fast", lambda _, data: heard_at(data, 4_800, 9_600), DOWN, ""),
    _told("the device starts anew, talking", lambda *_: BOOT, DOWN, "no line as"),
    _told("two talkers on one line", lambda _, data: data[:9] + OTHER_TALKER + data[9:],
          EITHER),
    Fault("unplugged, back under another name", "text", _unplug, _plug, DOWN, "no such port",
          idle=True),
    _port_held("text"),
)  # fmt: skip
