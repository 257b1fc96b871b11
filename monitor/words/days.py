"""Names of days and months, here and nowhere else: no screen hangs on the machine's locale."""

from __future__ import annotations

from datetime import date
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
