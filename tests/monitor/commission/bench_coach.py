"""The coach on the wire: three Modbus TCP devices, a live feed that polls them, a person at work.

Everything is real but two things: the coach is simulated, and time is made (`virtual_time`): where
the feed, the devices and the person all wait, the clock goes on to whoever is next in line. So the
loop is closed - the installer sees what the procedure makes of the wire, and his hands move the
coach that the devices tell - and no busy machine can make a device late.
"""

from __future__ import annotations

import asyncio
import contextlib
import itertools
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from adapters.description import load_text
from adapters.reading import Input
from adapters.registers import ModbusDescription
from monitor.commission.procedure import Procedure
from monitor.commission.record import Outcome
from monitor.commission.said import command
from monitor.commission.session import Session, evidence_of
from monitor.commission.setting import Setting
from monitor.config import load_config
from monitor.live import Live
from monitor.software import software
from replay.bench.figures import Chosen, Figures
from replay.bench.modbus_wire import ModbusImage, TcpWire
from replay.recording import Recording
from tests.monitor.commission.coach import (
    CONFIG,
    DEFECTS,
    INSTALLATION,
    SCENARIO,
    STEP_SECONDS,
    make_bench,
)
from tests.monitor.commission.installer import Installer
from tests.monitor.commission.runs import Patience, steps
from tests.monitor.virtual_time import run_virtual

#: How long after a moved hand the person looks: so long a poll may take to come round.
_LINGER_SECONDS: Final = 10.0
#: Looks are kept for it meanwhile, so the person sees by them, only a little later.
_REFRESH_SECONDS: Final = 5.0
#: Before hands begin every device has been heard.
_SETTLING_SECONDS: Final = 30.0
#: Of a run, enough for every figure to have been told once.
_FIRST_STEPS: Final = 60

_SHUNT: Final = """\
kind = "modbus"
title = "a shunt of these tests"
period_seconds = 5
[[registers]]
quantity = "bank_volts"
address = 10
type = "uint16"
scale = 0.01
unit = "V"
[[registers]]
quantity = "bank_amps"
address = 11
type = "int32"
unit = "mA"
positive = "charging"
[[registers]]
quantity = "bank_celsius"
address = 13
type = "int16"
scale = 0.1
unit = "°C"
absent = 0x7FFF
"""
_CHARGER: Final = """\
kind = "modbus"
title = "a charger of these tests"
period_seconds = 10
[[registers]]
quantity = "source_volts"
address = 20
type = "uint16"
scale = 0.01
unit = "V"
[[registers]]
quantity = "source_amps"
address = 21
type = "int32"
unit = "mA"
"""
#: Name, description, its file, and whose figures it tells.
_DEVICES: Final = (
    ("shunt", _SHUNT, "shunt.toml", 'bank = "house"'),
    ("shore-charger", _CHARGER, "charger.toml", 'bank = "house"\nsource = "shore"'),
    ("engine-charger", _CHARGER, "charger.toml", 'bank = "house"\nsource = "engine"'),
)


class Beginning(Recording):
    """What a coach tells in its first minutes: a device's registers are made by it."""

    title = "the coach on the wire"

    def __init__(self, seed: int) -> None:
        first = itertools.islice(steps(make_bench(seed)), _FIRST_STEPS)
        self._inputs = [value for inputs, _ in first for value in inputs]

    def inputs(self) -> Iterator[Input]:
        return iter(self._inputs)


@dataclass(frozen=True, slots=True)
class Device:
    name: str
    figures: Figures
    wire: TcpWire


@dataclass(frozen=True, slots=True)
class Commissioned:
    """`record` and `capture` are the files that a report is made from."""

    outcomes: tuple[Outcome, ...]
    record: Path
    capture: Path
    seconds: float


def commissioned(defect: str | None, seed: int, folder: Path) -> Commissioned:
    """One whole commissioning on the wire, from the labels to the second morning."""
    made: list[Commissioned] = []

    async def main() -> None:
        made.append(await _commissioned(defect, seed, folder))

    run_virtual(main(), sockets=True)
    return made[0]


async def _commissioned(defect: str | None, seed: int, folder: Path) -> Commissioned:
    loop = asyncio.get_running_loop()
    devices, config = await _devices(seed, folder)
    began = loop.time()
    live = Live(
        load_config(config),
        capture_path=folder / "wire.capture",
        refresh_seconds=_REFRESH_SECONDS,
        monotonic=loop.time,
        wall=lambda: SCENARIO.start_unix + loop.time() - began,
    )
    setting = Setting(live.site, live.site.banks[0], INSTALLATION)
    procedure = Procedure(setting, software=software(), capture="wire.capture")
    session = Session(live, procedure, folder / "record.json", "Installer")
    tasks = [asyncio.create_task(live.acquire()), asyncio.create_task(_looking(live, session))]
    try:
        await _at_work(defect, seed, session, live, devices, began)
    finally:
        for task in tasks:
            task.cancel()
        await asyncio.gather(*tasks, return_exceptions=True)
        for device in devices:
            with contextlib.suppress(asyncio.CancelledError):
                await device.wire.stop()
    session.evidence = evidence_of(folder / "wire.capture", 0.0, live.now())
    session.save()
    return Commissioned(
        procedure.outcomes(), folder / "record.json", folder / "wire.capture", live.now()
    )


async def _looking(live: Live, session: Session) -> None:
    async for snapshot in live.snapshots():
        session.take(snapshot)


async def _devices(seed: int, folder: Path) -> tuple[list[Device], Path]:
    beginning, devices, config = Beginning(seed), [], CONFIG
    for name, text, file, owner in _DEVICES:
        description = load_text(text, name)
        assert isinstance(description, ModbusDescription)
        figures = Figures(beginning, description.measurands, Chosen(device=name))
        wire = TcpWire(ModbusImage(description, figures), description, "127.0.0.1", 0)
        place = await wire.start()
        devices.append(Device(name, figures, wire))
        (folder / file).write_text(text, encoding="utf-8")
        config += f'[devices.{name}]\nadapter = "modbus-tcp"\ndescription = "{file}"\n{owner}\n'
        config += f'host = "{place["host"]}"\nport = {place["port"]}\n\n'
    path = folder / "coach.toml"
    path.write_text(config, encoding="utf-8")
    return devices, path


async def _at_work(
    defect: str | None,
    seed: int,
    session: Session,
    live: Live,
    devices: list[Device],
    began: float,
) -> None:
    """The coach runs, its devices tell it, and the installer does what each check asks."""
    loop = asyncio.get_running_loop()
    bench = make_bench(seed, None if defect is None else DEFECTS[defect][0])
    installer = Installer(
        bench,
        session.procedure,
        lambda key, word, rest: live.send(command("Installer", key, word, rest)),
        seed,
    )
    script = installer.everything()
    patience = Patience(_SETTLING_SECONDS, 0.0, 0.0)
    for inputs, _ in steps(bench):
        now = bench.plant.seconds + STEP_SECONDS
        await asyncio.sleep(began + now - loop.time())
        for device in devices:
            changed = [device.figures.take(value) for value in inputs]
            if any(changed):
                device.wire.show(device.figures)
        if patience.over(now):
            wait = next(script, None)
            if wait is None:
                return
            patience = Patience(wait, now, _LINGER_SECONDS)
