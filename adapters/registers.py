"""Modbus device descriptions: which registers hold which figures, decoded and encoded.

A register image is a plain mapping from `(table, address)` to a 16-bit word. `decode` turns an
image into figures and `encode` figures into an image, so that the same description serves the
reader of a device and the bench that plays one.

Registers are 16 bits wide and big-endian on the wire; table sizes, the 125-register limit of one
read and addresses counted from 0 are those of the Modbus Application Protocol V1.1b3, 6.3 and 6.4.
"""

from __future__ import annotations

import math
import struct
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Final, NamedTuple

from adapters.checked_toml import Section, shown
from adapters.conversion import (
    PERIOD_BOUNDS,
    Conversion,
    Decoded,
    Doubt,
    Figures,
    Measurand,
    read_conversion,
)

Image = Mapping[tuple[str, int], int]

#: Function codes of the two tables that can be read in words (V1.1b3, 6.3 and 6.4).
READ_FUNCTION: Final = {"holding": 3, "input": 4}

MOST_REGISTERS_A_READ: Final = 125  # V1.1b3, 6.3
LAST_ADDRESS: Final = 0xFFFF

#: Registers worth reading for nothing rather than asking twice. A request and its turnaround cost
#: about as much as 10 registers at 9 600 baud (measured: 1 register 29 ms, 10 registers 47 ms).
BRIDGE: Final = 8


class NumberType(NamedTuple):
    """How a number lies in registers. `code` is that of `struct`, read big-endian."""

    registers: int
    code: str

    @property
    def is_float(self) -> bool:
        return self.code in "fd"

    @property
    def bits(self) -> int:
        return 16 * self.registers


TYPES: Final[dict[str, NumberType]] = {
    "int16": NumberType(1, "h"),
    "uint16": NumberType(1, "H"),
    "int32": NumberType(2, "i"),
    "uint32": NumberType(2, "I"),
    "int64": NumberType(4, "q"),
    "uint64": NumberType(4, "Q"),
    "float32": NumberType(2, "f"),
    "float64": NumberType(4, "d"),
}


def _swapped(word: int) -> int:
    return (word & 0xFF) << 8 | word >> 8


@dataclass(frozen=True, slots=True)
class Register:
    """One figure in the registers of a device: where, how it is written, what it means.

    `bits` is the lowest bit and the number of bits when the figure is only a part of the number.
    `absent` are raw numbers (bit patterns, for whole numbers) that say "not available".
    """

    table: str
    address: int
    type: NumberType
    conversion: Conversion
    words_little: bool = False
    bytes_little: bool = False
    bits: tuple[int, int] | None = None
    absent: tuple[int | float, ...] = ()

    @property
    def count(self) -> int:
        return self.type.registers

    @property
    def end(self) -> int:
        """The address after the last register."""
        return self.address + self.count

    @property
    def addresses(self) -> range:
        return range(self.address, self.end)

    def number(self, words: Iterable[int]) -> int | float:
        """The raw number in these words, in the order in which they stand in the device."""
        ordered = [_swapped(word) if self.bytes_little else word for word in words]
        if self.words_little:
            ordered.reverse()
        data = struct.pack(f">{len(ordered)}H", *ordered)
        number: int | float = struct.unpack(">" + self.type.code, data)[0]
        return number

    def words(self, number: int | float) -> list[int]:
        """The words that hold a raw number; `OverflowError` when it does not fit."""
        try:
            data = struct.pack(">" + self.type.code, number)
        except struct.error:
            raise OverflowError(f"{number} does not fit") from None
        ordered = list(struct.unpack(f">{self.count}H", data))
        if self.words_little:
            ordered.reverse()
        return [_swapped(word) if self.bytes_little else word for word in ordered]

    def is_absent(self, number: int | float) -> bool:
        """True for what the device writes where it has no figure; NaN always says so."""
        if self.type.is_float:
            return math.isnan(number) or number in self.absent
        return self._pattern(int(number)) in self.absent

    def _pattern(self, number: int) -> int:
        return number & ((1 << self.type.bits) - 1)

    def fact(self, number: int | float) -> float | str:
        """What a raw number means; `Doubt` when it cannot be true."""
        if self.bits:
            number = self._pattern(int(number)) >> self.bits[0] & ((1 << self.bits[1]) - 1)
        if self.conversion.codes:
            return self.conversion.fact_of_code(str(number))
        return self.conversion.fact_of_number(number)

    def raw(self, fact: float | str | None) -> int | float | None:
        """The raw number for a fact, or for "not available"; None where the device has none."""
        if fact is not None:
            number = self._raw_of_fact(fact)
            if number is not None:
                return number
        if self.type.is_float:
            return self.absent[0] if self.absent else math.nan
        if not self.absent:
            return None
        pattern = int(self.absent[0])
        signed = self.type.code.islower() and pattern >> (self.type.bits - 1)
        return pattern - (1 << self.type.bits) if signed else pattern

    def _raw_of_fact(self, fact: float | str) -> int | float | None:
        if self.conversion.codes:
            code = self.conversion.code_of_fact(fact)
            return None if code is None else int(code) << (self.bits or (0, 0))[0]
        if isinstance(fact, str) or not math.isfinite(fact):
            return None
        try:
            number = self.conversion.raw_of_number(fact)
            number = number if self.type.is_float else self._whole(round(number))
            self.words(number)
        except OverflowError:
            return None
        return None if self.is_absent(number) else number

    def _whole(self, number: int) -> int:
        if not self.bits:
            return number
        if not 0 <= number < 1 << self.bits[1]:
            raise OverflowError(f"{number} does not fit into {self.bits[1]} bits")
        return number << self.bits[0]

    def cover(self, number: int | float) -> list[int]:
        """The bits of each word that belong to this raw number, as masks."""
        if self.bits and not self.is_absent(number):
            return self.words(((1 << self.bits[1]) - 1) << self.bits[0])
        return [0xFFFF] * self.count


