"""Every scaling against cantools, an independent decoder, through a DBC written here by hand.

The DBC is written from the standard's data types as they are published for tooling (factor and
offset), not from our table; Hypothesis then makes both decode the same random bytes. What cantools
cannot say is "no figure": its figures for the three highest raw numbers are those we must not give.
"""

from __future__ import annotations

import cantools
import pytest
from cantools.database.can import Database
from hypothesis import example, given, settings
from hypothesis import strategies as st

from adapters.rvc.frames import decode
from adapters.rvc.table import COPY, LAYOUTS, MEMORY, Absent, Layout

U8, PERCENT, C8 = "8@1+ (1,0)", "8@1+ (0.5,0)", "8@1+ (1,-40)"
V, A, HZ = "16@1+ (0.05,0)", "16@1+ (0.05,-1600)", "16@1+ (0.0078125,0)"
MIN = AH = MV = "16@1+ (1,0)"
HEAD = {"instance": (0, U8), "priority": (8, U8)}
CHARGE = {
    "instance": (0, U8), "charge_volts": (8, V), "charge_amps": (24, A),
    "percent_of_most": (40, PERCENT), "charge_state": (48, U8),
}  # fmt: skip
AC = {
    "instance": (0, "4@1+ (1,0)"), "line": (4, "2@1+ (1,0)"), "side": (6, "2@1+ (1,0)"),
    "volts": (8, V), "amps": (24, A), "hertz": (40, HZ),
}  # fmt: skip

MESSAGES: dict[int, dict[str, tuple[int, str]]] = {
    0x1FFFD: {**HEAD, "volts": (16, V), "amps": (32, "32@1+ (0.001,-2000000)")},
    0x1FFFC: {
        **HEAD, "temperature": (16, "16@1+ (0.03125,-273)"), "state_of_charge": (32, PERCENT),
        "time_remaining": (40, MIN),
    },
    0x1FFFB: {
        **HEAD, "state_of_health": (16, PERCENT), "capacity_left": (24, AH),
        "relative_capacity": (40, PERCENT), "ripple": (48, MV),
    },
    0x1FEC9: {
        **HEAD, "desired_state": (16, U8), "desired_volts": (24, V), "desired_amps": (40, A),
        "battery_type": (56, "4@1+ (1,0)"),
    },
    0x1FEC8: {**HEAD, "volts": (16, "32@1+ (0.001,0)"), "slope": (48, "16@1+ (1,-32000)")},
    0x1FEC7: {
        **HEAD, "high_volts_limit": (16, "2@1+ (1,0)"), "high_volts_disconnect": (18, "2@1+ (1,0)"),
        "low_volts_limit": (20, "2@1+ (1,0)"), "low_volts_disconnect": (22, "2@1+ (1,0)"),
    },
    0x1FFC7: CHARGE,
    0x1FEA3: {
        "instance": (0, U8), "dc_instance": (8, U8), "priority": (16, U8), "volts": (24, V),
        "amps": (40, A), "temperature": (56, C8),
    },
    0x1FFC6: {
        "instance": (0, U8), "algorithm": (8, U8), "mode": (16, U8), "bank_amp_hours": (32, AH),
    },
    0x1FECC: {
        "instance": (0, U8), "bulk_volts": (8, V), "absorption_volts": (24, V),
        "float_volts": (40, V),
    },
    0x1FEBF: {
        "instance": (0, U8), "bulk_time": (8, MIN), "absorption_time": (24, MIN),
        "float_time": (40, MIN),
    },
    0x1FEB3: CHARGE,
    0x1FEE8: {"instance": (0, U8), "volts": (8, V), "amps": (24, A)},
    0x1FFD4: {"instance": (0, U8), "state": (8, U8)},
    0x1FFCA: AC,
    0x1FFAD: AC,
    0x1FFAA: {"instance": (0, U8), "source_in_use": (8, U8)},
}  # fmt: skip


