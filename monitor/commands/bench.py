"""`ampwright bench`: a recording served as a device on the wire."""

from __future__ import annotations

import argparse
import asyncio
import contextlib
import json
import signal
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Final

from monitor.commands.options import add_columns, rate
from monitor.mishaps import Refusal

if TYPE_CHECKING:
    from adapters.description import Description
    from replay.bench.serve import BenchSettings, Place

WIRES: Final = ("modbus-tcp", "modbus-rtu", "serial-lines")


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("file", type=Path, metavar="CAPTURE-OR-CSV")
    parser.add_argument(
        "--description",
        required=True,
        metavar="FILE",
        help='the device to be: a file, one of those that come with the program, or "sunspec"',
    )
    parser.add_argument(
        "--wire", choices=WIRES, default="", help="else as the description suggests"
    )
    parser.add_argument("--host", default="127.0.0.1", help="address to listen at (modbus-tcp)")
    parser.add_argument("--port", type=int, default=0, help="port to listen at, 0 takes a free one")
    parser.add_argument("--link", type=Path, metavar="PATH", help="lasting name of the serial line")
    parser.add_argument("--rate", type=rate, default=1.0, metavar="N")
    parser.add_argument(
        "--from", dest="seek", type=float, metavar="SECONDS", help="where in the recording to begin"
    )
    parser.add_argument("--loop", action="store_true", help="begin again at the end")
    parser.add_argument("--device", metavar="NAME", help="whose readings, where there are several")
    parser.add_argument("--of", metavar="BANK", help="whose figures, where there are several")
    parser.add_argument("--source", metavar="SOURCE", help="whose figures, where there are several")
    add_columns(parser)


def run(arguments: argparse.Namespace) -> int:
    from replay.bench.figures import BenchError, Chosen
    from replay.bench.serve import BenchSettings
    from replay.plain_csv import CsvOptions
    from replay.recording import open_recording

    recording = open_recording(arguments.file, CsvOptions(columns=arguments.columns))
    settings = BenchSettings(
        recording=recording,
        name=str(arguments.file),
        description=_description(arguments.description),
        wire=arguments.wire,
        chosen=Chosen(arguments.device, arguments.of, arguments.source),
        host=arguments.host,
        port=arguments.port,
        link=arguments.link,
        rate=arguments.rate,
        seek=arguments.seek,
        loop=arguments.loop,
    )
    try:
        asyncio.run(_serve(settings))
    except BenchError as error:
        raise Refusal(str(error)) from None
    return 0


def _description(name: str) -> Description:
    from adapters.description import load_text, shipped_text
    from monitor.config_devices import read_text
    from replay.bench.sunspec_device import sunspec_device

    path = Path(name)
    if name == "sunspec" and not path.exists():
        return sunspec_device()
    return load_text(read_text(path) if path.exists() else shipped_text(name), name)


async def _serve(settings: BenchSettings) -> None:
    """Serve until the recording ends or the program is told to stop."""
    from replay.bench.serve import serve

    serving = asyncio.create_task(serve(settings, _ready))
    loop = asyncio.get_running_loop()
    for number in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP):
        loop.add_signal_handler(number, serving.cancel)
    with contextlib.suppress(asyncio.CancelledError):
        await serving


def _ready(place: Place) -> None:
    """One line of JSON for programs on stdout, the rest for people on stderr."""
    print(place.as_json(), flush=True)
    for note in place.notes:
        print(note, file=sys.stderr)
    keys = "\n".join(f"{key} = {_toml(value)}" for key, value in place.options.items())
    print(
        f'serving; a configuration reaches it with:\nadapter = "{place.adapter}"\n{keys}\n'
        "end with Ctrl-C",
        file=sys.stderr,
        flush=True,
    )


def _toml(value: object) -> str:
    """An option as it stands in a configuration; JSON's texts and numbers are TOML's."""
    if isinstance(value, dict):
        return "{ " + ", ".join(f'"{key}" = {_toml(each)}' for key, each in value.items()) + " }"
    return json.dumps(value, ensure_ascii=False)
