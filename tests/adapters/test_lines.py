"""Text lines to figures: every format, and garbage of every kind."""

from __future__ import annotations

import itertools
import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from adapters.conversion import Measurand
from adapters.description import load_text
from adapters.line_formats import Csv, Format, Json, KeyValue, Sentence, checksum
from adapters.line_sets import LineSplitter, SetCollector
from adapters.reading import Quantity
from adapters.text_lines import LinesDescription

quick = settings(max_examples=30, deadline=None)

VOLTS = Measurand(Quantity.BANK_VOLTS)
AMPS = Measurand(Quantity.BANK_AMPS)
CELSIUS = Measurand(Quantity.BANK_CELSIUS)

FIELDS = """
[[fields]]
{volts}
quantity = "bank_volts"
unit = "V"
[[fields]]
{amps}
quantity = "bank_amps"
unit = "A"
positive = "charging"
[[fields]]
{celsius}
quantity = "bank_celsius"
unit = "°C"
optional = true
absent = ["open", "-999"]
"""

NAMED = FIELDS.format(volts='name = "v"', amps='name = "i"', celsius='name = "t"')
HEADS = {
    "one pair a line": 'format = "key-value"\n' + NAMED,
    "pairs on one line": 'format = "key-value"\npair_separator = ";"\n' + NAMED,
    "columns": 'format = "csv"\ncolumns = ["n", "v", "i", "t"]\n' + NAMED,
    "columns by number": 'format = "csv"\nseparator = " "\ncolumns = 3\n'
    + FIELDS.format(volts="position = 1", amps="position = 2", celsius="position = 3"),
    "json": 'format = "json"\n'
    + FIELDS.format(volts='name = "b.v"', amps='name = "b.i"', celsius='name = "t"'),
    "sentence": 'format = "sentence"\n'
    + FIELDS.format(
        volts='sentence = "BB"\nposition = 1',
        amps='sentence = "BB"\nposition = 3',
        celsius='sentence = "TT"\nposition = 2',
    ),
    "end marker": 'format = "key-value"\nend_marker = "END"\n' + NAMED,
}


def described(text: str) -> LinesDescription:
    description = load_text('kind = "lines"\n' + text, "test.toml")
    assert isinstance(description, LinesDescription)
    return description


class Reader:
    """Splitter and collector together, as the adapter uses them."""

    def __init__(self, description: LinesDescription, *, joining: bool = False) -> None:
        self.splitter = LineSplitter(description.longest_line, joining=joining)
        self.collector = SetCollector(description, longest_seconds=2.0)

    def settled(self) -> Reader:
        """One that has heard three bursts before, so that it knows which line begins a set."""
        for number in range(-4, -1):
            self.feed(b"v=11.0\ni=0\n", float(number))
        return self

    def feed(self, data: bytes, seconds: float = 0.0) -> list[dict[Measurand, float | str]]:
        sets = [self.collector.feed(line, seconds) for line in self.splitter.feed(data)]
        return [found.figures for found in sets if found]


@pytest.mark.parametrize("head", HEADS)
@quick
@given(
    volts=st.floats(2.0, 80.0),
    amps=st.floats(-2000.0, 2000.0),
    celsius=st.none() | st.floats(-39.0, 90.0),
    cuts=st.lists(st.integers(0, 120), max_size=6),
)
def test_a_set_survives_the_way_out_and_back_in_pieces(
    head: str, volts: float, amps: float, celsius: float | None, cuts: list[int]
) -> None:
    description = described(HEADS[head])
    figures: dict[Measurand, float | str] = {VOLTS: volts, AMPS: amps}
    if celsius is not None:
        figures[CELSIUS] = celsius
    data = description.encode(figures)
    reader, found = Reader(description).settled(), []
    for piece in pieces(data, cuts):
        found += reader.feed(piece)
    if head == "one pair a line" or head == "sentence":
        # The optional figure comes after the set is complete, and belongs to the next one.
        figures.pop(CELSIUS, None)
    assert found == [{m: pytest.approx(figure, abs=0.00051) for m, figure in figures.items()}]


