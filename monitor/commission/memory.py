"""What a check keeps between two looks: numbers by name, so that it can stand in a file.

`steady` follows a figure and finds the stretches in which it stood still: from one such stretch to
the next is a step. The figures of the present stretch are `name.mean`, its standard deviation
`name.sd`, its length `name.seconds`.
"""

from __future__ import annotations

import math
from typing import Final, NamedTuple

Memory = dict[str, float]

#: How the names end of what must not bridge a gap in the readings.
SINCE: Final = ".since"
COUNT: Final = ".n"


class Stretch(NamedTuple):
    """The present stretch in which a figure stood still. `sd` is of its mean."""

    mean: float
    sd: float
    seconds: float


def steady(memory: Memory, name: str, figure: float, seconds: float, band: float) -> Stretch:
    """Take a figure in; a new stretch begins where it leaves the mean by more than `band`."""
    count = memory.get(f"{name}.n", 0.0)
    mean = memory.get(f"{name}.mean", figure)
    if count == 0.0 or abs(figure - mean) > band:
        memory[f"{name}.n"], memory[f"{name}.mean"], memory[f"{name}.m2"] = 1.0, figure, 0.0
        memory[f"{name}.from"] = seconds
        return Stretch(figure, band, 0.0)
    count += 1.0
    before = figure - mean
    mean += before / count
    spread = memory[f"{name}.m2"] + before * (figure - mean)
    memory[f"{name}.n"], memory[f"{name}.mean"], memory[f"{name}.m2"] = count, mean, spread
    sd = math.sqrt(spread / count) / math.sqrt(count)
    return Stretch(mean, sd, seconds - memory[f"{name}.from"])


class Step(NamedTuple):
    """A figure before and after it stepped. `sd` is of the difference."""

    before: float
    after: float
    sd: float

    @property
    def size(self) -> float:
        return self.after - self.before


def stepped(
    memory: Memory, name: str, figure: float, seconds: float, band: float, hold: float
) -> Step | None:
    """The newest step from where the figure stood first, for `hold` seconds, to where it now has
    stood as long. Before that, and while it has not moved, None."""
    now = steady(memory, name, figure, seconds, band)
    long = now.seconds >= hold
    first = memory.get(f"{name}.before")
    if first is None:
        if long:
            memory[f"{name}.before"], memory[f"{name}.before_sd"] = now.mean, now.sd
        return None
    if not long or abs(now.mean - first) <= band:
        if abs(now.mean - first) <= band and long:
            # still where it was: the longer mean is the better one
            memory[f"{name}.before"], memory[f"{name}.before_sd"] = now.mean, now.sd
        return None
    return Step(first, now.mean, math.hypot(now.sd, memory[f"{name}.before_sd"]))


def lasted(memory: Memory, name: str, holds: bool, seconds: float) -> float:
    """For how long something has held without a break; nought while it does not."""
    key = name + SINCE
    if not holds:
        memory.pop(key, None)
        return 0.0
    return seconds - memory.setdefault(key, seconds)


def interrupt(memory: Memory) -> None:
    """Nothing was seen for a while: nothing can be said to have held or stood still meanwhile."""
    for key in [key for key in memory if key.endswith((SINCE, COUNT))]:
        del memory[key]


def eased(memory: Memory, name: str, figure: float, seconds: float, over: float) -> float:
    """A running mean over about so many seconds."""
    then = memory.get(f"{name}.at")
    if then is None:
        value = figure
    else:
        share = 1.0 - math.exp(-max(seconds - then, 0.0) / over)
        value = memory[name] + share * (figure - memory[name])
    memory[name], memory[f"{name}.at"] = value, seconds
    return value
