"""The account of one bank as a sheet that adds up: in, out, what is left; the AC side below.

A column of amps, one of watts, one of how much of its rating each source gives. Where a value is
missing or older than its neighbours the sum says so: it is never a sum of what happens to be there.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Final, NamedTuple

from adapters.reading import Quantity
from monitor.engine.said import Said
from monitor.engine.snapshot import BankView, Measured, Snapshot, SourceView
from monitor.words.figures import (
    MISSING,
    ago,
    amps,
    percent,
    sign,
    signed_amps,
    span,
    watts,
)
from monitor.words.fitting import cut, wrapped
from monitor.words.sources import LOADS, RATING_NOT_TOLD, SOURCE_KIND

HEADING: Final = "Account"
TOGETHER: Final = "together"
BANK: Final = "bank"
INTO: Final = "into it"
OUT_OF: Final = "out of it"
AC: Final = "AC side"
AMPS: Final = "amps"
WATTS: Final = "watts"
BY_DIFFERENCE: Final = "sources less bank"
DIFFERENCE: Final = "the rest"
NO_SOURCES: Final = "no source is configured"
NO_AC: Final = "no device shows an AC side"

#: Values further apart than this are said to be: a load switched on between them would show as a
#: wrong sum. Devices are usually polled every second to twenty (our choice).
APART_SECONDS: Final = 30.0
#: Columns of the sheet: name, amps, watts. German and Spanish words are about a third longer.
#: By the columns there are: the first that fits.
_SIZES: Final = ((56, (16, 10, 11)), (36, (12, 8, 9)), (0, (9, 8, 9)))


class Row(NamedTuple):
    """One line: a name, amps and watts as text, and what there is to say of it: in full, and where
    there is little room; a note without a brief form gets a row of its own there."""

    name: str
    amps: str = ""
    watts: str = ""
    note: str = ""
    brief: str = ""
    rule: bool = False


def account_lines(snapshot: Snapshot, bank: BankView, width: int) -> list[str]:
    """The sheet as lines of text, then what must be known of its sums."""
    own = [source for source in snapshot.sources if source.bank == bank.id]
    rows = [*(_source(source, bank) for source in own)]
    rows += [Row("", rule=True), _sum(own, bank), _loads(bank), Row("", rule=True), _bank(bank)]
    sizes = _sizes(rows, width)
    rows.insert(0, _heads(sizes))
    lines = [line for row in rows for line in _set(row, width, sizes)]
    return [*lines, "", *caveats(own, bank)]


def _heads(sizes: tuple[int, int, int]) -> Row:
    """What the columns are; by their unit where the word is wider than the column."""
    _, amps_size, watts_size = sizes
    return Row(
        "",
        AMPS if len(AMPS) < amps_size else "A",
        WATTS if len(WATTS) < watts_size else "W",
    )


def _sizes(rows: Sequence[Row], width: int) -> tuple[int, int, int]:
    """Columns of a sheet so wide: those for figures hold every figure."""
    name, *least = next(sizes for at_least, sizes in _SIZES if width >= at_least)
    longest = (max(len(row.amps) for row in rows), max(len(row.watts) for row in rows))
    amps_size, watts_size = (max(size, long + 1) for size, long in zip(least, longest, strict=True))
    room = width - amps_size - watts_size
    wanted = max(name, *(len(row.name) + 1 for row in rows))
    return min(wanted, max(name, room // 2)), amps_size, watts_size


def _set(row: Row, width: int, sizes: tuple[int, int, int]) -> list[str]:
    """A row in columns; the note beside them, or below where there is no room."""
    if row.rule:
        return [" " * sizes[0] + "-" * (sizes[1] + sizes[2])]
    name = cut(row.name, sizes[0] - 1)
    line = f"{name:<{sizes[0]}}{row.amps:>{sizes[1]}}{row.watts:>{sizes[2]}}"
    if not row.note:
        return [line.rstrip()]
    for note in (row.note, row.brief):
        if note and len(line) + 2 + len(note) <= width:
            return [f"{line}  {note}"]
    return [line.rstrip(), *(f"  {part}" for part in wrapped(row.note, width - 2))]


def _source(source: SourceView, bank: BankView) -> Row:
    kind = SOURCE_KIND.get(source.kind, source.kind)
    if source.amps.figure is None:
        return Row(source.id, MISSING, MISSING, source.amps.reason or "not measured")
    note, brief = kind, ""
    if source.share is not None and source.rated_amps is not None:
        brief = percent(source.share)
        note = f"{brief} of {amps(source.rated_amps)}"
    elif source.rated_amps is None:
        note = f"{kind}, {RATING_NOT_TOLD}" if kind else RATING_NOT_TOLD
    return Row(
        source.id,
        _size(source.amps.figure),
        watts(_power(source.amps, _volts_of(source, bank))),
        note,
        brief,
    )


def _volts_of(source: SourceView, bank: BankView) -> Measured:
    """A source's own volts; those of the posts where it shows none."""
    return source.volts if source.volts.figure is not None else bank.volts


