"""Every place where bytes of others come in, as a function of bytes.

Each takes what comes and may raise nothing: the errors made for people are caught here, where the
rest of the program catches them, and nothing else is.
"""

from __future__ import annotations

import asyncio
import contextlib
import json
import struct
import tempfile
from collections.abc import Callable
from pathlib import Path
from random import Random
from typing import NamedTuple

from adapters.adapter import LinkError, SettingsError, unheard
from adapters.description import load_text, shipped, shipped_text
from adapters.line_sets import LineSplitter, SetCollector
from adapters.modbus_link import Refused
from adapters.registers import ModbusDescription
from adapters.rvc.frames import message
from adapters.rvc.table import ATS, CHARGER, DC_SOURCE, INVERTER, SOLAR
from adapters.sunspec.models import models
from adapters.text_lines import LinesDescription
from monitor.config import ConfigError, parse_config
from replay.capture import CaptureError, open_capture
from replay.rows import RowError, from_row
from replay.sealed_lines import seal, unseal
from tests.adapters.faulty.bench import MAP, sentence_of
from tests.adapters.rvc.test_heard import listener
from tests.adapters.sunspec.images import device_image, random_model
from tests.adapters.sunspec.test_faults import adapter_on

Feed = Callable[[bytes], None]


class Parser(NamedTuple):
    """`make` gives a fresh feed; `samples` are sound bytes to begin from."""

    name: str
    make: Callable[[], Feed]
    samples: tuple[bytes, ...]


def _lines(name: str) -> Parser:
    """A shipped description of text lines, the device joined in mid-stream."""
    description = load_text(shipped_text(name), name)
    assert isinstance(description, LinesDescription)

    def make() -> Feed:
        splitter = LineSplitter(description.longest_line, joining=True)
        collector = SetCollector(description, 1.0)
        clock = [0.0]

        def feed(data: bytes) -> None:
            for line in splitter.feed(data):
                clock[0] += 0.1
                decoded = collector.feed(line, clock[0])
                if decoded is not None:
                    dict(decoded.figures)
            collector.missing()

        return feed

    comments = (line.removeprefix("#").strip() for line in shipped_text(name).splitlines())
    samples = tuple(line.encode() + b"\r\n" for line in comments if any(c.isdigit() for c in line))
    nested = b'{"a":' * 80 + b"1" + b"}" * 80 + b"\n"
    return Parser(name, make, (*samples, nested, b"[" * 900 + b"\n", sentence_of(5)))


