"""Device descriptions of devices that write text lines: decoded, encoded, checked on load.

The format of the lines (`adapters.line_formats`) gives texts by spot; each field of the
description says at which spot its figure stands and what the text means.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final

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
from adapters.line_formats import NUMBER, Csv, Format, Json, KeyValue, Sentence, Texts

#: Longest line read unless the description says more. Sentences end at 82 characters (NMEA 0183,
#: from memory); a dozen pairs or JSON figures fit well within this.
LONGEST_LINE: Final = 256

#: Longest text taken as a number: more digits than any instrument has.
_LONGEST_NUMBER: Final = 32

#: Digits after the point in lines that we write ourselves, unless a field says otherwise.
_DECIMALS: Final = 3


@dataclass(frozen=True, slots=True)
class LineField:
    """One figure in the lines of a device. `absent` are texts that say "not available"."""

    spot: str
    conversion: Conversion
    suffix: str = ""
    decimals: int = _DECIMALS
    optional: bool = False
    absent: tuple[str, ...] = ()

    def is_absent(self, text: str) -> bool:
        return not text or text in self.absent

    def bare(self, text: str, decimal_mark: str) -> str:
        """The text without its suffix, with a point as decimal mark."""
        text = text.removesuffix(self.suffix).strip()
        return text if decimal_mark == "." else text.replace(decimal_mark, ".")

    def fact(self, text: str, decimal_mark: str) -> float | str:
        """What a text means; `Doubt` when it cannot be true."""
        if self.conversion.codes or self.conversion.is_text:
            return self.conversion.fact_of_code(text)
        bare = {"true": "1", "false": "0"}.get(text) or self.bare(text, decimal_mark)
        if len(bare) > _LONGEST_NUMBER or not NUMBER.fullmatch(bare):
            raise Doubt(f"{shown(text)} is not a number")
        return self.conversion.fact_of_number(float(bare))

    def text(self, fact: float | str | None, decimal_mark: str) -> str:
        """The text for a fact, or for "not available"."""
        absent = self.absent[0] if self.absent else ""
        if fact is None:
            return absent
        if self.conversion.codes:
            return self.conversion.code_of_fact(fact) or absent
        if isinstance(fact, str) or not math.isfinite(fact):
            return absent
        raw = self.conversion.raw_of_number(fact)
        number = f"{raw:.{self.decimals}f}"
        if not math.isfinite(raw) or len(number) > _LONGEST_NUMBER:
            return absent
        return number.replace(".", decimal_mark) + self.suffix


@dataclass(frozen=True, slots=True)
class LinesDescription:
    """A device that writes lines, as its description tells it; made by
    `adapters.description.load_text`."""

    name: str
    title: str
    period_seconds: float
    format: Format
    fields: tuple[LineField, ...]
    decimal_mark: str = "."
    longest_line: int = LONGEST_LINE
    line_end: str = "\r\n"
    request: str = ""
    end_marker: str = ""
    header: tuple[str, ...] = field(default=())

    @property
    def measurands(self) -> tuple[Measurand, ...]:
        return tuple(f.conversion.measurand for f in self.fields)

    def is_end(self, line: str) -> bool:
        """True for the line that ends a set."""
        return bool(self.end_marker) and line.startswith(self.end_marker)

    def parse(self, line: str) -> Texts | None:
        """The described texts of a line by spot; None when the line is garbage.

        A line of the right shape that tells nothing described is no garbage: it gives no texts.
        """
        found = self.format.parse(line)
        if found is None:
            return None
        texts = {f.spot: found[f.spot] for f in self.fields if f.spot in found}
        if texts and not any(self._makes_sense(f, texts) for f in self.fields):
            return None
        return texts

    def _makes_sense(self, line_field: LineField, texts: Mapping[str, str]) -> bool:
        text = texts.get(line_field.spot)
        if text is None:
            return False
        if line_field.is_absent(text) or line_field.conversion.codes:
            return True
        return bool(NUMBER.fullmatch(line_field.bare(text, self.decimal_mark)))

    def missing(self, texts: Mapping[str, str]) -> tuple[Measurand, ...]:
        """The figures, other than optional ones, that these texts do not tell."""
        return tuple(
            f.conversion.measurand for f in self.fields if not f.optional and f.spot not in texts
        )

    def decode(self, texts: Mapping[str, str]) -> Decoded:
        """The figures in a set of texts."""
        decoded = Decoded()
        for line_field in self.fields:
            text = texts.get(line_field.spot)
            if text is None or line_field.is_absent(text):
                continue
            measurand = line_field.conversion.measurand
            try:
                decoded.figures[measurand] = line_field.fact(text, self.decimal_mark)
            except Doubt as doubt:
                decoded.left_out[measurand] = f"{measurand}: {doubt} (field {line_field.spot})"
        return decoded

    def encode(self, figures: Figures) -> bytes:
        """The lines of one complete set, as a device that holds these figures sends them."""
        texts = {
            f.spot: f.text(figures.get(f.conversion.measurand), self.decimal_mark)
            for f in self.fields
        }
        lines = self.format.write(texts)
        if self.end_marker:
            lines.append(self.end_marker)
        return "".join(line + self.line_end for line in lines).encode("utf-8")


Columns = tuple[str, ...]


def _key_value(root: Section) -> tuple[Format, Columns]:
    separator = root.text("key_separator", "=")
    if not separator:
        raise root.error("key_separator", 'expected one character or more; found ""')
    return KeyValue(separator, root.text("pair_separator", "")), ()


def _csv(root: Section) -> tuple[Format, Columns]:
    separator = root.text("separator", ",")
    if len(separator) != 1 or separator in '\r\n"':
        raise root.error("separator", f"expected one character; found {shown(separator)}")
    expected = "the number of columns, or the list of their names"
    columns = root.items("columns", expected)
    if len(columns) == 1 and isinstance(columns[0], int) and 1 <= columns[0] <= _MOST_COLUMNS:
        return Csv(separator, columns[0]), ()
    names = tuple(name for name in columns if isinstance(name, str) and name)
    if not names or len(names) != len(columns) or len(set(names)) != len(names):
        found = shown(columns[0] if len(columns) == 1 else columns) if columns else "none"
        raise root.error("columns", f"expected {expected}, each once; found {found}")
    return Csv(separator, len(names)), names


def _json(root: Section) -> tuple[Format, Columns]:
    del root  # JSON leaves nothing to choose
    return Json(), ()


def _sentence(root: Section) -> tuple[Format, Columns]:
    return Sentence(root.choice("start", ("$", "!"), "$")), ()


_FORMATS: Final = {"key-value": _key_value, "csv": _csv, "json": _json, "sentence": _sentence}

#: More columns than any line of the longest length could hold figures.
_MOST_COLUMNS: Final = 500


def read_lines(root: Section, name: str) -> LinesDescription:
    """Take every key of a description of text lines."""
    kind = root.choice("format", _FORMATS)
    shape, columns = _FORMATS[kind](root)
    title = root.text("title", "")
    period = root.number("period_seconds", 1.0, low=PERIOD_BOUNDS[0], high=PERIOD_BOUNDS[1])
    mark = root.choice("decimal_mark", (".", ","), ".")
    if mark == "," and (kind in ("json", "sentence") or "," in _separators(shape)):
        raise root.error("decimal_mark", f'"," already separates the figures of this {kind} format')
    longest = root.whole("longest_line", LONGEST_LINE, low=16, high=4096)
    line_end = root.choice("line_end", ("\r\n", "\n", "\r"), "\r\n")
    request, end_marker = root.text("request", ""), root.text("end_marker", "")
    fields = _read_fields(root, shape, columns)
    root.done()
    return LinesDescription(
        name, title, period, shape, fields, mark, longest, line_end, request, end_marker, columns
    )


def _separators(shape: Format) -> str:
    if isinstance(shape, KeyValue):
        return shape.key_separator + shape.pair_separator
    return shape.separator if isinstance(shape, Csv) else ""


def _read_fields(root: Section, shape: Format, columns: Columns) -> tuple[LineField, ...]:
    fields: list[LineField] = []
    quantities: dict[Measurand, Section] = {}
    spots: dict[str, Section] = {}
    sections = root.sections("fields", "at least one table [[fields]]")
    for section in sections:
        line_field = _read_field(section, shape, columns)
        measurand = line_field.conversion.measurand
        if measurand in quantities:
            line = quantities[measurand].line() or "?"
            raise section.error("quantity", f"{measurand} is already described on line {line}")
        if line_field.spot in spots:
            line = spots[line_field.spot].line() or "?"
            raise section.error(None, f"field {line_field.spot} is already used on line {line}")
        quantities[measurand], spots[line_field.spot] = section, section
        fields.append(line_field)
    if all(f.optional for f in fields):
        raise root.error("fields", "expected at least one field that is not optional")
    return tuple(fields)


def _read_field(section: Section, shape: Format, columns: Columns) -> LineField:
    spot = _read_spot(section, shape, columns)
    suffix = section.text("suffix", "")
    decimals = section.whole("decimals", _DECIMALS, low=0, high=9)
    optional = section.flag("optional", False)
    absent = []
    for text in section.items("absent", "a text, or a list of texts"):
        if not isinstance(text, str):
            raise section.error("absent", f"expected texts in quotes; found {shown(text)}")
        absent.append(text)
    conversion = read_conversion(section)
    section.done()
    return LineField(spot, conversion, suffix, decimals, optional, tuple(absent))


def _read_spot(section: Section, shape: Format, columns: Columns) -> str:
    """Where the figure stands: by name or by position, as the format allows."""
    if isinstance(shape, Sentence):
        address = section.text("sentence", expected="the address of the sentence")
        if not address.isalnum():
            raise section.error("sentence", f"expected letters and digits; found {shown(address)}")
        return f"{address}:{section.whole('position', low=1, high=_MOST_COLUMNS)}"
    if isinstance(shape, Csv):
        if not section.has("name"):
            return str(section.whole("position", low=1, high=shape.columns))
        if section.has("position"):
            raise section.error("position", "expected either name or position; found both")
        if not columns:
            raise section.error("name", "columns has no names; give a position from 1 instead")
        return str(columns.index(section.choice("name", columns)) + 1)
    name = section.text("name", expected="the field's name as the device writes it").strip()
    if not name:
        raise section.error("name", 'expected a name; found ""')
    return name