def pieces(data: bytes, cuts: list[int]) -> list[bytes]:
    edges = sorted({0, len(data), *(cut for cut in cuts if cut < len(data))})
    return [data[a:b] for a, b in itertools.pairwise(edges)]


@pytest.mark.parametrize("head", HEADS)
@quick
@given(data=st.lists(st.binary(max_size=300), max_size=8))
def test_no_bytes_raise(head: str, data: list[bytes]) -> None:
    reader = Reader(described(HEADS[head]))
    for number, piece in enumerate(data):
        reader.feed(piece, float(number))
        assert len(reader.splitter._rest) <= reader.splitter._longest


lineish = st.text(st.sampled_from('vit=;,:$*{}[]"0123456789.-+eE BTNaninfopen\\'), max_size=60)
formats: list[Format] = [
    KeyValue("=", ""),
    KeyValue(" ", ";"),
    Csv(",", 3),
    Csv(" ", 2),
    Json(),
    Sentence("$"),
]


@pytest.mark.parametrize("shape", formats, ids=str)
@quick
@given(line=lineish | st.text(max_size=80))
def test_no_line_raises(shape: Format, line: str) -> None:
    shape.parse(line)


@pytest.mark.parametrize("head", HEADS)
@quick
@given(line=lineish)
def test_no_line_gives_a_figure_that_cannot_be_true(head: str, line: str) -> None:
    for figures in Reader(described(HEADS[head])).feed(line.encode() + b"\n"):
        assert all(isinstance(figure, float) for figure in figures.values())
        assert all(-2000.0 <= float(figure) <= 2000.0 for figure in figures.values())


@pytest.mark.parametrize("head", HEADS)
@quick
@given(noise=st.binary(max_size=400))
def test_the_second_good_set_after_garbage_is_read(head: str, noise: bytes) -> None:
    """Resynchronisation: the first set after noise may be spoilt by it, the second never is."""
    description = described(HEADS[head])
    good = description.encode({VOLTS: 12.5, AMPS: -3.0, CELSIUS: 20.0})
    reader = Reader(description).settled()
    reader.feed(noise)
    found = reader.feed(good + good, 1.0)
    assert found
    assert found[-1][VOLTS] == 12.5
    assert found[-1][AMPS] == -3.0


def test_joining_a_talking_device_skips_the_torn_line() -> None:
    """ "112.5" cut to "12.5" would be believed."""
    description = described(HEADS["columns"])
    assert Reader(description, joining=True).feed(b"2.5,1,2,3\n0,12.6,1,20\n") == [
        {VOLTS: 12.6, AMPS: 1.0, CELSIUS: 20.0}
    ]


def test_a_line_without_end_does_not_fill_the_memory() -> None:
    splitter = LineSplitter(80, joining=False)
    for _ in range(10_000):
        assert splitter.feed(b"x" * 50) == []
    assert len(splitter._rest) <= 80
    assert splitter.feed(b"\nhello\n") == ["hello"]
    assert splitter.thrown_away == 1


def test_lines_end_with_either_sign_or_both() -> None:
    assert LineSplitter(80, joining=False).feed(b"a\rb\nc\r\n\r\nd\n") == ["a", "b", "c", "d"]


@pytest.mark.parametrize(
    "line", ["$BB,12.6,,1*00", "BB,12.6,,1*2C", "$BB,12.6,,1", "$BB,12.6,,1*2", "$*00", "$BB*00"]
)
def test_a_sentence_whose_check_is_wrong_is_garbage(line: str) -> None:
    assert Sentence("$").parse(line) is None


def test_the_check_of_a_sentence_by_hand() -> None:
    """A ^ B ^ C = 0x41 ^ 0x42 ^ 0x43 = 0x40; noise before the start is skipped."""
    assert checksum("ABC") == 0x40
    body = "BB,12.6,x,-3"
    assert Sentence("$").parse(f"\x7f#$?${body}*{checksum(body):02x}") == {
        "BB:1": "12.6",
        "BB:2": "x",
        "BB:3": "-3",
    }


