"""The bench: a recording served as a device on the wire, so that adapters run with no hardware.

    recording ── player ── figures ── description.encode ── wire ── adapter under test

`serve` runs until the recording ends or it is cancelled. Once the device can be reached, `ready`
is called with what a config needs to reach it.
"""

from __future__ import annotations

import asyncio
import json
import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final, Protocol

from adapters.description import Description
from adapters.registers import ModbusDescription
from adapters.text_lines import LinesDescription
from replay.bench.figures import BenchError, Chosen, Figures
from replay.bench.lines_wire import LinesWire
from replay.bench.modbus_wire import ModbusImage, RtuWire, TcpWire
from replay.bench.sunspec_device import SunSpecDevice
from replay.player import Player
from replay.recording import Recording

#: Ways onto the wire, by the name of the adapter that reads them.
WIRES: Final = ("modbus-tcp", "modbus-rtu", "serial-lines")


@dataclass(frozen=True, slots=True)
class BenchSettings:
    """What to serve, and where.

    `wire` is one of `WIRES`; left out, it is TCP for a Modbus description. `port` 0 takes any
    free one. `link` is a lasting name for the pseudo-terminal. `seek` is seconds inside the
    recording to begin at, and to begin again at with `loop`.
    """

    recording: Recording
    description: Description
    wire: str = ""
    chosen: Chosen = field(default_factory=Chosen)
    host: str = "127.0.0.1"
    port: int = 0
    link: Path | None = None
    rate: float = 1.0
    seek: float | None = None
    #: What errors call the recording; empty: by its title.
    name: str = ""
    loop: bool = False


@dataclass(frozen=True, slots=True)
class Place:
    """Where the device can be reached: the adapter to use and its options, as in a config."""

    adapter: str
    options: Mapping[str, object]
    notes: tuple[str, ...] = ()

    def as_json(self) -> str:
        """One line for programs: the keys of a device in a config."""
        return json.dumps({"adapter": self.adapter, **self.options})


class Wire(Protocol):
    """One way to reach the device. `show` is called whenever figures may have changed."""

    @property
    def adapter(self) -> str: ...

    async def start(self) -> dict[str, object]: ...
    def show(self, figures: Figures) -> None: ...
    async def stop(self) -> None: ...


async def serve(settings: BenchSettings, ready: Callable[[Place], None]) -> None:
    """Serves until the recording ends, for ever with `loop`, or until cancelled.

    Raises `BenchError` (one line) where it cannot begin, `CaptureError` where the recording turns
    out to be damaged.
    """
    if math.isinf(settings.rate):
        raise BenchError("rate: max cannot be served on a wire; give a number, such as 60")
    description = settings.description
    name = settings.name or settings.recording.title
    player = Player(settings.recording, settings.rate)
    if settings.seek is not None and not player.start <= settings.seek <= player.end:
        raise BenchError(
            f"--from: expected seconds from {player.start:g} to {player.end:g}, as {name} has, "
            f"found {settings.seek:g}"
        )
    figures = Figures(settings.recording, description.measurands, settings.chosen, name)
    if settings.seek is not None:
        player.seek(settings.seek)
    wire, notes = _wire(settings, figures)
    loop = asyncio.get_running_loop()
    _take_due(player, figures, wire, loop.time())
    options = await wire.start()
    try:
        ready(_place(description, wire.adapter, options, notes))
        while True:
            await _play(player, figures, wire)
            # The last figures stand for as long as any others before all ends.
            await asyncio.sleep(description.period_seconds)
            if not settings.loop:
                return
            player.seek(player.start if settings.seek is None else settings.seek)
    finally:
        await wire.stop()


def _place(
    description: Description, adapter: str, options: dict[str, object], notes: tuple[str, ...]
) -> Place:
    """A SunSpec device is read by the adapter of the standard, and needs some words more."""
    if isinstance(description, SunSpecDevice):
        return Place("sunspec", {**options, **description.in_config}, notes)
    return Place(adapter, options, notes)


def _take_due(player: Player, figures: Figures, wire: Wire, now: float) -> None:
    changed = False
    while True:
        for value in player.due(now):
            changed |= figures.take(value)
        if not player.catching_up:
            break
    if changed:
        wire.show(figures)


async def _play(player: Player, figures: Figures, wire: Wire) -> None:
    loop = asyncio.get_running_loop()
    while not player.finished:
        _take_due(player, figures, wire, loop.time())
        await asyncio.sleep(player.wait_seconds() or 0.0)


def _wire(settings: BenchSettings, figures: Figures) -> tuple[Wire, tuple[str, ...]]:
    match settings.description, settings.wire:
        case LinesDescription() as lines, "" | "serial-lines":
            return LinesWire(lines, settings.link), ()
        case ModbusDescription() as modbus, "" | "modbus-tcp" | "modbus-rtu":
            image = ModbusImage(modbus, figures)
            notes = _notes(image, modbus.name)
            if settings.wire == "modbus-rtu":
                return RtuWire(image, modbus, settings.link), notes
            return TcpWire(image, modbus, settings.host, settings.port), notes
    kind = "lines" if isinstance(settings.description, LinesDescription) else "modbus"
    fitting = "serial-lines" if kind == "lines" else "modbus-tcp or modbus-rtu"
    raise BenchError(
        f"{settings.description.name}: describes a device of kind {kind}, "
        f"which {settings.wire} cannot serve; use {fitting}"
    )


def _notes(image: ModbusImage, name: str) -> tuple[str, ...]:
    kept = ", ".join(str(measurand) for measurand in image.never_missing)
    if not kept:
        return ()
    return (
        f'{name} has no raw number for "not available" for {kept}: where the recording has no '
        "figure, the device tells the last one",
    )
