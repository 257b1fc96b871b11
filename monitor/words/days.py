"""Names of days, months and zones, here alone: no screen hangs on the machine's locale."""

from __future__ import annotations

from datetime import UTC, date, datetime
from typing import Final

#: Monday first, as `date.weekday` counts (ISO 8601).
DAYS: Final = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
MONTHS: Final = (
    *("Jan", "Feb", "Mar", "Apr", "May", "Jun"),
    *("Jul", "Aug", "Sep", "Oct", "Nov", "Dec"),
)


def weekday(moment: date) -> str:
    return DAYS[moment.weekday()]


def day_month(moment: date) -> str:
    """`5 May`."""
    return f"{moment.day} {MONTHS[moment.month - 1]}"


def named_day(moment: date) -> str:
    """`Tue 5 May`."""
    return f"{weekday(moment)} {day_month(moment)}"


def zone_name(ahead_seconds: float) -> str:
    """A zone by its seconds ahead of UTC: `UTC`, `UTC-7`, `UTC+5:30`."""
    sign, minutes = "-" if ahead_seconds < 0.0 else "+", round(abs(ahead_seconds) / 60.0)
    hours, rest = divmod(minutes, 60)
    return f"UTC{sign}{hours}{f':{rest:02d}' if rest else ''}" if minutes else "UTC"


def ahead_of_utc(wall: float) -> float:
    """Seconds that this machine's clock is ahead of UTC at a moment of Unix time."""
    ahead = datetime.fromtimestamp(wall, UTC).astimezone().utcoffset()
    return 0.0 if ahead is None else ahead.total_seconds()
