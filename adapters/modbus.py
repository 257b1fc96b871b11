"""Modbus devices, RTU on a serial line or TCP, read through a device description.

`rtu` and `tcp` are the factories behind the adapter names `modbus-rtu` and `modbus-tcp`. Each poll
reads the blocks of the description (`adapters.registers`) over one checked link
(`adapters.modbus_link`) and gives the figures that can be believed.

A read that the device refuses (exceptions 1 to 3) is split: first at the gaps it bridged, then
into its single figures. A figure refused on its own is dropped until the device is opened again;
the others go on, and `remark` says what is missing.
"""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from typing import Final

from adapters.adapter import DeviceSettings, LinkError, Values
from adapters.believed import Believed
from adapters.modbus_line import Frames
from adapters.modbus_link import ModbusLink, Refused, connect_rtu, connect_tcp
from adapters.options import Options, description_of
from adapters.registers import Block, ModbusDescription, compile_blocks
from adapters.serial_port import read_port_settings

#: A device answers within some 100 ms; a second forgives a slow gateway and still keeps a 1 s
#: display honest (common practice; a library's usual 3 s with retries freezes it for 12 s).
_TIMEOUT_SECONDS: Final = 1.0

#: Modbus over Serial Line V1.02, 2.5.1 gives 19 200 as the default rate.
_BAUD: Final = 19_200

_TCP_PORT: Final = 502  # registered with IANA

_WORDS: Final = 'a description of kind "modbus"'


class ModbusAdapter:
    """One Modbus device as an `adapters.adapter.Adapter`."""

    def __init__(
        self,
        settings: DeviceSettings,
        description: ModbusDescription,
        period: float,
        connect: Callable[[], Awaitable[ModbusLink]],
    ) -> None:
        self.name = settings.name
        self.period_seconds = period
        self.believed = Believed(settings, description.measurands)
        self._description = description
        self._connect = connect
        self._link: ModbusLink | None = None
        self._blocks: tuple[Block, ...] = ()
        self._refused: dict[Block, Refused] = {}

    @property
    def remark(self) -> str:
        """What is wrong with a device that works in part; empty when nothing is."""
        return "; ".join(filter(None, (self._refusals(), self.believed.remark)))

    async def open(self) -> None:
        await self.close()
        self._link = await self._connect()
        self._blocks = self._description.blocks
        self._refused = {}

    async def poll(self) -> Values:
        if self._link is None:
            raise LinkError(f"{self.name} is not open")
        image: dict[tuple[str, int], int] = {}
        for block in self._blocks:
            image.update(await self._read(self._link, block))
        if not self._blocks:
            raise LinkError(self._refusals())
        return self.believed.values(self._description.decode(image))

    async def close(self) -> None:
        if self._link is not None:
            link, self._link = self._link, None
            link.close()

    async def _read(self, link: ModbusLink, block: Block) -> dict[tuple[str, int], int]:
        """The words of a block, or of those parts of it that the device does not refuse."""
        try:
            words = await link.read(block)
        except Refused as refusal:
            parts = self._parts(block)
            self._replace(block, parts)
            if not parts:
                self._refused[block] = refusal
            image: dict[tuple[str, int], int] = {}
            for part in parts:
                image.update(await self._read(link, part))
            return image
        return {(block.table, block.address + index): word for index, word in enumerate(words)}

    def _parts(self, block: Block) -> tuple[Block, ...]:
        """A refused block in smaller reads: without bridging, else figure by figure."""
        registers = self._description.registers_in(block)
        longest = self._description.longest_read
        parts = compile_blocks(registers, bridge=0, longest=longest)
        if len(parts) == 1:
            spans = {(r.address, r.count) for r in registers}
            parts = tuple(Block(block.table, *span) for span in sorted(spans))
        return parts if len(parts) > 1 else ()

    def _replace(self, block: Block, parts: tuple[Block, ...]) -> None:
        at = self._blocks.index(block)
        self._blocks = (*self._blocks[:at], *parts, *self._blocks[at + 1 :])

    def _refusals(self) -> str:
        """What the device refuses, neighbours told as one."""
        told: list[tuple[Block, Refused]] = []
        for block, refusal in sorted(self._refused.items(), key=lambda item: item[0].place):
            if told and told[-1][0].end == block.address and told[-1][0].table == block.table:
                last = told[-1][0]
                told[-1] = (Block(last.table, last.address, block.end - last.address), refusal)
            else:
                told.append((block, refusal))
        name = self._description.name
        return "; ".join(
            f"the device refuses {block} ({refusal}): {self._names(block)} not read; "
            f"correct the address in {name}"
            for block, refusal in told
        )

    def _names(self, block: Block) -> str:
        registers = self._description.registers_in(block)
        return ", ".join(str(register.conversion.measurand) for register in registers)


def rtu(settings: DeviceSettings, frames: Frames) -> ModbusAdapter:
    """A device on a serial line. Options: port, baud, parity, stop_bits, data_bits, device_id,
    timeout_seconds, period_seconds, local_echo (for converters that hear themselves)."""
    options = Options(settings)
    description = description_of(settings, ModbusDescription, _WORDS)
    port = read_port_settings(options, _BAUD)
    device_id = options.whole("device_id", description.device_id, 1, 247)
    timeout = options.number("timeout_seconds", _TIMEOUT_SECONDS, 0.05, 30.0)
    local_echo = options.flag("local_echo", False)
    period = options.period(description)
    options.done()
    return ModbusAdapter(
        settings,
        description,
        period,
        lambda: connect_rtu(port, device_id, timeout, local_echo, frames),
    )


def tcp(settings: DeviceSettings, frames: Frames) -> ModbusAdapter:
    """A device on the network. Options: host, port, device_id, timeout_seconds,
    period_seconds."""
    options = Options(settings)
    description = description_of(settings, ModbusDescription, _WORDS)
    host = options.text("host", "the device's name or address on the network")
    port = options.whole("port", _TCP_PORT, 1, 65_535)
    device_id = options.whole("device_id", description.device_id, 0, 255)
    timeout = options.number("timeout_seconds", _TIMEOUT_SECONDS, 0.05, 30.0)
    period = options.period(description)
    options.done()
    return ModbusAdapter(
        settings, description, period, lambda: connect_tcp(host, port, device_id, timeout, frames)
    )
