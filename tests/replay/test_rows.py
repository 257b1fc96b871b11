"""Every kind of input comes back from its row exactly as it was, bit for bit."""

from __future__ import annotations

import json
import math
import struct

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from adapters.reading import Channel, Quantity, Reading, Tick
from replay.rows import Recorded, RowError, from_row, to_row
from replay.sealed_lines import seal, unseal
from tests.replay import values


@given(values.inputs | values.frames)
def test_every_kind_survives_the_disk(value: Recorded) -> None:
    sealed = unseal(seal(7, to_row(value)).rstrip(b"\n"))
    assert sealed is not None
    assert sealed[0] == 7
    decoded = from_row(sealed[1])
    assert decoded.value == value
    assert type(decoded.value) is type(value)
    assert decoded.unknown_values == 0


def _bits(figure: float) -> bytes:
    return struct.pack("<d", figure)


@given(st.floats())
@example(-0.0)
@example(5e-324)
@example(math.nan)
@example(-math.inf)
def test_floats_keep_every_bit_even_where_json_has_no_number(figure: float) -> None:
    reading = Reading(0.1, "shunt", ((values.VOLTS, figure),))
    row = json.loads(json.dumps(to_row(reading), allow_nan=False))
    back = from_row(row).value
    assert isinstance(back, Reading)
    found = back.values[0][1]
    assert isinstance(found, float)
    if math.isnan(figure):
        assert math.isnan(found)
    else:
        assert _bits(found) == _bits(figure)


def test_a_whole_number_stays_whole() -> None:
    back = from_row(json.loads(json.dumps(to_row(Tick(12))))).value
    assert isinstance(back, Tick)
    assert type(back.seconds) is int


def test_what_only_newer_software_knows_is_told_apart() -> None:
    assert from_row({"k": "hologram", "t": 1.0}).value is None
    unknown_action = {"k": "command", "t": 1.0, "who": "Ada", "do": "levitate", "to": "house"}
    assert from_row(unknown_action).value is None
    row = to_row(values.reading(1.0, 12.5))
    row["v"] = [["house", "bank_flux", 1.0], *row["v"]]  # type: ignore[misc]
    decoded = from_row(row)
    assert decoded.value == values.reading(1.0, 12.5)
    assert decoded.unknown_values == 1


@pytest.mark.parametrize(
    "row",
    [
        {"k": "reading", "t": "noon", "d": "shunt", "v": []},
        {"k": "reading", "t": 1.0, "v": []},
        {"k": "reading", "t": 1.0, "d": "shunt", "v": {}},
        {"k": "reading", "t": 1.0, "d": "shunt", "v": [["house", "bank_volts"]]},
        {"k": "reading", "t": 1.0, "d": "shunt", "v": [["house", "bank_volts", None]]},
        {"k": "reading", "t": 1.0, "d": "shunt", "v": [["house", "bank_volts", True]]},
        {"k": "link", "t": 1.0, "d": "shunt", "up": 1, "why": ""},
        {"k": "tick", "t": None},
        {"k": "tick", "t": 1.0, "w": "late"},
        {"k": "command", "t": 1.0, "who": "Ada", "do": "note"},
        {"k": "frame", "t": 1.0, "d": "shunt", "tx": True, "b": "0g"},
    ],
)
def test_rows_not_made_as_rows_are_refused(row: dict[str, object]) -> None:
    with pytest.raises(RowError):
        from_row(row)


_json = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=5),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=3), inner),
    max_leaves=8,
)


@given(
    st.sampled_from(["reading", "link", "tick", "command", "frame"]),
    st.dictionaries(st.sampled_from(["t", "d", "v", "up", "why", "w", "do", "b", "tx"]), _json),
)
def test_nothing_but_a_row_error_comes_of_any_row(kind: str, rest: dict[str, object]) -> None:
    try:
        decoded = from_row({"k": kind, **rest})
    except RowError:
        return
    assert decoded.value is None or to_row(decoded.value)["k"] == kind


def test_quantities_stand_in_files_under_names_that_must_not_change() -> None:
    """A renamed quantity would make old captures unreadable; adding one is fine."""
    row = to_row(Reading(1.5, "shunt", ((Channel("house", Quantity.BANK_AMPS), -3.25),)))
    assert row == {"k": "reading", "t": 1.5, "d": "shunt", "v": [["house", "bank_amps", -3.25]]}
