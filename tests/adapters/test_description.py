"""Descriptions are checked on load: every mistake names file, line, key, expected and found."""

from __future__ import annotations

import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from adapters.adapter import SettingsError
from adapters.checked_toml import key_lines
from adapters.conversion import Figures, Measurand
from adapters.description import load_text, shipped, shipped_text
from adapters.line_sets import LineSplitter, SetCollector
from adapters.reading import Quantity
from adapters.registers import ModbusDescription
from adapters.text_lines import LinesDescription

quick = settings(max_examples=50, deadline=None)

FACTS: Figures = {
    Measurand(Quantity.BANK_VOLTS): 12.61,
    Measurand(Quantity.BANK_AMPS): -4.2,
    Measurand(Quantity.BANK_CELSIUS): 21.5,
    Measurand(Quantity.BANK_SOC): 0.875,
    Measurand(Quantity.SOURCE_VOLTS): 14.4,
    Measurand(Quantity.SOURCE_AMPS): 32.0,
    Measurand(Quantity.REPORTED_STAGE): "absorption",
    Measurand(Quantity.CHARGE_PERMITTED): 1.0,
}


def decoded(description: LinesDescription, data: bytes) -> list[dict[Measurand, float | str]]:
    """Every complete set in these bytes."""
    splitter = LineSplitter(description.longest_line, joining=False)
    collector = SetCollector(description, longest_seconds=2.0)
    collector.begin()  # as if asked: one set shows no pauses
    sets = [collector.feed(line, 0.0) for line in splitter.feed(data)]
    return [found.figures for found in sets if found]


@pytest.mark.parametrize("name", shipped())
def test_a_shipped_template_tells_back_what_it_was_given(name: str) -> None:
    description = load_text(shipped_text(name), name)
    given_facts = {m: FACTS[m] for m in description.measurands}
    if isinstance(description, ModbusDescription):
        found = description.decode(description.encode(given_facts)).figures
    else:
        (found,) = decoded(description, description.encode(given_facts))
    assert found.keys() == given_facts.keys()
    for measurand, fact in given_facts.items():
        expected = fact if isinstance(fact, str) else pytest.approx(fact, abs=0.051)
        assert found[measurand] == expected


def test_a_template_of_each_kind_is_shipped() -> None:
    formats = {
        "modbus" if isinstance(d, ModbusDescription) else type(d.format).__name__
        for d in (load_text(shipped_text(name), name) for name in shipped())
    }
    assert formats >= {"modbus", "KeyValue", "Csv", "Json", "Sentence"}


@pytest.mark.parametrize("name", [name for name in shipped() if name.startswith("serial-")])
def test_the_example_in_a_template_is_what_the_description_reads(name: str) -> None:
    """The lines shown in the opening comment decode to the facts they show."""
    text = shipped_text(name)
    description = load_text(text, name)
    assert isinstance(description, LinesDescription)
    example = re.findall(r"^#   (\S.*)$", text.split("\nkind =")[0], re.MULTILINE)
    (found,) = decoded(description, "".join(line + "\n" for line in example).encode())
    assert found[Measurand(Quantity.BANK_VOLTS)] == pytest.approx(12.61)
    assert found[Measurand(Quantity.BANK_AMPS)] == pytest.approx(-4.2)
    assert found[Measurand(Quantity.BANK_CELSIUS)] == pytest.approx(21.5, abs=0.051)


MODBUS = """kind = "modbus"
period_seconds = 1.0

[[registers]]
quantity = "bank_volts"
address = 100
type = "uint16"
scale = 0.01
unit = "V"

[[registers]]
quantity = "bank_amps"
address = 101
type = "int16"
scale = 0.1
unit = "A"
positive = "charging"
"""

LINES = """kind = "lines"
format = "csv"
columns = ["volts", "amps"]

[[fields]]
name = "volts"
quantity = "bank_volts"
unit = "V"

[[fields]]
position = 2
quantity = "bank_amps"
unit = "A"
positive = "charging"
"""

SENTENCE = """kind = "lines"
format = "sentence"
[[fields]]
sentence = "HOUSE"
position = 1
quantity = "bank_volts"
unit = "V"
"""

