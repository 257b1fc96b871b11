"""A recording served as a SunSpec device: read back by our adapter and by the reference."""

from __future__ import annotations

import asyncio

import pytest
from sunspec2.modbus.client import SunSpecModbusClientDeviceTCP

from adapters.adapter import DeviceSettings, unheard
from adapters.reading import Channel, Quantity, Reading
from adapters.sunspec.device import sunspec
from replay.bench.sunspec_device import sunspec_device
from tests.replay.bench.test_bench import Tape, bench

Q = Quantity

FIGURES = {
    Channel("house", Q.BANK_VOLTS): 13.42,
    Channel("house", Q.BANK_AMPS): -25.31,
    Channel("house", Q.BANK_SOC): 0.873,
    Channel("house", Q.BANK_CELSIUS): -3.5,
    Channel("house", Q.HIGHEST_CELL_VOLTS): 3.361,
    Channel("shore", Q.SOURCE_VOLTS): 13.6,
    Channel("shore", Q.SOURCE_AMPS): 12.04,
    Channel("shore", Q.AC_VOLTS): 119.5,
    Channel("shore", Q.AC_WATTS): 212.0,
    Channel("shore", Q.AC_HERTZ): 60.0,
    Channel("shore", Q.AC_POWER_FACTOR): 0.97,
}

TAPE = Tape(
    [
        Reading(0.0, "shunt", tuple(FIGURES.items())),
        Reading(9000.0, "shunt", tuple(FIGURES.items())),
    ]
)


@pytest.mark.parametrize("wire", ["modbus-tcp", "modbus-rtu"])
async def test_what_was_recorded_comes_back(wire: str) -> None:
    async with bench(recording=TAPE, description=sunspec_device(), wire=wire) as place:
        assert place.adapter == "sunspec"
        settings = DeviceSettings("sun", dict(place.options), bank="house", source="shore")
        adapter = sunspec(settings, unheard)
        await adapter.open()
        try:
            assert dict(await adapter.poll()) == FIGURES
            assert adapter.remark == ""
            assert adapter.about[0] == "SunSpec map at register 40000: Bench, Recording, 1, 0"
        finally:
            await adapter.close()


async def test_the_reference_reads_the_same() -> None:
    async with bench(recording=TAPE, description=sunspec_device(0)) as place:

        def read() -> tuple[list[int], float, float, float, int | None, str]:
            device = SunSpecModbusClientDeviceTCP(
                1, str(place.options["host"]), int(str(place.options["port"])), timeout=5.0
            )
            device.scan()
            battery = device.battery[0]
            numbers = [model.model_id for model in device.model_list]
            errors = "".join(model.error_info for model in device.model_list)
            ac_watts = device.inverter_single_phase[0].W.cvalue
            return (
                numbers, battery.V.cvalue, battery.A.cvalue, ac_watts, battery.SoH.cvalue, errors
            )  # fmt: skip

        assert await asyncio.to_thread(read) == (
            [1, 802, 803, 502, 101], 13.42, -25.31, -212, None, ""
        )  # fmt: skip
