"""The RV-C messages that are read, as data: where each figure stands in the eight bytes.

*Experimental: not checked against the published specification.* Every line names what it was
taken from:

    COPY    a secondary copy of the RV-C specification of 2015 to 2018
    MEMORY  from memory, or from that copy where it contradicts itself

A figure is `(raw - zero) * scale`, raw being an unsigned little-endian number that begins at a bit
counted from the first bit of the first byte. The highest raw numbers of each width say why there is
no figure (`Absent`).
"""

from __future__ import annotations

from enum import Enum
from typing import Final, NamedTuple

EXPERIMENTAL: Final = "RV-C, experimental: not checked against the published specification"

COPY: Final = "RV-C, secondary copy"
MEMORY: Final = "from memory"


class Absent(Enum):
    """Why a field has no figure, in words."""

    NO_DATA = "no data"
    ERROR = "an error of the sensor"
    RESERVED = "a reserved code"
    NOT_SENT = "not sent: the frame is too short"


class Kind(NamedTuple):
    """How a raw number becomes a figure, and which raw numbers are none."""

    bits: int
    scale: float
    zero: int
    unit: str
    absent: dict[int, Absent]


def _top(bits: int) -> dict[int, Absent]:
    """RV-C, data types (MEMORY): the three highest numbers of whole bytes are no figures."""
    highest = (1 << bits) - 1
    return {
        highest: Absent.NO_DATA,
        highest - 1: Absent.ERROR,
        highest - 2: Absent.RESERVED,
    }


# Scales and zeros of volts and amps: COPY and MEMORY agree. All other kinds: MEMORY.
WHOLE_8: Final = Kind(8, 1.0, 0, "", _top(8))
CODE_8: Final = WHOLE_8
CODE_4: Final = Kind(4, 1.0, 0, "", {15: Absent.NO_DATA})
INDEX_4: Final = Kind(4, 1.0, 0, "", {})
PAIR: Final = Kind(2, 1.0, 0, "", {3: Absent.NO_DATA, 2: Absent.ERROR})
INDEX_2: Final = Kind(2, 1.0, 0, "", {})
PERCENT_8: Final = Kind(8, 0.5, 0, "%", _top(8))
CELSIUS_8: Final = Kind(8, 1.0, 40, "°C", _top(8))
CELSIUS_16: Final = Kind(16, 1.0 / 32.0, 273 * 32, "°C", _top(16))
VOLTS_16: Final = Kind(16, 0.05, 0, "V", _top(16))
MILLIVOLTS_32: Final = Kind(32, 0.001, 0, "V", _top(32))
MILLIVOLTS_16: Final = Kind(16, 1.0, 0, "mV", _top(16))
SLOPE_16: Final = Kind(16, 1.0, 32_000, "mV/s", _top(16))
AMPS_16: Final = Kind(16, 0.05, 32_000, "A", _top(16))
MILLIAMPS_32: Final = Kind(32, 0.001, 2_000_000_000, "A", _top(32))
HERTZ_16: Final = Kind(16, 1.0 / 128.0, 0, "Hz", _top(16))
AMP_HOURS_16: Final = Kind(16, 1.0, 0, "Ah", _top(16))
MINUTES_16: Final = Kind(16, 1.0, 0, "min", _top(16))


class Field(NamedTuple):
    """One figure of a message; `bit` is where it begins, `source` where the line comes from."""

    name: str
    bit: int
    kind: Kind
    source: str


class Layout(NamedTuple):
    """One message. Old after `stale_seconds`: three gaps between broadcasts, rounded up (the gaps
    of 0.5 s and 5 s are MEMORY). `thing` is what one instance of it is, in words."""

    dgn: int
    name: str
    thing: str
    stale_seconds: float
    fields: tuple[Field, ...]


INSTANCE: Final = "instance"
PRIORITY: Final = "priority"
LINE: Final = "line"
SIDE: Final = "side"

