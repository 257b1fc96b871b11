"""The table of sources and loads as lines of text, fitted to the width there is."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from monitor.dashboard.widgets.blocks import Signs, rule
from monitor.engine.snapshot import BankView, SourceView
from monitor.words.figures import amps
from monitor.words.fitting import cut
from monitor.words.sources import (
    LOADS,
    SOURCE_KIND,
    loads_note,
    loads_short,
    more_sources,
    source_rating,
    source_says,
    source_short,
)

_NAME: Final = 10
#: The kind of a source, in English and in a longer language.
_KIND, _MOST_KIND = 15, 24
_AMPS: Final = 8
_RULE: Final = 20
#: More than these and the rest is counted in one line; the evidence screen lists them all.
MOST_LINES: Final = 6


def _line(source: SourceView, width: int, kinds: int, signs: Signs) -> str:
    kind = SOURCE_KIND.get(source.kind, source.kind)
    line = f"{cut(source.id, _NAME):<{_NAME}} "
    if kinds:
        line += f"{cut(kind, kinds):<{kinds}} "
    line += f"{amps(source.amps.figure):>{_AMPS}}   "
    known = source.amps.figure is not None and source.share is not None
    if width >= 56:
        line += (rule(source.share or 0.0, _RULE, signs) if known else " " * _RULE) + "  "
    line += f"{source_rating(source):<12}"
    says = source_says(source)
    if says and len(line) + 3 + len(says) <= width:
        line += f"   {says}"
    return cut(line.rstrip(), width)


def _loads(bank: BankView, width: int, kinds: int) -> str:
    kind = " " * (kinds + 1) if kinds else ""
    note = loads_note(bank)
    return cut(f"{LOADS:<{_NAME}} {kind}{amps(bank.load_amps.figure):>{_AMPS}}   {note}", width)


def source_lines(
    bank: BankView, sources: Sequence[SourceView], width: int, signs: Signs
) -> list[str]:
    """A line a source, and one for the loads."""
    own = [source for source in sources if source.bank == bank.id]
    shown = own if len(own) < MOST_LINES else own[: MOST_LINES - 2]
    kinds = max((len(SOURCE_KIND.get(each.kind, each.kind)) for each in shown), default=0)
    kinds = min(max(kinds, _KIND), _MOST_KIND) if width >= 76 else 0
    lines = [_line(source, width, kinds, signs) for source in shown]
    if len(shown) < len(own):
        lines.append(more_sources(len(own) - len(shown)))
    return [*lines, _loads(bank, width, kinds)]


def short_source_lines(bank: BankView, sources: Sequence[SourceView], width: int) -> list[str]:
    """The same in as few lines as possible, for a telephone."""
    words = [source_short(source) for source in sources if source.bank == bank.id]
    words.append(loads_short(bank))
    lines: list[str] = []
    for word in words:
        if lines and len(lines[-1]) + 3 + len(word) <= width:
            lines[-1] += f"   {word}"
        else:
            lines.append(cut(word, width))
    if len(lines) > 3:
        lines = [*lines[:2], cut("   ".join(lines[2:]), width)]
    return lines
