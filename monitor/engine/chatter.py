"""An alarm that comes and goes and comes again: told once, marked, and held meanwhile.

Whoever is told the same thing every few minutes stops listening. ISA-18.2 takes three times in a
minute as the sign of a chattering alarm, EEMUA 191 ten times in a quarter of an hour for one that
repeats (both secondary). They are meant for process plants, whose alarms have delays of seconds;
our delays are minutes long, so that neither could ever be met. So five times in an hour (our
choice): more than anybody would want to be called.

While it chatters its return is delayed by half an hour (a longer off-delay is the usual remedy):
it stands, rather than calling again and again, until it has stayed away for so long.
"""

from __future__ import annotations

from typing import Final

CHATTER_TIMES: Final = 5
CHATTER_SECONDS: Final = 3600.0

#: How long it must stay away before it counts as over, while it chatters (our choice).
HOLD_SECONDS: Final = 1800.0

SUGGESTION: Final = (
    "look for a loose contact or something that switches at the limit; shelve it meanwhile"
)


def raised_lately(raised: list[float], seconds: float) -> list[float]:
    """The latest times that count, this one included: never more than make a chatter."""
    within = [each for each in raised if seconds - each < CHATTER_SECONDS]
    return [*within, seconds][-CHATTER_TIMES:]


def chatters(raised: list[float], seconds: float) -> bool:
    """True where the last of so many raisings lie within the hour before now."""
    return len(raised) >= CHATTER_TIMES and seconds - raised[-CHATTER_TIMES] < CHATTER_SECONDS


def words(raised: list[float]) -> str:
    minutes = max(1, round((raised[-1] - raised[0]) / 60.0))
    return f"chattering: raised {len(raised)} times in {minutes} min; {SUGGESTION}"