DC_SOURCE: Final = "DC source"
CHARGER: Final = "charger"
SOLAR: Final = "solar controller"
INVERTER: Final = "inverter"
ATS: Final = "transfer switch"

_FAST: Final = 5.0
_SLOW: Final = 15.0

_INSTANCE: Final = Field(INSTANCE, 0, WHOLE_8, COPY)
_DC_HEAD: Final = (_INSTANCE, Field(PRIORITY, 8, WHOLE_8, COPY))
_DC_HEAD_TOO: Final = (_INSTANCE, Field(PRIORITY, 8, WHOLE_8, MEMORY))
_CHARGE: Final = (
    ("charge_volts", 8, VOLTS_16),
    ("charge_amps", 24, AMPS_16),  # MEMORY: a comment in the copy says 1 mA
    ("percent_of_most", 40, PERCENT_8),
    ("charge_state", 48, CODE_8),
)
_AC: Final = (
    Field(INSTANCE, 0, INDEX_4, MEMORY),
    Field(LINE, 4, INDEX_2, MEMORY),  # 0 the first leg, 1 the second
    Field(SIDE, 6, INDEX_2, MEMORY),  # 0 input, 1 output
    Field("volts", 8, VOLTS_16, MEMORY),
    Field("amps", 24, AMPS_16, MEMORY),
    Field("hertz", 40, HERTZ_16, MEMORY),
)


def _charge(source: str) -> tuple[Field, ...]:
    instance = Field(INSTANCE, 0, WHOLE_8, source)
    fields = (
        Field(name, bit, kind, MEMORY if kind is AMPS_16 else source) for name, bit, kind in _CHARGE
    )
    return (instance, *fields)