@dataclass(frozen=True, slots=True)
class Block:
    """Registers fetched by one read."""

    table: str
    address: int
    count: int

    @property
    def end(self) -> int:
        return self.address + self.count

    @property
    def place(self) -> tuple[str, int]:
        return self.table, self.address

    def __str__(self) -> str:
        if self.count == 1:
            return f"{self.table} register {self.address}"
        return f"{self.table} registers {self.address}..{self.end - 1}"


def compile_blocks(
    registers: Iterable[Register], bridge: int = BRIDGE, longest: int = MOST_REGISTERS_A_READ
) -> tuple[Block, ...]:
    """The fewest reads that fetch every register whole.

    Two figures share a read when at most `bridge` unwanted registers lie between them and the read
    stays within `longest`. Going from the lowest address and always taking as much as fits gives
    the fewest reads.
    """
    blocks: list[Block] = []
    for register in sorted(registers, key=lambda r: (r.table, r.address, r.count)):
        last = blocks[-1] if blocks else None
        if last and last.table == register.table and register.address - last.end <= bridge:
            end = max(last.end, register.end)
            if end - last.address <= longest:
                blocks[-1] = Block(last.table, last.address, end - last.address)
                continue
        blocks.append(Block(register.table, register.address, register.count))
    return tuple(blocks)


@dataclass(frozen=True, slots=True)
class ModbusDescription:
    """A Modbus device as its description tells it; made by `adapters.description.load_text`."""

    name: str
    title: str
    period_seconds: float
    device_id: int
    bridge: int
    longest_read: int
    registers: tuple[Register, ...]
    blocks: tuple[Block, ...] = field(default=())

    @property
    def measurands(self) -> tuple[Measurand, ...]:
        return tuple(register.conversion.measurand for register in self.registers)

    def registers_in(self, block: Block) -> tuple[Register, ...]:
        """The figures that a block holds whole."""
        return tuple(
            r
            for r in self.registers
            if r.table == block.table and block.address <= r.address and r.end <= block.end
        )

    def decode(self, image: Image) -> Decoded:
        """The figures in an image; those whose registers are missing from it are not mentioned."""
        decoded = Decoded()
        for register in self.registers:
            words = [image.get((register.table, address)) for address in register.addresses]
            known = [word for word in words if word is not None]
            if len(known) < register.count:
                continue
            number = register.number(known)
            if register.is_absent(number):
                continue
            measurand = register.conversion.measurand
            try:
                decoded.figures[measurand] = register.fact(number)
            except Doubt as doubt:
                place = f"{register.table} register {register.address}"
                decoded.left_out[measurand] = f"{measurand}: {doubt} ({place})"
        return decoded

    def encode(self, figures: Figures) -> dict[tuple[str, int], int]:
        """The image of a device that holds these figures.

        A figure that is not given, or that the device cannot hold, becomes "not available" where
        the description has a raw number for it; else its registers are missing from the image.
        """
        image: dict[tuple[str, int], int] = {}
        for register in self.registers:
            raw = register.raw(figures.get(register.conversion.measurand))
            if raw is None:
                continue
            words, covers = register.words(raw), register.cover(raw)
            for address, word, cover in zip(register.addresses, words, covers, strict=True):
                key = register.table, address
                image[key] = image.get(key, 0) & ~cover | word & cover
        return image


