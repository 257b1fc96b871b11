"""SunSpec devices, on TCP or on a serial line: the factory behind the adapter name `sunspec`.

No description is needed: the device says itself what it has. Opening walks its map and looks at
every known model once; each poll then reads only the points that tell something of the bank or of
a source (`plan`), model by model (`reader`). One block that fails does not stop the others; a map
that changed is walked anew.
"""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable, Mapping, Sequence
from typing import Final

from adapters.adapter import DeviceSettings, LinkError, LinkLost, Values
from adapters.believed import Believed
from adapters.conversion import PERIOD_BOUNDS
from adapters.modbus_line import Frames
from adapters.modbus_link import ModbusLink, connect_rtu, connect_tcp
from adapters.options import Options
from adapters.registers import LAST_ADDRESS, MOST_REGISTERS_A_READ, Block
from adapters.serial_port import read_port_settings
from adapters.sunspec.meanings import USED_MODELS
from adapters.sunspec.models import HEADER, models, placed
from adapters.sunspec.models import Values as ModelValues
from adapters.sunspec.plan import Choices, Plan, make_plan, read_roles
from adapters.sunspec.reader import MapChangedError, ModelReader
from adapters.sunspec.telling import described
from adapters.sunspec.walk import BASES, DeviceMap, Found, find_map

#: As for other Modbus devices (`adapters.modbus`).
_TIMEOUT_SECONDS: Final = 1.0
_PERIOD_SECONDS: Final = 1.0
_BAUD: Final = 9_600  # SunSpec Modbus interface specification: the rate every serial device has
_TCP_PORT: Final = 502  # registered with IANA

#: After this, a look that was cut short (no answer behind the last model, a model that failed) is
#: taken once more: seldom enough to cost nothing where it always ends so (our choice).
_LOOK_AGAIN_SECONDS: Final = 300.0

#: Models in a row without an answer before no more are asked: it would only add up time limits.
_SILENT_IN_A_ROW: Final = 2

#: Registers of the longest text of any model, which is read in one piece.
_LARGEST_POINT: Final = 32

#: Who the device says it is.
IDENTITY: Final = 1


class SunSpecAdapter:
    """One SunSpec device as an `adapters.adapter.Adapter`."""

    def __init__(
        self,
        settings: DeviceSettings,
        choices: Choices,
        period: float,
        bases: Sequence[int],
        longest: int,
        connect: Callable[[], Awaitable[ModbusLink]],
    ) -> None:
        self.name = settings.name
        self.period_seconds = period
        self._settings = settings
        self._choices = choices
        self._bases = bases
        self._longest = longest
        self._connect = connect
        self._link: ModbusLink | None = None
        self._map: DeviceMap | None = None
        self._seen: dict[Found, ModelValues] = {}
        self._plan = Plan((), (), (), (), ())
        self._readers: tuple[ModelReader, ...] = ()
        self._believed = Believed(settings, ())
        self._look_again: float | None = None

    @property
    def remark(self) -> str:
        """What is wrong with a device that works in part; empty when nothing is."""
        troubles = [reader.trouble for reader in self._readers]
        nothing = ""
        if self._map is not None and not self._readers:
            nothing = "none of its models tells anything of a bank or a source; see the check"
        ended = "" if self._map is None else self._map.trouble and self._ended(self._map)
        return "; ".join(
            filter(None, (*self._plan.wrong, ended, nothing, *troubles, self._believed.remark))
        )

    @property
    def about(self) -> tuple[str, ...]:
        """Who the device is, its models, what they are used for and what they told last."""
        if self._map is None:
            return ()
        return described(self._map, self._seen, self._plan)

    async def open(self) -> None:
        await self.close()
        self._map, self._readers = None, ()
        self._link = await self._connect()
        await self._learn()

    async def close(self) -> None:
        """What is known of the device stays, for those who ask about it afterwards."""
        if self._link is not None:
            link, self._link = self._link, None
            link.close()

    async def poll(self) -> Values:
        if self._link is None:
            raise LinkError(f"{self.name} is not open")
        again = self._look_again is not None and self._now() >= self._look_again
        if self._map is None or again:
            await self._learn()
        try:
            fresh = await self._read_models()
        except MapChangedError:
            self._map, self._readers = None, ()
            raise
        self._seen.update(fresh)
        return self._believed.values(self._plan.figures(fresh))

    async def _learn(self) -> None:
        """Walk the map, look at every known model once, and plan."""
        self._map, self._readers, self._look_again = None, (), None
        found_map = await find_map(self._read, self._bases)
        seen: dict[Found, ModelValues] = {}
        cut_short, silent = found_map.cut_short, 0
        for found in found_map.models:
            if found.id in USED_MODELS or found.id == IDENTITY:
                look = await self._look(found) if silent < _SILENT_IN_A_ROW else None
                silent = silent + 1 if look is None else 0
                cut_short = cut_short or look is None
                seen[found] = look or _nothing_of(found)
        self._plan = make_plan(seen, self._choices, self._settings)
        self._seen = seen
        self._believed = Believed(self._settings, self._plan.measurands)
        readers = (self._reader(found, values) for found, values in seen.items())
        self._readers = tuple(reader for reader in readers if reader is not None)
        self._map = found_map
        if cut_short:
            self._look_again = self._now() + _LOOK_AGAIN_SECONDS

    async def _look(self, found: Found) -> ModelValues | None:
        """All there is of a model; None where it does not let itself be read now."""
        points = tuple(placed(models()[found.id], found.length))
        if not points or found.length == 0:
            return _nothing_of(found)
        reader = ModelReader(found, points, self._longest, self._now)
        try:
            return await reader.read(self._read)
        except LinkLost:
            raise
        except LinkError:
            return None

    def _reader(self, found: Found, values: ModelValues) -> ModelReader | None:
        points = self._plan.points(found, values)
        return ModelReader(found, points, self._longest, self._now) if points else None

    async def _read_models(self) -> dict[Found, ModelValues]:
        """What can be read now; `LinkError` where nothing can.

        Models that failed least come first: where some are dead the others are found all the same.
        """
        fresh: dict[Found, ModelValues] = {}
        silent, last = 0, ""
        for reader in sorted(self._readers, key=lambda reader: reader.failures):
            if reader.rests():
                continue
            try:
                fresh[reader.found] = await reader.read(self._read)
                silent = 0
            except (LinkLost, MapChangedError):
                raise
            except LinkError as fault:
                silent, last = silent + 1, str(fault)
                if silent == _SILENT_IN_A_ROW:
                    break
        if self._readers and not fresh:
            for reader in self._readers:
                reader.wake()
            raise LinkError(last or "no model can be read")
        return fresh

    async def _read(self, address: int, count: int) -> Sequence[int]:
        if self._link is None:
            raise LinkLost(f"{self.name} was closed")
        return await self._link.read(Block("holding", address, count))

    def _now(self) -> float:
        return asyncio.get_running_loop().time()

    def _ended(self, found_map: DeviceMap) -> str:
        return f"its SunSpec map has no end ({found_map.trouble}); what comes before it is read"