def dbc() -> str:
    """The messages as a DBC; bit 31 marks an id of 29 bits, every signal unbounded."""
    lines = ['VERSION ""', "BU_: Coach"]
    for dgn, signals in MESSAGES.items():
        lines.append(f"BO_ {1 << 31 | 6 << 26 | dgn << 8} M{dgn:X}: 8 Coach")
        lines += [
            f' SG_ {name} : {bit}|{coding} [0|0] "" Vector__XXX'
            for name, (bit, coding) in signals.items()
        ]
    return "\n".join(lines) + "\n"


DATABASE = cantools.database.load_string(dbc(), "dbc")
assert isinstance(DATABASE, Database)

#: By width: what the three highest raw numbers mean (two bits: two; index bits: none).
ABSENT = {
    32: {2**32 - 1: Absent.NO_DATA, 2**32 - 2: Absent.ERROR, 2**32 - 3: Absent.RESERVED},
    16: {0xFFFF: Absent.NO_DATA, 0xFFFE: Absent.ERROR, 0xFFFD: Absent.RESERVED},
    8: {0xFF: Absent.NO_DATA, 0xFE: Absent.ERROR, 0xFD: Absent.RESERVED},
}
PAIRS = {3: Absent.NO_DATA, 2: Absent.ERROR}


def absent_of(layout: Layout, raw: int, bits: int) -> Absent | None:
    if layout.dgn in (0x1FFCA, 0x1FFAD) and bits < 8:
        return None
    if bits == 4:
        return Absent.NO_DATA if raw == 15 else None
    return PAIRS.get(raw) if bits == 2 else ABSENT[bits].get(raw)


def test_the_tables_cover_each_other() -> None:
    assert MESSAGES.keys() == LAYOUTS.keys()
    for dgn, layout in LAYOUTS.items():
        assert {field.name for field in layout.fields} == MESSAGES[dgn].keys()


def test_every_line_says_where_it_comes_from() -> None:
    for layout in LAYOUTS.values():
        assert layout.stale_seconds > 0.0
        assert {field.source for field in layout.fields} <= {COPY, MEMORY}


@pytest.mark.parametrize("dgn", MESSAGES)
@settings(max_examples=50)
@given(data=st.binary(min_size=8, max_size=8))
@example(data=b"\xff" * 8)
@example(data=b"\xfe" + b"\xff" * 7)
@example(data=b"\xfe\xff" * 4)
@example(data=b"\xfd\xff" * 4)
@example(data=b"\xff\xfd" * 4)
@example(data=b"\x01\x78\xfe\xff\xff\xff\xfd\xff")
@example(data=bytes(8))
def test_both_decoders_agree(dgn: int, data: bytes) -> None:
    signals = DATABASE.get_message_by_name(f"M{dgn:X}")
    raw = signals.decode(data, scaling=False, decode_choices=False)
    scaled = signals.decode(data, decode_choices=False)
    ours = decode(LAYOUTS[dgn], data)
    assert isinstance(raw, dict)
    assert isinstance(scaled, dict)
    assert ours.keys() == scaled.keys()
    for signal in signals.signals:
        whole, theirs = raw[signal.name], scaled[signal.name]
        absent = absent_of(LAYOUTS[dgn], int(whole), signal.length)
        if absent is not None:
            assert ours[signal.name] is absent, signal.name
        else:
            assert ours[signal.name] == pytest.approx(theirs, rel=1e-12, abs=1e-8), signal.name


@given(dgn=st.sampled_from(list(MESSAGES)), data=st.binary(max_size=7))
def test_short_frames_lose_only_what_is_cut_off(dgn: int, data: bytes) -> None:
    message = DATABASE.get_message_by_name(f"M{dgn:X}")
    theirs = message.decode(data, allow_truncated=True) if data else {}
    ours = decode(LAYOUTS[dgn], data)
    assert {name for name, figure in ours.items() if figure is not Absent.NOT_SENT} == set(theirs)
