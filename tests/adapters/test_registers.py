"""Registers to figures and back, for every type and order, and the blocks they are read in."""

from __future__ import annotations

import itertools
import math
import struct

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pymodbus.client.mixin import ModbusClientMixin

from adapters.conversion import Conversion, Measurand
from adapters.description import load_text
from adapters.reading import Quantity
from adapters.registers import TYPES, Block, ModbusDescription, Register, compile_blocks

quick = settings(max_examples=80, deadline=None)

VOLTS = Measurand(Quantity.BANK_VOLTS)
AMPS = Measurand(Quantity.BANK_AMPS)

types = st.sampled_from(sorted(TYPES))
words16 = st.integers(0, 0xFFFF)


def register(kind: str, scale: float = 1.0, **options: object) -> Register:
    conversion = Conversion(AMPS, scale=scale)
    return Register("holding", 7, TYPES[kind], conversion, **options)  # type: ignore[arg-type]


def described(text: str) -> ModbusDescription:
    description = load_text('kind = "modbus"\n' + text, "test.toml")
    assert isinstance(description, ModbusDescription)
    return description


@quick
@given(kind=types, words_little=st.booleans(), bytes_little=st.booleans(), data=st.data())
def test_any_words_survive_the_way_in_and_out(
    kind: str, words_little: bool, bytes_little: bool, data: st.DataObject
) -> None:
    count = TYPES[kind].registers
    words = data.draw(st.lists(words16, min_size=count, max_size=count))
    it = register(kind, words_little=words_little, bytes_little=bytes_little)
    number = it.number(words)
    if isinstance(number, float) and math.isnan(number):
        return  # which of the many NaN it was is not kept
    assert it.words(number) == words


@quick
@given(kind=types, little=st.booleans(), data=st.data())
def test_numbers_agree_with_pymodbus(kind: str, little: bool, data: st.DataObject) -> None:
    """pymodbus decodes the same words to the same number, both word orders."""
    count = TYPES[kind].registers
    words = data.draw(st.lists(words16, min_size=count, max_size=count))
    theirs = ModbusClientMixin.convert_from_registers(
        words,
        ModbusClientMixin.DATATYPE[kind.upper()],
        word_order="little" if little else "big",
    )
    ours = register(kind, words_little=little).number(words)
    assert ours == theirs or (ours != ours and theirs != theirs)


def test_the_four_orders_of_a_32_bit_number() -> None:
    """12.5 is 0x41480000: each order by hand."""
    expected = {
        (False, False): [0x4148, 0x0000],
        (True, False): [0x0000, 0x4148],
        (False, True): [0x4841, 0x0000],
        (True, True): [0x0000, 0x4841],
    }
    for (words_little, bytes_little), words in expected.items():
        it = register("float32", words_little=words_little, bytes_little=bytes_little)
        assert it.words(12.5) == words
        assert it.number(words) == 12.5


@quick
@given(
    kind=types,
    words_little=st.booleans(),
    bytes_little=st.booleans(),
    scale=st.sampled_from([1.0, 0.1, 0.01, -0.1, 2.0]),
    amps=st.floats(-2000.0, 2000.0),
)
def test_every_figure_survives_encoding_to_half_a_step(
    kind: str, words_little: bool, bytes_little: bool, scale: float, amps: float
) -> None:
    it = register(kind, scale, words_little=words_little, bytes_little=bytes_little)
    description = ModbusDescription("test", "", 1.0, 1, 0, 125, (it,))
    image = description.encode({AMPS: amps})
    if not image:
        raw = round(amps / scale)
        with pytest.raises(struct.error):
            struct.pack(">" + it.type.code, raw)
        return
    back = description.decode(image).figures[AMPS]
    step = abs(scale) / 2 if not it.type.is_float else 2000.0 * 2**-23
    assert back == pytest.approx(amps, abs=step * 1.0001)


@pytest.mark.parametrize(
    ("kind", "absent", "words"),
    [
        ("uint16", "0xFFFF", [0xFFFF]),
        ("int16", "0x8000", [0x8000]),
        ("int16", "-1", [0xFFFF]),
        ("uint32", "0xFFFFFFFF", [0xFFFF, 0xFFFF]),
        ("int64", "0x8000000000000000", [0x8000, 0, 0, 0]),
        ("float32", "-9999.0", [0xC61C, 0x3C00]),
        ("float32", "[]", [0x7FC0, 0]),
        ("float64", "[]", [0x7FF8, 0, 0, 0]),
    ],
)
def test_not_available_is_neither_a_figure_nor_a_fault(
    kind: str, absent: str, words: list[int]
) -> None:
    description = described(
        f'[[registers]]\nquantity = "bank_volts"\naddress = 0\ntype = "{kind}"\nunit = "V"\n'
        f"absent = {absent}\n"
    )
    image = {("holding", address): word for address, word in enumerate(words)}
    decoded = description.decode(image)
    assert decoded.figures == {}
    assert decoded.left_out == {}
    assert description.encode({}) == image


def test_a_figure_outside_its_range_is_left_out_with_the_reason() -> None:
    description = described(
        '[[registers]]\nquantity = "bank_volts"\naddress = 9\ntype = "uint16"\nunit = "mV"\n'
        '[[registers]]\nquantity = "bank_celsius"\naddress = 10\ntype = "int16"\nunit = "°C"\n'
    )
    decoded = description.decode({("holding", 9): 400, ("holding", 10): 21})
    assert decoded.figures == {Measurand(Quantity.BANK_CELSIUS): 21.0}
    assert decoded.left_out == {VOLTS: "bank_volts: 0.4 V is outside 2..80 V (holding register 9)"}