def _nothing_of(found: Found) -> ModelValues:
    """A model of which only the length is known."""
    repeats = models()[found.id].repeats(found.length, None)
    return ModelValues({}, tuple({} for _ in range(repeats)))


def sunspec(settings: DeviceSettings, frames: Frames) -> SunSpecAdapter:
    """A SunSpec device. With `host` it is on the network (host, port), else on a serial line (port,
    baud, parity, stop_bits, data_bits, local_echo). Also: device_id, positive, roles,
    base_address, longest_read, timeout_seconds, period_seconds."""
    options = Options(settings)
    roles = read_roles(options.any_value("roles"), options.where)
    positive = options.choice("positive", ("charging", "discharging"), "")
    connect = _connection(settings.options, options, frames)
    base = options.whole("base_address", -1, 0, LAST_ADDRESS - HEADER)
    bases = BASES if base < 0 else (base,)
    longest = options.whole(
        "longest_read", MOST_REGISTERS_A_READ, _LARGEST_POINT, MOST_REGISTERS_A_READ
    )
    period = options.number("period_seconds", _PERIOD_SECONDS, *PERIOD_BOUNDS)
    options.done()
    return SunSpecAdapter(settings, Choices(roles, positive), period, bases, longest, connect)


def _connection(
    given: Mapping[str, object], options: Options, frames: Frames
) -> Callable[[], Awaitable[ModbusLink]]:
    """The way to the device, by what the config gives."""
    timeout = options.number("timeout_seconds", _TIMEOUT_SECONDS, 0.05, 30.0)
    if "host" not in given and not isinstance(given.get("port"), str):
        raise options.error(
            "host",
            "expected the device's name or address on the network, or port with the path of a "
            "serial port; found neither",
        )
    if "host" in given:
        device_id = options.whole("device_id", 1, 0, 255)
        host = options.text("host", "the device's name or address on the network")
        tcp_port = options.whole("port", _TCP_PORT, 1, 65_535)
        return lambda: connect_tcp(host, tcp_port, device_id, timeout, frames)
    device_id = options.whole("device_id", 1, 1, 247)
    port = read_port_settings(options, _BAUD)
    local_echo = options.flag("local_echo", False)
    return lambda: connect_rtu(port, device_id, timeout, local_echo, frames)
