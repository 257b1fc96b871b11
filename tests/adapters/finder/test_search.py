"""The finder's rules, one by one, and whole on random devices of which the truth is known."""

from __future__ import annotations

import struct

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from adapters.adapter import LinkError
from adapters.description import load_text
from adapters.finder.advice import decided, disagreed, next_step, remaining, wanting
from adapters.finder.search import Candidate, Search, Seen
from adapters.finder.sweep import Sweeper, Swept, around
from adapters.finder.views import KINDS, Formula, View, views
from adapters.finder.writing import description_text
from adapters.modbus_link import Refused
from adapters.reading import Quantity
from adapters.registers import Block, ModbusDescription
from tests.reference.find_benchmark import ROWS, measure, run

Words = dict[int, int]


def image(words: Words) -> dict[tuple[str, int], int]:
    return {("holding", at): word for at, word in words.items()}


def seen(figure: float, *words: Words, digit: float = 0.01) -> Seen:
    return Seen(figure, digit, tuple(image(each) for each in words))


def search(kind: str, *readings: Seen) -> Search:
    made = Search(KINDS[kind])
    for reading in readings:
        made.read(reading)
    return made


def test_every_way_a_number_may_lie_there() -> None:
    high, low = struct.unpack(">HH", struct.pack(">f", 13.42))
    found = {
        (view.kind, view.words_little, view.address): view.raw(image({0: high, 1: low}))
        for view in views(image({0: high, 1: low}))
    }
    assert found["float32", False, 0] == pytest.approx(13.42, abs=1e-6)
    assert found["uint16", False, 1] == low
    assert found["int32", True, 0] == struct.unpack(">i", struct.pack(">HH", low, high))[0]
    assert View("holding", 1, "float32").raw(image({0: high, 1: low})) is None


def test_what_a_float_of_two_counters_says_is_no_figure() -> None:
    assert View("holding", 0, "float32").raw(image({0: 0, 1: 77})) is None
    assert View("holding", 0, "float32").raw(image({0: 0x7FC0, 1: 0})) is None  # not a number


def test_one_reading_leaves_what_stands_where_the_meter_stands() -> None:
    words = {0: 1342, 1: 13420, 2: 134, 3: 1500, 4: 77}
    answers = search("V", seen(13.42, words)).answers()
    assert {(each.view.address, each.formula.unit) for each in answers} == {
        (0, "V"),
        (1, "mV"),
        (2, "V"),
    }


def test_a_step_coarser_than_a_tenth_says_nothing() -> None:
    assert search("V", seen(13.0, {0: 13})).candidates == []
    assert "No register shows that voltage" in disagreed(search("V", seen(13.0, {0: 13})))
    assert search("A", seen(13.0, {0: 13}, digit=0.1)).candidates == []


def test_the_move_tells_terminals_from_posts_though_both_stand_near() -> None:
    """0.12 V apart with the charger on is within 1 % of 13.4 V, but not of a move of 0.8 V."""
    off, on = {0: 1260, 1: 1262}, {0: 1340, 1: 1354}
    assert len(search("V", seen(12.60, off)).answers()) == 2
    assert len(search("V", seen(13.40, on)).answers()) == 2
    (left,) = search("V", seen(12.60, off), seen(13.40, on)).answers()
    assert left.view.address == 0


def test_gain_errors_of_device_and_meter_cancel_or_stay_within() -> None:
    """A device 0.3 % high and a meter 0.5 % low over a volt and a half."""
    readings = [
        seen(round(volts * 0.995, 2), {0: round(volts * 1.003 * 100)})
        for volts in (12.6, 14.1, 12.1, 13.6)
    ]
    (left,) = search("V", *readings).answers()
    assert left.view.address == 0


def test_a_late_person_is_forgiven_and_a_wild_register_is_not() -> None:
    """The meter was read between the two sweeps; a register that leaps meanwhile is no answer."""
    made = search("V", seen(13.05, {0: 1300, 1: 900}, {0: 1310, 1: 1700}))
    assert [each.view.address for each in made.answers()] == [0]


def test_a_current_may_be_counted_the_other_way() -> None:
    made = search("A", seen(20.0, {0: 0x10000 - 200}, digit=0.1), seen(-8.0, {0: 80}, digit=0.1))
    (left,) = made.answers()
    assert (left.sign, left.formula.scale) == (-1, 0.1)


def test_equal_answers_are_merged() -> None:
    """A 32-bit number with an empty high word is its low word; mA and 1024ths are as good."""
    (left,) = search("V", seen(13.42, {4: 0, 5: 13420}), seen(12.9, {4: 0, 5: 12900})).answers()
    assert (left.view.address, left.view.kind, left.formula.unit) == (5, "uint16", "mV")
    high, low = struct.unpack(">HH", struct.pack(">f", 13.42))
    after = struct.unpack(">HH", struct.pack(">f", 12.9))
    (left,) = search(
        "V", seen(13.42, {7: high, 8: low, 6: 9}), seen(12.9, {7: after[0], 8: after[1], 6: 9})
    ).answers()
    assert left.view.kind == "float32"
    assert not left.view.words_little


@pytest.mark.parametrize(
    ("word", "unit"), [(215, "°C"), (2947, "K"), (71, "°F"), (0x10000 - 0, "°C")]
)
def test_temperatures_in_the_scales_devices_use(word: int, unit: str) -> None:
    celsius = {215: 21.5, 2947: 21.5, 71: 21.7, 0x10000: 0.0}[word]
    made = search("C", seen(celsius, {0: word & 0xFFFF}, digit=0.1))
    assert unit in {each.formula.unit for each in made.candidates}