@quick
@given(at=st.integers(0, 20), byte=st.integers(33, 126))
def test_one_wrong_character_never_passes_the_check(at: int, byte: int) -> None:
    description = described(HEADS["sentence"])
    (good, *_) = description.encode({VOLTS: 12.5, AMPS: -30.25}).split(b"\r\n")
    at %= len(good)
    if good[at] == byte:
        return
    damaged = good[:at] + bytes([byte]) + good[at + 1 :]
    found = Sentence("$").parse(damaged.decode())
    # Of the check itself one letter case is free.
    assert found is None or damaged.upper() == good.upper()


def test_a_line_that_lost_a_column_is_refused_whole() -> None:
    reader = Reader(described(HEADS["columns"]))
    assert reader.feed(b"1,12.6,4\n1,12.6,4,20,5\n") == []
    assert reader.collector.garbage == 2


def test_a_header_line_is_no_set() -> None:
    reader = Reader(described(HEADS["columns"]))
    assert reader.feed(b"n,v,i,t\n") == []
    assert reader.feed(b"1,12.6,4,20\n") == [{VOLTS: 12.6, AMPS: 4.0, CELSIUS: 20.0}]


@pytest.mark.parametrize("text", ["", "open", "-999"])
def test_not_available_is_neither_figure_nor_fault(text: str) -> None:
    description = described(HEADS["columns"])
    decoded = description.decode({"2": "12.6", "3": "1", "4": text})
    assert CELSIUS not in decoded.figures
    assert decoded.left_out == {}


@pytest.mark.parametrize(
    "text", ["nan", "inf", "1_0", "0x10", "12.6V", "1,5", "٣", "9" * 40, "--1"]
)
def test_what_is_no_plain_number_is_left_out_with_the_reason(text: str) -> None:
    decoded = described(HEADS["columns"]).decode({"2": "12.6", "3": "1", "4": text})
    assert decoded.figures == {VOLTS: 12.6, AMPS: 1.0}
    assert "bank_celsius" in decoded.left_out[CELSIUS]


def test_figures_of_different_moments_are_never_one_set() -> None:
    reader = Reader(described(HEADS["one pair a line"])).settled()
    before = reader.collector.broken_sets
    assert reader.feed(b"v=12.6\n", 0.0) == []
    assert reader.feed(b"i=1\n", 5.0) == []  # five seconds later: the voltage is old
    assert reader.feed(b"v=12.7\ni=2\n", 5.01) == [{VOLTS: 12.7, AMPS: 2.0}]
    assert reader.collector.broken_sets == before + 1


def test_two_bursts_read_at_once_by_a_late_reader_are_never_one_set() -> None:
    """The reader joins behind the first line, and sleeps where the pause would have told."""
    reader = Reader(described(HEADS["one pair a line"]))
    assert reader.feed(b"i=1\nv=12.02\ni=2\nv=12.03\n", 0.0) == []
    found = []
    for number in range(3, 9):
        lines = f"i={number}\nv={12 + (number + 1) / 100}\n"
        found += reader.feed(lines[: lines.index("v")].encode(), number - 0.001)
        found += reader.feed(lines[lines.index("v") :].encode(), number + 0.999)
    assert len(found) >= 2
    for figures in found:
        assert figures[VOLTS] == pytest.approx(12 + float(figures[AMPS]) / 100)


def test_a_sleep_in_the_middle_of_a_set_misleads_nobody() -> None:
    reader = Reader(described(HEADS["one pair a line"]))
    for number in range(3):
        reader.feed(f"v={12 + number / 100}\ni={number}\n".encode(), float(number))
    assert reader.feed(b"v=12.03\n", 3.0) == []
    # the reader sleeps for two bursts and then gets the rest in one piece
    found = reader.feed(b"i=3\nv=12.04\ni=4\nv=12.05\ni=5\n", 5.1)
    for figures in found:
        assert figures[VOLTS] == pytest.approx(12 + float(figures[AMPS]) / 100)
    assert len(found) >= 2


