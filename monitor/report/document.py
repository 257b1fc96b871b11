"""What a report consists of, before it is a page: frozen blocks that three writers render.

A document says nothing of fonts or colours. A writer that meets a block must render all of it:
what stands in one form of a report stands in every form.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final


@dataclass(frozen=True, slots=True)
class Heading:
    """`level` 1 is the title's, 2 a section's, 3 what lies within."""

    words: str
    level: int = 2


@dataclass(frozen=True, slots=True)
class Paragraph:
    words: str


@dataclass(frozen=True, slots=True)
class Caution:
    """Set apart, so that it is read before hands go anywhere."""

    words: str


@dataclass(frozen=True, slots=True)
class Defect:
    """A failed check told in full: a line that names it, and what belongs to it."""

    words: str
    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Pairs:
    """Names with what they are."""

    rows: tuple[tuple[str, str], ...]


#: Columns whose cells are bold in a row that must catch the eye, besides the first.
LOUD: Final = frozenset({"Verdict", "So"})


@dataclass(frozen=True, slots=True)
class Table:
    """Rows below columns; `widths` are shares of the page, which sum to 1. `heavy` are the numbers
    of rows that must catch the eye. A line break in a cell is one."""

    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    widths: tuple[float, ...]
    heavy: frozenset[int] = frozenset()


@dataclass(frozen=True, slots=True)
class Level:
    """A figure that a pane is compared with, over time; None where it is not known."""

    words: str
    figures: tuple[float | None, ...]


@dataclass(frozen=True, slots=True)
class Pane:
    """A strip of a plot: the lowest and highest of each bin, None where nothing was seen."""

    words: str
    unit: str
    low: tuple[float | None, ...]
    high: tuple[float | None, ...]
    levels: tuple[Level, ...] = ()


@dataclass(frozen=True, slots=True)
class Lane:
    """When something was so: `on` are (from, to) in seconds."""

    words: str
    on: tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True)
class Plot:
    """Panes over the same time. `edges` are the bins' in seconds, one more than there are bins;
    `ticks` say which moment is called what."""

    edges: tuple[float, ...]
    panes: tuple[Pane, ...]
    lanes: tuple[Lane, ...]
    ticks: tuple[tuple[float, str], ...]
    words: str = ""


@dataclass(frozen=True, slots=True)
class Signatures:
    """A line to sign on for each."""

    who: tuple[str, ...]


Block = Heading | Paragraph | Caution | Defect | Pairs | Table | Plot | Signatures


@dataclass(frozen=True, slots=True)
class Document:
    """`seal` is the line by which `ampwright report verify` knows what it was made from."""

    title: str
    blocks: tuple[Block, ...]
    seal: str
    foot: str = ""