def _registers() -> Parser:
    described = [
        load_text(shipped_text("modbus-template.toml"), "t"),
        load_text(MAP.format(period=1), "m"),
    ]

    def make() -> Feed:
        def feed(data: bytes) -> None:
            words = struct.unpack(f">{len(data) // 2}H", data[: len(data) // 2 * 2])
            for start in (0, 10, 300):
                image = {
                    (t, start + at): w for t in ("holding", "input") for at, w in enumerate(words)
                }
                for description in described:
                    assert isinstance(description, ModbusDescription)
                    decoded = description.decode(image)
                    description.encode(decoded.figures)

        return feed

    return Parser("registers", make, (struct.pack(">32H", *range(1240, 1272)), b"\xff" * 64))


def _modbus_wire() -> Parser:
    """Bytes from the line into the Modbus library as we guard it."""
    from pymodbus.client import AsyncModbusTcpClient

    from adapters import modbus_link

    loop = asyncio.new_event_loop()

    def make() -> Feed:
        async def client() -> AsyncModbusTcpClient:
            made = AsyncModbusTcpClient("127.0.0.1", port=1, reconnect_delay=0, retries=0)
            modbus_link._guard(made, unheard)
            return made

        made = loop.run_until_complete(client())

        def feed(data: bytes) -> None:
            made.ctx.data_received(data)
            made.ctx.recv_buffer = made.ctx.recv_buffer[-65536:]

        return feed

    answer = struct.pack(">HHHBBB3H", 1, 0, 9, 1, 3, 6, 1342, 65000, 21)
    return Parser("modbus wire", make, (answer, b"HTTP/1.1 400 Bad Request\r\n\r\n", bytes(20)))


def _sunspec() -> Parser:
    random = Random(7)
    numbers = sorted(models())
    images = [
        device_image(*(random_model(random, number) for number in random.choices(numbers, k=3)))
        for _ in range(6)
    ]

    def packed(image: dict[int, int]) -> bytes:
        last = max(image)
        return struct.pack(
            f">{last - 39_999}H", *(image.get(at, 0) for at in range(40_000, last + 1))
        )

    def make() -> Feed:
        def feed(data: bytes) -> None:
            words = struct.unpack(f">{len(data) // 2}H", data[: len(data) // 2 * 2])

            def read(address: int, count: int) -> list[int]:
                at = address - 40_000
                if not 0 <= at <= at + count <= len(words):
                    raise Refused(2)
                return list(words[at : at + count])

            async def life() -> None:
                adapter = adapter_on(read)
                for step in (adapter.open, adapter.poll, adapter.poll, adapter.close):
                    with contextlib.suppress(LinkError):
                        await step()

            asyncio.run(life())

        return feed

    return Parser("sunspec", make, tuple(packed(image) for image in images))


def _rvc() -> Parser:
    def make() -> Feed:
        heard = listener(DC_SOURCE, CHARGER, INVERTER, ATS, SOLAR)
        clock = [0.0]

        def feed(data: bytes) -> None:
            for at in range(0, len(data), 13):
                frame = data[at : at + 13]
                clock[0] += 0.01
                said = message(int.from_bytes(frame[:4], "big"), frame[4:])
                if said is not None:
                    heard.take(said, clock[0])
            heard.figures(clock[0])
            str(heard.missing)

        return feed

    frames = b"".join(
        struct.pack(">I", 6 << 26 | dgn << 8 | 70) + b"\x01" + bytes(8)
        for dgn in (0x1FFFD, 0x1FFFC, 0x1FEC8, 0x1FFC7, 0x1FEB3, 0x1FFCA)
    )
    return Parser("rv-c frames", make, (frames,))


def _rows() -> Parser:
    """Lines of a capture that prove themselves and say anything at all, and those that do not."""

    def make() -> Feed:
        def feed(data: bytes) -> None:
            for line in data.split(b"\n"):
                unseal(line)
                with contextlib.suppress(ValueError, RecursionError):
                    row = json.loads(line)
                    if isinstance(row, dict):
                        sealed = unseal(seal(1, row)[:-1])
                        if sealed is not None:
                            with contextlib.suppress(RowError):
                                from_row(sealed[1])

        return feed

    rows = (
        b'{"n":8,"k":[["charger","source_volts",25.02]]}',  # found by the guided fuzzer
        b'{"k":"r","t":1' + b"0" * 400 + b',"d":"shunt","v":[]}',
        b'{"k":"r","s":1.5,"d":"shunt","v":[["house","bank_volts",12.6]]}',
        b'{"kind":"reading","seconds":1.5,"device":"shunt","values":{"house/bank_volts":12.6}}',
        b'{"kind":"tick","seconds":1e308,"wall_offset":null}',
    )
    return Parser("capture rows", make, (*rows, *_capture_lines()))


def _capture_lines() -> tuple[bytes, ...]:
    folder = Path(__file__).parents[3] / "replay" / "captures"
    import gzip

    with gzip.open(sorted(folder.glob("*.gz"))[0]) as file:
        lines = [file.readline() for _ in range(400)]
    return tuple(line[: line.rindex(b',"crc"')] + b"}" for line in lines[1:] if b',"crc"' in line)


def _capture_files() -> Parser:
    folder = Path(__file__).parents[3] / "replay" / "captures"
    whole = sorted(folder.glob("*.gz"))[0].read_bytes()
    import gzip

    plain = gzip.decompress(whole[:200_000] if len(whole) < 200_000 else whole)[:30_000]

    def make() -> Feed:
        path = Path(tempfile.mkdtemp()) / "a.capture"

        def feed(data: bytes) -> None:
            path.write_bytes(data)
            with contextlib.suppress(CaptureError):
                capture = open_capture(path)
                for _ in capture.inputs():
                    pass

        return feed

    return Parser("capture files", make, (plain, gzip.compress(plain), plain[:5000]))


def _descriptions() -> Parser:
    texts = tuple(shipped_text(name).encode() for name in shipped())

    def make() -> Feed:
        def feed(data: bytes) -> None:
            with contextlib.suppress(SettingsError):
                load_text(data.decode("utf-8", "replace"), "fuzzed.toml")

        return feed

    return Parser("descriptions", make, texts)


def _configs() -> Parser:
    config = b"""[site]
latitude = 44.1
longitude = -110.6
[banks.house]
chemistry = "flooded"
nominal_volts = 12
amp_hours = 200
lowest_soc = 0.5
[banks.house.set_points]
absorption = 14.4
compensation_celsius = [0, 50]
[sources.shore]
kind = "ac-charger"
[devices.shunt]
adapter = "modbus-rtu"
port = "/dev/x"
[computer]
watts = 5
[notify]
command = ["a"]
"""

    def make() -> Feed:
        def feed(data: bytes) -> None:
            with contextlib.suppress(ConfigError):
                parse_config(data.decode("utf-8", "replace"), "fuzzed.toml", {})

        return feed

    return Parser("configurations", make, (config,))


def parsers() -> tuple[Parser, ...]:
    texts = [name for name in shipped() if name.startswith("serial")]
    return (
        *(_lines(name) for name in texts),
        _registers(),
        _modbus_wire(),
        _sunspec(),
        _rvc(),
        _rows(),
        _capture_files(),
        _descriptions(),
        _configs(),
    )
