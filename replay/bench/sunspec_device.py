"""A SunSpec device for the bench: a battery, a DC-DC module and an AC side, as registers.

It is a Modbus device like any other to the bench; what makes it SunSpec stands still: the marker,
the headers, the scale factors, "not implemented" in every point that no recording tells. The sign
of the battery current, which the standard leaves open, is positive while charging.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Final, NamedTuple

from adapters.conversion import Conversion, Figures, Measurand
from adapters.reading import Quantity
from adapters.registers import TYPES, ModbusDescription, Register
from adapters.sunspec.models import TYPES as POINT_TYPES
from adapters.sunspec.models import Model, Point, models
from adapters.sunspec.walk import BASES, END_ID, MARKER

_Q = Quantity


class _Told(NamedTuple):
    """A point that tells a quantity, counted in steps of 10**power of the point's own unit, of
    which one is `unit` of ours; turned where it counts the other way."""

    model: int
    point: str
    quantity: Quantity
    power: int
    unit: float = 1.0


_TOLD: Final = (
    _Told(802, "V", _Q.BANK_VOLTS, -2),
    _Told(802, "A", _Q.BANK_AMPS, -2),
    _Told(802, "SoC", _Q.BANK_SOC, -1, 0.01),
    _Told(802, "CellVMax", _Q.HIGHEST_CELL_VOLTS, -3),
    _Told(802, "CellVMin", _Q.LOWEST_CELL_VOLTS, -3),
    _Told(803, "ModTmpAvg", _Q.BANK_CELSIUS, -1),
    _Told(502, "OutV", _Q.SOURCE_VOLTS, -2),
    _Told(502, "OutA", _Q.SOURCE_AMPS, -2),
    _Told(502, "InV", _Q.INPUT_VOLTS, -2),
    _Told(502, "InA", _Q.INPUT_AMPS, -2),
    _Told(101, "PhVphA", _Q.AC_VOLTS, -1),
    _Told(101, "A", _Q.AC_AMPS, -2),
    _Told(101, "W", _Q.AC_WATTS, 0, -1.0),
    _Told(101, "Hz", _Q.AC_HERTZ, -2),
    _Told(101, "PF", _Q.AC_POWER_FACTOR, -1, 0.01),
)

#: What model 1 says; a device of nobody's.
_COMMON: Final = {"Mn": "Bench", "Md": "Recording", "Vr": "1", "SN": "0"}

_ORDER: Final = (1, 802, 803, 502, 101)


@dataclass(frozen=True, slots=True)
class SunSpecDevice(ModbusDescription):
    """A Modbus device with registers that stand still around those that a recording fills."""

    still: Mapping[tuple[str, int], int] = field(default_factory=dict)

    @property
    def in_config(self) -> dict[str, object]:
        """What a config must say of it: the standard leaves both open."""
        return {"positive": "charging", "roles": {"101": "ac"}}

    def encode(self, figures: Figures) -> dict[tuple[str, int], int]:
        image = dict(self.still)
        image.update(ModbusDescription.encode(self, figures))
        return image


def sunspec_device(base: int = BASES[0]) -> SunSpecDevice:
    """The device, its map beginning at a register."""
    still = dict(zip(range(base, base + len(MARKER)), MARKER, strict=True))
    registers: list[Register] = []
    address = base + len(MARKER)
    for number in _ORDER:
        model = models()[number]
        still.update({address + at: word for at, word in enumerate(_at_rest(model))})
        registers.extend(_registers(model, address))
        address += model.size
    still.update({address: END_ID, address + 1: 0})
    return SunSpecDevice(
        name="sunspec",
        title="a SunSpec device",
        period_seconds=1.0,
        device_id=1,
        bridge=0,
        longest_read=125,
        registers=tuple(registers),
        still={("holding", at): word for at, word in still.items()},
    )


def _registers(model: Model, address: int) -> Iterator[Register]:
    for told in _TOLD:
        if told.model == model.id:
            point = model.points[told.point]
            conversion = Conversion(Measurand(told.quantity), scale=told.unit * 10.0**told.power)
            absent = POINT_TYPES[point.type].absent
            yield Register(
                "holding",
                address + point.offset,
                TYPES[point.type],
                conversion,
                absent=(0 if absent is None else absent & 0xFFFF,),
            )


def _at_rest(model: Model) -> list[int]:
    """The model with nothing implemented but its header, scale factors and texts."""
    scales = {model.points[t.point].scale: t.power for t in _TOLD if t.model == model.id}
    words: list[int] = []
    for point in model.points.values():
        words += _resting(point, scales.get(point.name))
    words[0], words[1] = model.id, model.size - 2
    if model.group is not None and model.group.count is not None:
        words[model.points[model.group.count].offset] = 0
    return words


def _resting(point: Point, power: int | None) -> list[int]:
    if power is not None:
        return [power & 0xFFFF]
    if point.type == "string":
        data = _COMMON.get(point.name, "").encode().ljust(2 * point.size, b"\0")
        return [data[at] << 8 | data[at + 1] for at in range(0, len(data), 2)]
    absent = POINT_TYPES[point.type].absent if point.type in POINT_TYPES else 0x8000
    number = (absent or 0) & (1 << 16 * point.size) - 1
    return [number >> 16 * at & 0xFFFF for at in reversed(range(point.size))]
