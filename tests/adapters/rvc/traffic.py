"""Frames of an invented coach, built from the standard's scalings alone."""

from __future__ import annotations

import struct

METER, CHARGER, SUN, INVERTER, SWITCH = 0x46, 0x51, 0x52, 0x61, 0x71


def can_id(dgn: int, source: int, priority: int = 6) -> int:
    return priority << 26 | dgn << 8 | source


def dc_1(volts: float, amps: float, rank: int = 120, instance: int = 1) -> bytes:
    raw = round(volts / 0.05), round((amps + 2_000_000.0) / 0.001)
    return struct.pack("<BBHI", instance, rank, *raw)


def dc_2(celsius: float, soc: float, rank: int = 120, instance: int = 1) -> bytes:
    raw = round((celsius + 273.0) * 32.0), round(soc * 200.0), 0xFFFF, 0xFF
    return struct.pack("<BBHBHB", instance, rank, *raw)


def dc_5(volts: float, rank: int = 120, instance: int = 1) -> bytes:
    return struct.pack("<BBIH", instance, rank, round(volts * 1000.0), 32_000)


def charge(volts: float, amps: float, state: int, instance: int = 1) -> bytes:
    raw = round(volts / 0.05), round((amps + 1600.0) / 0.05)
    return struct.pack("<BHHBBB", instance, *raw, 100, state, 0xFF)


def charger_2(volts: float, amps: float, celsius: int, instance: int = 1) -> bytes:
    raw = round(volts / 0.05), round((amps + 1600.0) / 0.05)
    return struct.pack("<BBBHHB", instance, 1, 80, *raw, celsius + 40)


def inverter(volts: float, amps: float, instance: int = 1) -> bytes:
    raw = round(volts / 0.05), round((amps + 1600.0) / 0.05)
    return struct.pack("<BHHBBB", instance, *raw, 0xFF, 0xFF, 0xFF)


def ac(volts: float, amps: float, hertz: float, line: int = 0, side: int = 0) -> bytes:
    raw = round(volts / 0.05), round((amps + 1600.0) / 0.05), round(hertz * 128.0)
    return struct.pack("<BHHHB", 1 | line << 4 | side << 6, *raw, 0xFF)


#: A bank being charged from the grid, as id and data.
COACH = (
    (can_id(0x1FFFD, METER), dc_1(13.4, 25.3)),
    (can_id(0x1FEC8, METER), dc_5(13.423)),
    (can_id(0x1FFFC, METER), dc_2(21.5, 0.87)),
    (can_id(0x1FFC7, CHARGER), charge(14.4, 40.0, 2)),
    (can_id(0x1FEA3, CHARGER), charger_2(13.5, 38.0, 44)),
    (can_id(0x1FEB3, SUN), charge(14.4, 5.0, 6)),
    (can_id(0x1FEE8, INVERTER), inverter(13.35, 12.5)),
    (can_id(0x1FFCA, CHARGER), ac(121.0, 6.5, 60.0)),
    (can_id(0x1FFCA, CHARGER), ac(119.5, 0.0, 60.0, line=1)),
    (can_id(0x1FFCA, CHARGER), ac(12.0, 0.0, 50.0, side=1)),
    (can_id(0x1FFAD, SWITCH), ac(120.5, 8.0, 59.5)),
)

#: What must not be taken for anything: lights, a claim of an address, an instance of nothing.
STRANGE = (
    (can_id(0x1FEDA, 0x90), bytes(8)),
    (can_id(0x0EEFF, 0x90), bytes(range(8))),
    (can_id(0x1FFFD, 0x90), b"\xff" * 8),
    (can_id(0x1FFFD, 0x90), b""),
    (can_id(0x1FFFD, 0x90, priority=0) | 1 << 29, b""),
)