def test_it_asks_for_both_ways_and_says_why() -> None:
    made = Search(KINDS["V"])
    assert "charger off" in next_step(made)
    made.read(seen(12.60, {0: 1260, 1: 1260}))
    assert "constants cannot be told from it" in wanting(made)
    made.read(seen(13.20, {0: 1320, 1: 1320}))
    assert "only risen" in wanting(made)
    assert "highest of the day cannot be told apart until it falls" in wanting(made)
    assert "load on" in next_step(made)
    assert remaining(made) == "2 answers still agree with every reading of the voltage."
    made.read(seen(12.30, {0: 1230, 1: 1320}))
    assert remaining(made) == "One answer is left for the voltage."
    assert decided(made) is None  # by three readings it may be chance
    assert wanting(made) == "1 more reading of another size"
    made.read(seen(13.00, {0: 1300, 1: 1320}))
    assert decided(made) is not None
    assert not made.read(seen(15.00, {0: 1300, 1: 1320}))
    assert "no register agrees with that reading" in disagreed(made)
    assert decided(made) is not None  # one slip of the pen throws nothing away


def test_a_reading_is_compared_with_what_was_read_around_it() -> None:
    sweeps = [Swept(at, at + 0.5, {("holding", 0): at}) for at in (0, 4, 6, 8, 9)]
    assert [each["holding", 0] for each in around(sweeps, 7.2)] == [4, 6, 8]
    assert [each["holding", 0] for each in around(sweeps, 30.0)] == [9]


class Device:
    """Answers only where it has registers; counts what was asked."""

    def __init__(self, present: set[int], tables: tuple[str, ...] = ("holding",)) -> None:
        self.present, self.tables, self.silent = present, tables, False
        self.asked: list[Block] = []

    async def read(self, block: Block) -> list[int]:
        self.asked.append(block)
        if self.silent:
            raise LinkError("no answer")
        if block.table not in self.tables:
            raise Refused(1)
        if not set(range(block.address, block.end)) <= self.present:
            raise Refused(2)
        return list(range(block.address, block.end))


async def test_a_refused_block_is_halved_down_to_single_registers() -> None:
    device = Device({3, 4, 5, 100} | set(range(64, 96)))
    sweeper = Sweeper(device, [Block("holding", 0, 200), Block("input", 0, 200)], lambda: 0.0)
    swept = await sweeper.explore()
    assert {address for _, address in swept.image} == device.present
    assert all(swept.image["holding", at] == at for at in device.present)
    assert sum(block.table == "input" for block in device.asked) == 1
    device.asked.clear()
    again = await sweeper.sweep()
    assert again.image == swept.image
    assert len(device.asked) <= 5


async def test_a_device_that_is_not_there_is_given_up_soon() -> None:
    device = Device(set())
    device.silent = True
    with pytest.raises(LinkError):
        await Sweeper(device, [Block("holding", 0, 65536)], lambda: 0.0).explore()
    assert len(device.asked) == 3


def test_the_description_it_writes_reads_the_same_figures() -> None:
    found = {
        Quantity.BANK_VOLTS: Candidate(
            View("holding", 10, "float32", words_little=True), Formula(1.0, 0.0, "V", 0.0), 1
        ),
        Quantity.BANK_AMPS: Candidate(View("input", 20, "int16"), Formula(0.1, 0.0, "A", 0.0), -1),
        Quantity.BANK_CELSIUS: Candidate(
            View("holding", 30, "uint16"), Formula(1 / 32, -273.0, "°C", 0.5), 1
        ),
    }
    text = description_text(found, 'my "shunt"', 7, {Quantity.BANK_VOLTS: "at 13.42 V"})
    description = load_text(text, "shunt.toml")
    assert isinstance(description, ModbusDescription)
    assert description.device_id == 7
    assert "# at 13.42 V" in text
    high, low = struct.unpack(">HH", struct.pack(">f", 13.42))
    words = {
        ("holding", 10): low,
        ("holding", 11): high,
        ("input", 20): 0x10000 - 85,
        ("holding", 30): round((21.5 + 273.0) * 32),
    }
    figures = {
        measurand.quantity: figure
        for measurand, figure in description.decode(words).figures.items()
    }
    assert figures[Quantity.BANK_VOLTS] == pytest.approx(13.42, abs=1e-5)
    assert figures[Quantity.BANK_AMPS] == pytest.approx(8.5)
    assert figures[Quantity.BANK_CELSIUS] == pytest.approx(21.5, abs=1 / 32)
    for candidate in found.values():
        unit = {"°C": "C"}.get(candidate.formula.unit, candidate.formula.unit)
        assert candidate.figure(words, KINDS[unit]) is not None


@pytest.mark.parametrize("row", ROWS[:2] + ROWS[4:], ids=lambda row: row.name)
def test_on_random_devices_the_truth_stands_and_stands_alone(row: object) -> None:
    """A small real part of the benchmark: `make find-benchmark` has 200 devices a row."""
    result = measure(row, 12)  # type: ignore[arg-type]
    assert result.rejected == 0
    assert result.first == 1.0
    assert result.finer == 1.0


@settings(max_examples=15, deadline=None)
@given(st.integers(1000, 10**6), st.sampled_from(["V", "A"]), st.sampled_from([0.0, 1.0]))
def test_the_truth_is_never_rejected(seed: int, unit: str, skew: float) -> None:
    assert not run(seed, unit, ROWS[0].script, skew).rejected


def test_what_only_rises_is_not_called_decided() -> None:
    assert not any(run(seed, "V", ROWS[2].script, 0.0).rejected for seed in range(4))