LAYOUTS: Final[dict[int, Layout]] = {
    layout.dgn: layout
    for layout in (
        Layout(
            0x1FFFD,
            "DC_SOURCE_STATUS_1",
            DC_SOURCE,
            _FAST,
            (
                *_DC_HEAD,
                Field("volts", 16, VOLTS_16, COPY),
                Field("amps", 32, MILLIAMPS_32, COPY),
            ),
        ),
        Layout(
            0x1FFFC,
            "DC_SOURCE_STATUS_2",
            DC_SOURCE,
            _SLOW,
            (
                *_DC_HEAD_TOO,
                Field("temperature", 16, CELSIUS_16, COPY),
                Field("state_of_charge", 32, PERCENT_8, COPY),
                Field("time_remaining", 40, MINUTES_16, COPY),
            ),
        ),
        Layout(
            0x1FFFB,
            "DC_SOURCE_STATUS_3",
            DC_SOURCE,
            _SLOW,
            (
                *_DC_HEAD_TOO,
                Field("state_of_health", 16, PERCENT_8, COPY),
                Field("capacity_left", 24, AMP_HOURS_16, COPY),
                Field("relative_capacity", 40, PERCENT_8, COPY),
                Field("ripple", 48, MILLIVOLTS_16, COPY),
            ),
        ),
        Layout(
            0x1FEC9,
            "DC_SOURCE_STATUS_4",
            DC_SOURCE,
            _SLOW,
            (
                *_DC_HEAD_TOO,
                Field("desired_state", 16, CODE_8, COPY),
                Field("desired_volts", 24, VOLTS_16, COPY),
                Field("desired_amps", 40, AMPS_16, COPY),
                Field("battery_type", 56, CODE_4, COPY),
            ),
        ),
        Layout(
            0x1FEC8,
            "DC_SOURCE_STATUS_5",
            DC_SOURCE,
            _FAST,
            (
                *_DC_HEAD_TOO,
                Field("volts", 16, MILLIVOLTS_32, COPY),
                Field("slope", 48, SLOPE_16, COPY),
            ),
        ),
        Layout(
            0x1FEC7,
            "DC_SOURCE_STATUS_6",
            DC_SOURCE,
            _SLOW,
            (
                *_DC_HEAD_TOO,
                Field("high_volts_limit", 16, PAIR, COPY),
                Field("high_volts_disconnect", 18, PAIR, COPY),
                Field("low_volts_limit", 20, PAIR, COPY),
                Field("low_volts_disconnect", 22, PAIR, COPY),
            ),
        ),
        Layout(0x1FFC7, "CHARGER_STATUS", CHARGER, _SLOW, _charge(COPY)),
        Layout(
            0x1FEA3,
            "CHARGER_STATUS_2",
            CHARGER,
            _SLOW,
            (
                _INSTANCE,
                Field("dc_instance", 8, WHOLE_8, COPY),
                Field(PRIORITY, 16, WHOLE_8, COPY),
                Field("volts", 24, VOLTS_16, COPY),
                Field("amps", 40, AMPS_16, COPY),
                Field("temperature", 56, CELSIUS_8, COPY),
            ),
        ),
        Layout(
            0x1FFC6,
            "CHARGER_CONFIGURATION_STATUS",
            CHARGER,
            _SLOW,
            (
                _INSTANCE,
                Field("algorithm", 8, CODE_8, COPY),
                Field("mode", 16, CODE_8, COPY),
                Field("bank_amp_hours", 32, AMP_HOURS_16, COPY),
            ),  # byte 3 (flags, battery type) and 6 (highest amps): the copy contradicts itself
        ),
        Layout(
            0x1FECC,
            "CHARGER_CONFIGURATION_STATUS_3",
            CHARGER,
            _SLOW,
            (
                _INSTANCE,
                Field("bulk_volts", 8, VOLTS_16, MEMORY),
                Field("absorption_volts", 24, VOLTS_16, MEMORY),
                Field("float_volts", 40, VOLTS_16, MEMORY),
            ),  # what it holds: COPY; where it stands: MEMORY
        ),
        Layout(
            0x1FEBF,
            "CHARGER_CONFIGURATION_STATUS_4",
            CHARGER,
            _SLOW,
            (
                _INSTANCE,
                Field("bulk_time", 8, MINUTES_16, MEMORY),
                Field("absorption_time", 24, MINUTES_16, MEMORY),
                Field("float_time", 40, MINUTES_16, MEMORY),
            ),  # what it holds: COPY; where it stands: MEMORY
        ),
        Layout(0x1FEB3, "SOLAR_CONTROLLER_STATUS", SOLAR, _SLOW, _charge(MEMORY)),
        Layout(
            0x1FEE8,
            "INVERTER_DC_STATUS",
            INVERTER,
            _FAST,
            (
                Field(INSTANCE, 0, WHOLE_8, MEMORY),
                Field("volts", 8, VOLTS_16, MEMORY),
                Field("amps", 24, AMPS_16, MEMORY),
            ),
        ),
        Layout(
            0x1FFD4,
            "INVERTER_STATUS",
            INVERTER,
            _SLOW,
            (
                Field(INSTANCE, 0, WHOLE_8, MEMORY),
                Field("state", 8, CODE_8, MEMORY),
            ),
        ),
        Layout(0x1FFCA, "CHARGER_AC_STATUS_1", CHARGER, _SLOW, _AC),
        Layout(0x1FFAD, "ATS_AC_STATUS_1", ATS, _SLOW, _AC),
        Layout(
            0x1FFAA,
            "ATS_STATUS",
            ATS,
            _SLOW,
            (
                Field(INSTANCE, 0, WHOLE_8, MEMORY),
                Field("source_in_use", 8, CODE_8, MEMORY),
            ),
        ),
    )
}

#: What a charge state is called here (codes: COPY). "Overcharge" is none of our stages.
CHARGE_STATES: Final = {
    "0": "unknown",
    "1": "off",
    "2": "bulk",
    "3": "absorption",
    "4": "unknown",
    "5": "equalize",
    "6": "float",
    "7": "fixed",
}