MISTAKES = [
    # (text, what is written, what is written instead, what the error must say)
    (MODBUS, 'kind = "modbus"', 'kind = "modbuss"', 'line 1: key kind: .*modbus.*"modbuss"'),
    (MODBUS, 'kind = "modbus"', "", "x.toml: expected a key kind"),
    (MODBUS, "period_seconds = 1.0", "period_seconds = 0", r"line 2: key period_seconds: .*0\.05"),
    (MODBUS, "period_seconds = 1.0", "period_second = 1.0", "line 2: .*did you mean"),
    (MODBUS, "period_seconds = 1.0", 'period_seconds = "1"', 'line 2: .*a number.*found "1"'),
    (MODBUS, "period_seconds = 1.0", "period_seconds = inf", "line 2: .*found inf"),
    (MODBUS, "address = 100", "address = 65536", "line 6: .*number 1, key address: .*65536"),
    (MODBUS, "address = 100", "address = true", "line 6: .*whole number.*found true"),
    (MODBUS, "address = 100", "", "line 4: .*number 1: expected a key address"),
    (MODBUS, 'type = "uint16"', 'type = "word"', 'line 7: .*key type: .*uint16.*found "word"'),
    (MODBUS, "scale = 0.01", "scale = 0", "line 8: .*key scale: .*other than 0"),
    (MODBUS, 'unit = "V"', 'unit = "A"', 'line 9: .*key unit: .*V, mV, kV; found "A"'),
    (MODBUS, 'unit = "V"', "", "line 4: .*expected a key unit"),
    (LINES, "position = 2", 'position = 2\nquantity = "bank_volts"', "line 13: not valid TOML"),
    (MODBUS, MODBUS[MODBUS.index("[[") :], 2 * MODBUS[MODBUS.index("[[") :], "line 19: .*line 4"),
    (MODBUS, 'quantity = "bank_amps"', 'quantity = "amps"', 'line 12: .*found "amps"'),
    (MODBUS, 'positive = "charging"', "", "line 11: .*expected a key positive"),
    (MODBUS, 'positive = "charging"', 'positive = "in"', 'line 17: .*charging.*found "in"'),
    (MODBUS, "scale = 0.01", 'positive = "charging"', "line 8: .*negative scale"),
    (MODBUS, "scale = 0.01", "bits = [6, 4]", r"line 8: .*key bits: .*found \[6, 4\]"),
    (MODBUS, "scale = 0.1", "bits = 1", "line 15: .*key bits: .*unsigned"),
    (MODBUS, "scale = 0.01", "absent = 65536", "line 8: .*key absent: .*16 bits.*65536"),
    (MODBUS, "scale = 0.01", "cell = 1", "line 8: .*key cell"),
    (MODBUS, "scale = 0.01", 'words = { "1" = "bulk" }', "line 8: .*key words: .*is a number"),
    (MODBUS, "scale = 0.01", "scale = 0.01 0.02", "line 8: not valid TOML"),
    (MODBUS, "[[registers]]", "[registers]", "line .*TOML|registers"),
    (LINES, 'format = "csv"', 'format = "xml"', 'line 2: key format: .*json.*found "xml"'),
    (LINES, '["volts", "amps"]', "0", "line 3: key columns: .*found 0"),
    (LINES, '["volts", "amps"]', '["volts", "volts"]', "line 3: key columns: .*each once"),
    (LINES, '["volts", "amps"]', "2", "line 6: .*key name: columns has no names"),
    (LINES, 'name = "volts"', 'name = "volt"', 'line 6: .*found "volt"; did you mean "volts"'),
    (LINES, "position = 2", "position = 3", "line 11: .*from 1 to 2; found 3"),
    (LINES, "position = 2", "position = 1", "line 10: .*field 1 is already used on line 5"),
    (LINES, 'unit = "V"', 'unit = "V"\noptional = 1', "line 9: .*true or false; found 1"),
    (SENTENCE, '"HOUSE"', '"HO,SE"', "line 4: .*letters and digits"),
    (SENTENCE, "position = 1", "", "line 3: .*expected a key position"),
    (SENTENCE, 'unit = "V"', 'unit = "V"\noptional = true', "at least one field .*not optional"),
    (SENTENCE, '"sentence"', '"sentence"\ndecimal_mark = ","', "line 3: key decimal_mark"),
]


@pytest.mark.parametrize(("text", "written", "instead", "said"), MISTAKES)
def test_a_mistake_is_one_line_that_names_place_expected_and_found(
    text: str, written: str, instead: str, said: str
) -> None:
    assert written in text
    load_text(text, "x.toml")  # right before the mistake
    with pytest.raises(SettingsError) as mistake:
        load_text(text.replace(written, instead, 1), "x.toml")
    message = str(mistake.value)
    assert re.search(said, message), message
    assert message.startswith("x.toml")
    assert "\n" not in message


@quick
@given(st.text(max_size=200))
def test_no_text_raises_anything_else(text: str) -> None:
    with pytest.raises(SettingsError):
        load_text(text, "x.toml")


@quick
@given(st.data())
def test_no_damage_to_a_description_raises_anything_else(data: st.DataObject) -> None:
    text = data.draw(st.sampled_from([MODBUS, LINES, SENTENCE]))
    at = data.draw(st.integers(0, len(text)))
    damaged = text[:at] + data.draw(st.text(max_size=4)) + text[at + data.draw(st.integers(0, 9)) :]
    try:
        load_text(damaged, "x.toml")
    except SettingsError as mistake:
        assert "\n" not in str(mistake)  # noqa: PT017  # a damaged text may still be right


def test_lines_are_found_through_comments_strings_and_lists() -> None:
    text = '''# a = 1
title = """
b = 2
"""
list = [
  "c = 3",
]
[one]
"quoted" = 4
[[two]]
d = 5
[[two]]
d = 6
inline = { e = 7 }
'''
    assert key_lines(text) == {
        ("title",): 2,
        ("list",): 5,
        ("one",): 8,
        ("one", "quoted"): 9,
        ("two", 0): 10,
        ("two", 0, "d"): 11,
        ("two", 1): 12,
        ("two", 1, "d"): 13,
        ("two", 1, "inline"): 14,
    }


def test_a_shipped_name_misspelt_is_told() -> None:
    with pytest.raises(SettingsError, match=r'did you mean "modbus-template\.toml"'):
        shipped_text("modbus-templat.toml")