BITS = """
[[registers]]
quantity = "reported_stage"
address = 20
type = "uint16"
bits = [4, 6]
words = { "0" = "off", "1" = "bulk", "2" = "absorption" }
[[registers]]
quantity = "charge_permitted"
address = 20
type = "uint16"
bits = 0
words = { "0" = "yes", "1" = "no" }
[[registers]]
quantity = "discharge_permitted"
address = 20
type = "uint16"
bits = 15
"""


@quick
@given(
    stage=st.sampled_from(["off", "bulk", "absorption"]),
    charge=st.sampled_from([0.0, 1.0]),
    discharge=st.sampled_from([0.0, 1.0]),
)
def test_several_figures_share_a_register(stage: str, charge: float, discharge: float) -> None:
    description = described(BITS)
    figures: dict[Measurand, float | str] = {
        Measurand(Quantity.REPORTED_STAGE): stage,
        Measurand(Quantity.CHARGE_PERMITTED): charge,
        Measurand(Quantity.DISCHARGE_PERMITTED): discharge,
    }
    assert description.blocks == (Block("holding", 20, 1),)
    assert description.decode(description.encode(figures)).figures == figures


def test_bits_are_where_the_description_says() -> None:
    decoded = described(BITS).decode({("holding", 20): 0b1000_0000_0001_0001})
    assert decoded.figures == {
        Measurand(Quantity.REPORTED_STAGE): "bulk",
        Measurand(Quantity.CHARGE_PERMITTED): 0.0,
        Measurand(Quantity.DISCHARGE_PERMITTED): 1.0,
    }


def test_a_stage_code_without_a_word_is_unknown() -> None:
    decoded = described(BITS).decode({("holding", 20): 0b0111_0000})
    assert decoded.figures[Measurand(Quantity.REPORTED_STAGE)] == "unknown"


def test_addresses_counted_from_one() -> None:
    text = '[[registers]]\nquantity = "bank_volts"\naddress = 1\ntype = "uint16"\nunit = "V"\n'
    assert described("first_address = 1\n" + text).blocks == (Block("holding", 0, 1),)
    assert described(text).blocks == (Block("holding", 1, 1),)


layouts = st.lists(
    st.tuples(
        st.sampled_from(["holding", "input"]), st.integers(0, 400), st.sampled_from(sorted(TYPES))
    ),
    min_size=1,
    max_size=12,
)


def placed(layout: list[tuple[str, int, str]]) -> list[Register]:
    return [Register(t, a, TYPES[kind], Conversion(VOLTS)) for t, a, kind in layout]


@quick
@given(layout=layouts, bridge=st.integers(0, 125), longest=st.integers(4, 125))
def test_blocks_fetch_every_register_whole_and_keep_the_limits(
    layout: list[tuple[str, int, str]], bridge: int, longest: int
) -> None:
    registers = placed(layout)
    blocks = compile_blocks(registers, bridge, longest)
    wanted = {(r.table, address) for r in registers for address in r.addresses}
    for block in blocks:
        assert block.count <= longest
        gap = 0
        for address in range(block.address, block.end):
            gap = 0 if (block.table, address) in wanted else gap + 1
            assert gap <= bridge
        assert (block.table, block.address) in wanted
        assert (block.table, block.end - 1) in wanted
    for it in registers:
        assert any(
            b.table == it.table and b.address <= it.address and it.end <= b.end for b in blocks
        )


@quick
@given(
    layout=st.lists(
        st.tuples(st.just("holding"), st.integers(0, 30), st.sampled_from(["int16", "int32"])),
        min_size=1,
        max_size=6,
        unique_by=lambda item: item[1],
    ),
    bridge=st.integers(0, 8),
    longest=st.integers(4, 12),
)
def test_no_cutting_into_runs_needs_fewer_reads(
    layout: list[tuple[str, int, str]], bridge: int, longest: int
) -> None:
    """Against every way of cutting the sorted registers into consecutive runs."""
    registers = sorted(placed(layout), key=lambda r: (r.address, r.count))

    def allowed(run: list[Register]) -> bool:
        end = run[0].end
        for it in run[1:]:
            if it.address - end > bridge:
                return False
            end = max(end, it.end)
        return end - run[0].address <= longest

    def fewest() -> int:
        for cuts in range(len(registers)):
            for places in itertools.combinations(range(1, len(registers)), cuts):
                edges = [0, *places, len(registers)]
                runs = [registers[a:b] for a, b in itertools.pairwise(edges)]
                if all(allowed(run) for run in runs):
                    return len(runs)
        raise AssertionError

    assert len(compile_blocks(registers, bridge, longest)) == fewest()


def test_no_bridging_when_told_not_to() -> None:
    registers = placed([("holding", 0, "int16"), ("holding", 2, "int16"), ("holding", 3, "int16")])
    assert compile_blocks(registers, bridge=0) == (Block("holding", 0, 1), Block("holding", 2, 2))
    assert compile_blocks(registers, bridge=1) == (Block("holding", 0, 4),)
