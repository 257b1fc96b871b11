"""Moments, figures and names as a report prints them: nothing given is said, never guessed."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta, timezone
from typing import Final

from monitor.commission.check import range_words, told, written
from monitor.commission.record import Figure, Limit, Outcome

NOT_GIVEN: Final = "not given"
UNKNOWN_TIME: Final = "time unknown"


def moment(wall: float | None, zone: int) -> str:
    """`2026-03-14 09:05`, in the report's zone."""
    if wall is None:
        return UNKNOWN_TIME
    try:
        return f"{datetime.fromtimestamp(wall, timezone(timedelta(seconds=zone))):%Y-%m-%d %H:%M}"
    except (ValueError, OverflowError, OSError):
        return UNKNOWN_TIME


def zone_words(zone: int) -> str:
    """`UTC+01:00`."""
    if zone == 0:
        return "UTC"
    return f"{datetime.fromtimestamp(0, timezone(timedelta(seconds=zone))):%Z}"


def zone_of(wall: float | None) -> int:
    """What this machine's clock was ahead of UTC then, in seconds; 0 where unknown."""
    if wall is None:
        return 0
    try:
        ahead = datetime.fromtimestamp(wall, UTC).astimezone().utcoffset()
    except (ValueError, OverflowError, OSError):
        return 0
    return int(ahead.total_seconds()) if ahead is not None else 0


def given(words: str) -> str:
    return words.strip() or NOT_GIVEN


def amount(figure: float | None, unit: str) -> str:
    """`14.4 V`; what nobody gave is said so."""
    if figure is None:
        return NOT_GIVEN
    digits = f"{figure:.0f}" if abs(figure) >= 1000.0 else f"{figure:.4g}"
    return f"{digits} {written(unit)}".strip()


def name_of(outcome: Outcome) -> str:
    return f"{outcome.title}: {outcome.target}" if outcome.target else outcome.title


def when_and_who(wall: float | None, who: str, zone: int) -> str:
    return f"{moment(wall, zone)}; {who}" if who else f"{moment(wall, zone)}; by itself"


def all_measured(figures: Sequence[Figure]) -> str:
    return "; ".join(f"{each.name} {told(each)}" for each in figures)


def limits_told(limits: Sequence[Limit]) -> tuple[str, ...]:
    """A line for each source, with the limits that it gives; like ones under all their names."""
    by_source: dict[str, dict[str, list[str]]] = {}
    for each in limits:
        words = f"{range_words(each)}{f' {each.words}' if each.words else ''}"
        by_source.setdefault(each.source, {}).setdefault(words, []).append(each.name)
    lines = []
    for source, ranges in by_source.items():
        told_of = "; ".join(f"{', '.join(names)} {words}" for words, names in ranges.items())
        lines.append(f"{told_of} ({source})" if source else told_of)
    return tuple(lines)


def span(seconds: float) -> str:
    """`7 h 44 min`, `12 min`, `40 s`."""
    minutes, rest = divmod(round(seconds), 60)
    hours, minutes = divmod(minutes, 60)
    if hours:
        return f"{hours} h {minutes} min"
    return f"{minutes} min {rest} s" if minutes else f"{rest} s"
