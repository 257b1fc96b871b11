"""What is agreed on at the end: when somebody looks at it again."""

from __future__ import annotations

from datetime import UTC, date, datetime
from typing import Final

from monitor.commission.check import Ask, Check, Result, Watch, not_done
from monitor.commission.entry import USUAL, months_in
from monitor.commission.record import Verdict
from monitor.commission.setting import Setting

#: The fact that the procedure keeps: the day, counted as `date.toordinal` does.
NEXT_SERVICE: Final = "next service"

#: Months until somebody should look again (common practice: what loses water is looked at every
#: three months, what is sealed once a year, with a torque key and a meter on every joint).
_LOSES_WATER: Final = 3
_SEALED: Final = 12
#: No service may be put off for longer (our choice: lugs loosen, labels fade, owners change).
LATEST_MONTHS: Final = 60


def usual_months(setting: Setting) -> int:
    """By the chemistry: the one that may be equalized is the one that is topped up."""
    return _SEALED if setting.bank.chemistry.equalize is None else _LOSES_WATER


def _asks(setting: Setting, target: str) -> tuple[Ask, ...]:
    del target
    months, chemistry = usual_months(setting), setting.bank.chemistry.words
    words = (
        f"Next service: a day as in 2027-05-01, or as in 6 months, or usual "
        f"({months} months for {chemistry}, common practice)"
    )
    return (Ask("date", words, date=True),)


def months_on(day: date, months: int) -> date:
    """The same day of the month, or its last."""
    whole = day.month - 1 + months
    year, month = day.year + whole // 12, whole % 12 + 1
    for last in (day.day, 30, 29, 28):
        try:
            return date(year, month, last)
        except ValueError:
            continue
    raise AssertionError("every month has a 28th")


def _next_service(watch: Watch) -> Result | None:
    entered = watch.said("date")
    if entered is None:
        return None
    today = None if watch.wall is None else datetime.fromtimestamp(watch.wall, UTC).date()
    months = usual_months(watch.setting) if entered == USUAL else months_in(entered)
    if months is None:
        day = date.fromisoformat(entered)
        how = "as agreed"
    elif today is None:
        return not_done("no clock was recorded to count months from: enter a day")
    else:
        day = months_on(today, months)
        usual = f", usual for {watch.setting.bank.chemistry.words} (common practice)"
        how = f"{months} months on{usual if entered == USUAL else ''}"
    if today is not None and not today < day <= months_on(today, LATEST_MONTHS):
        return not_done(f"{day} is not within the {LATEST_MONTHS} months after {today}")
    return Result(Verdict.PASS, f"{day}, {how}", facts=((NEXT_SERVICE, float(day.toordinal())),))


CHECKS: Final = (
    Check(
        id="next-service",
        group="handing over",
        title="Next service",
        purpose="What nobody is told to come back to, nobody comes back to.",
        hands="Agree on a day with the owner and enter it.",
        watches="the day that you enter",
        asks=_asks,
        watch=_next_service,
    ),
)