def read_modbus(root: Section, name: str) -> ModbusDescription:
    """Take every key of a Modbus description."""
    title = root.text("title", "")
    period = root.number("period_seconds", 1.0, low=PERIOD_BOUNDS[0], high=PERIOD_BOUNDS[1])
    device_id = root.whole("device_id", 1, low=1, high=247)  # Modbus over Serial Line V1.02, 2.2
    bridge = root.whole("bridge", BRIDGE, low=0, high=MOST_REGISTERS_A_READ)
    longest = root.whole("longest_read", MOST_REGISTERS_A_READ, low=4, high=MOST_REGISTERS_A_READ)
    first = root.whole("first_address", 0, low=0, high=1)
    orders = {key: root.choice(key, ("big", "little"), "big") for key in _ORDERS}
    sections = root.sections("registers", "at least one table [[registers]]")
    registers: list[Register] = []
    seen: dict[Measurand, Section] = {}
    for section in sections:
        register = _read_register(section, first, orders)
        measurand = register.conversion.measurand
        if measurand in seen:
            line = seen[measurand].line() or "?"
            raise section.error("quantity", f"{measurand} is already described on line {line}")
        seen[measurand] = section
        registers.append(register)
    root.done()
    blocks = compile_blocks(registers, bridge, longest)
    return ModbusDescription(
        name, title, period, device_id, bridge, longest, tuple(registers), blocks
    )


_ORDERS: Final = ("word_order", "byte_order")


def _read_register(section: Section, first: int, orders: Mapping[str, str]) -> Register:
    table = section.choice("table", READ_FUNCTION, "holding")
    kind = TYPES[section.choice("type", TYPES)]
    last = LAST_ADDRESS - kind.registers + 1 + first
    address = section.whole("address", low=first, high=last) - first
    own = {key: section.choice(key, ("big", "little"), orders[key]) for key in _ORDERS}
    bits = _read_bits(section, kind)
    absent = _read_absent(section, kind)
    conversion = read_conversion(section)
    _check_codes(section, conversion, kind, bits)
    section.done()
    return Register(
        table, address, kind, conversion,
        own["word_order"] == "little", own["byte_order"] == "little", bits, absent,
    )  # fmt: skip


def _check_codes(
    section: Section, conversion: Conversion, kind: NumberType, bits: tuple[int, int] | None
) -> None:
    if conversion.codes and kind.is_float:
        raise section.error("type", "words need a whole-number type; found a float")
    most = (1 << (bits[1] if bits else kind.bits)) - 1
    for code in conversion.codes:
        if not code.isdecimal() or int(code) > most:
            raise section.error(
                "words", f"expected whole numbers from 0 to {most} as codes; found {shown(code)}"
            )


def _read_bits(section: Section, kind: NumberType) -> tuple[int, int] | None:
    """`bits = 5` is one bit, `bits = [4, 6]` those from 4 to 6; bit 0 is the lowest."""
    expected = f"a bit from 0 to {kind.bits - 1}, or the lowest and the highest of several"
    found = section.items("bits", expected)
    if not found:
        return None
    whole = [bit for bit in found if isinstance(bit, int) and 0 <= bit < kind.bits]
    if kind.is_float or kind.code.islower():
        raise section.error("bits", "bits need an unsigned type such as uint16")
    if len(whole) != len(found) or len(found) > 2 or whole[0] > whole[-1]:
        raise section.error("bits", f"expected {expected}; found {shown(found)}")
    return whole[0], whole[-1] - whole[0] + 1


def _read_absent(section: Section, kind: NumberType) -> tuple[int | float, ...]:
    expected = "a number, or a list of them, as the registers hold it"
    absent: list[int | float] = []
    for number in section.items("absent", expected):
        if isinstance(number, bool) or not isinstance(number, int | float):
            raise section.error("absent", f"expected {expected}; found {shown(number)}")
        if kind.is_float:
            absent.append(float(number))
            continue
        low = -(1 << kind.bits - 1)
        if not isinstance(number, int) or not low <= number < 1 << kind.bits:
            raise section.error(
                "absent", f"expected whole numbers of {kind.bits} bits; found {shown(number)}"
            )
        absent.append(number & ((1 << kind.bits) - 1))
    return tuple(absent)