def _power(current: Measured, voltage: Measured) -> float | None:
    if current.figure is None or voltage.figure is None:
        return None
    return current.figure * voltage.figure


def _size(figure: float | None) -> str:
    """Amps that flow one way; a minus where the device says that they do not."""
    if figure is not None and sign(figure) == "-":
        return signed_amps(figure)
    return amps(figure)


def _sum(own: Sequence[SourceView], bank: BankView) -> Row:
    missing = [source.id for source in own if source.amps.figure is None]
    if not own:
        return Row(TOGETHER, MISSING, MISSING, NO_SOURCES)
    if missing:
        return Row(TOGETHER, MISSING, MISSING, f"no sum without {', '.join(missing)}")
    total = sum(source.amps.figure or 0.0 for source in own)
    powers = [_power(source.amps, _volts_of(source, bank)) for source in own]
    power = None if None in powers else sum(each or 0.0 for each in powers)
    return Row(TOGETHER, _size(total), watts(power))


def _loads(bank: BankView) -> Row:
    figure = bank.load_amps.figure
    if figure is None:
        return Row(LOADS, MISSING, MISSING, bank.load_amps.reason or "not known")
    return Row(
        LOADS,
        _size(figure),
        watts(_power(bank.load_amps, bank.volts)),
        bank.load_amps.reason or BY_DIFFERENCE,
        "" if bank.load_amps.reason else DIFFERENCE,
    )


def _bank(bank: BankView) -> Row:
    if bank.amps.figure is None:
        return Row(BANK, MISSING, MISSING, bank.amps.reason or "not measured")
    way = sign(bank.amps.figure)
    note = {"+": INTO, "-": OUT_OF, "": ""}[way]
    return Row(
        BANK, signed_amps(bank.amps.figure), watts(_power(bank.amps, bank.volts), True), note
    )


def caveats(own: Sequence[SourceView], bank: BankView) -> list[str]:
    """What a person must know before believing the sum."""
    ages = [
        measured.age_seconds
        for measured in (bank.amps, *(source.amps for source in own))
        if measured.figure is not None and measured.age_seconds is not None
    ]
    lines = []
    if ages and max(ages) - min(ages) > APART_SECONDS:
        lines.append(
            f"Read up to {span(max(ages) - min(ages))} apart: the sum holds only if nothing "
            "was switched between."
        )
    lent = [s.id for s in own if s.amps.figure is not None and s.volts.figure is None]
    if lent and bank.volts.figure is not None:
        lines.append(f"Watts of {', '.join(lent)} by the volts at the posts.")
    if ages:
        lines.append(f"Oldest figure read {ago(max(ages))}.")
    return lines


# The AC side.

#: There is AC at all above this: half of the lowest nominal voltage, 100 V (as the engine has it).
PRESENT_VOLTS: Final = 50.0
NO_VOLTS: Final = "no AC"

_AC_ORDER: Final = (
    (Quantity.AC_VOLTS, lambda figure: f"{figure:.0f} V"),
    (Quantity.AC_OTHER_LEG_VOLTS, lambda figure: f"other leg {figure:.0f} V"),
    (Quantity.AC_AMPS, amps),
    (Quantity.AC_WATTS, watts),
    (Quantity.AC_HERTZ, lambda figure: f"{figure:.1f} Hz"),
    (Quantity.AC_POWER_FACTOR, lambda figure: f"power factor {figure:.2f}"),
)


def ac_lines(said: Iterable[Said], sources: Sequence[str]) -> list[str]:
    """A line a source: what its AC side shows, and why a figure is missing."""
    by_source: dict[str, dict[Quantity, Said]] = {}
    kinds = {quantity for quantity, _ in _AC_ORDER}
    for each in said:
        if each.quantity in kinds:
            # The device configured first is believed while it is fresh, as everywhere.
            known = by_source.setdefault(each.owner, {})
            if each.quantity not in known or known[each.quantity].figure is None:
                known[each.quantity] = each
    lines = []
    for source in sources:
        shown = by_source.get(source)
        if not shown:
            continue
        if _gone(shown):
            lines.append(f"{source}: {NO_VOLTS}")
            continue
        figures = [
            tell(float(shown[quantity].figure or 0.0))
            for quantity, tell in _AC_ORDER
            if quantity in shown and shown[quantity].figure is not None
        ]
        reasons = sorted({each.reason for each in shown.values() if each.figure is None})
        lines.append(f"{source}: {', '.join(figures or [MISSING, *reasons])}")
        if figures and reasons:
            lines.append(f"  {'; '.join(reasons)}")
    return lines or [NO_AC]


def _gone(shown: dict[Quantity, Said]) -> bool:
    """No voltage to speak of; what else is shown then means nothing."""
    known = shown.get(Quantity.AC_VOLTS)
    return known is not None and known.figure is not None and float(known.figure) < PRESENT_VOLTS