@pytest.mark.parametrize("seed", range(5))
def test_a_reader_that_sleeps_at_random_mixes_nothing(seed: int) -> None:
    """Lines trickle in at 9 600 baud; every fifth look of the reader comes up to two periods
    late, and he begins to listen anywhere."""
    chance = random.Random(seed)
    sent = [
        (number + 0.01 * place, line)
        for number in range(200)
        for place, line in enumerate((f"v={12 + number / 1000}\n", f"i={number}\n", "t=1\n"))
    ]
    reader = Reader(described(HEADS["one pair a line"].replace("optional = true", "")))
    reader.collector._longest = 0.9
    waiting = sent[chance.randrange(4) :]
    now, found = 0.0, []
    while waiting:
        now = max(now, waiting[0][0]) + (chance.uniform(0.0, 2.0) if chance.random() < 0.2 else 0)
        piece = "".join(line for seconds, line in waiting if seconds <= now)
        waiting = [(seconds, line) for seconds, line in waiting if seconds > now]
        found += reader.feed(piece.encode(), now)
    for figures in found:
        assert figures[VOLTS] == pytest.approx(12 + float(figures[AMPS]) / 1000)
    assert len(found) >= 60


@quick
@given(
    period=st.sampled_from([0.2, 1.0, 10.0]),
    burst=st.floats(0.0, 0.29),
    first=st.integers(0, 2),
    lost=st.sets(st.integers(0, 30), max_size=4),
)
def test_joining_between_two_lines_of_a_set_never_pairs_different_moments(
    period: float, burst: float, first: int, lost: set[int]
) -> None:
    """Voltage tells the current: 12 + n / 100 V with n A in the n-th burst of three lines. Any
    line may be the first that is heard, and some are lost on the way. The period told by the
    description is right, as it must be for a lost line to be noticed."""
    reader = Reader(described(HEADS["one pair a line"].replace("optional = true", "")))
    reader.collector._longest = 0.9 * period
    heard = 0
    found = []
    for number in range(12):
        lines = [f"v={12 + number / 100}\n", f"i={number}\n", f"t={number}\n"]
        for index, line in enumerate(lines):
            place = 3 * number + index
            if place < first or place in lost:
                continue
            heard += 1
            found += reader.feed(line.encode(), number * period + index * burst * period / 3)
    for figures in found:
        assert figures[VOLTS] == pytest.approx(12 + float(figures[AMPS]) / 100)
        assert figures[CELSIUS] == figures[AMPS]
    assert len(found) >= 12 - 3 - 2 * len(lost)


def test_lines_spread_evenly_over_the_period_are_read() -> None:
    reader = Reader(described(HEADS["one pair a line"]))
    found = []
    for number in range(20):
        jitter = 0.02 * (number % 3)
        line = b"v=12.6\n" if number % 2 else b"i=1\n"
        found += reader.feed(line, number * 0.5 + jitter)
    assert len(found) >= 8


def test_after_a_question_the_first_line_begins_the_set() -> None:
    reader = Reader(described(HEADS["one pair a line"]))
    reader.feed(b"i=7\n", 0.0)
    reader.collector.begin()
    assert reader.feed(b"v=12.6\n", 1.0) == []
    assert reader.feed(b"i=1\n", 1.5) == [{VOLTS: 12.6, AMPS: 1.0}]


def test_a_field_that_comes_twice_begins_a_new_set() -> None:
    reader = Reader(described(HEADS["one pair a line"])).settled()
    assert reader.feed(b"v=12.6\nv=12.8\ni=1\n") == [{VOLTS: 12.8, AMPS: 1.0}]


def test_a_set_without_a_needed_field_is_not_complete_at_the_end_marker() -> None:
    reader = Reader(described(HEADS["end marker"]))
    assert reader.feed(b"v=12.6\nt=20\nEND\nv=12.6\ni=1\nt=20\nEND\n") == [
        {VOLTS: 12.6, AMPS: 1.0, CELSIUS: 20.0}
    ]


def test_json_in_its_shapes() -> None:
    shape = Json()
    assert shape.parse('{"a":{"b":[1.50,{"c":true}]},"d":null,"e":"x"}') == {
        "a.b.0": "1.50",
        "a.b.1.c": "true",
        "d": "",
        "e": "x",
    }
    assert shape.parse("[1]") is None
    assert shape.parse("{" * 5000) is None
    shape.parse('{"a":' * 2000 + "1" + "}" * 2000)  # deep, but no longer than a line can be
