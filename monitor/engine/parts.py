"""What the chain behind a figure is told in: rooms with their figures, as plain data.

Apart from what fills it in (`monitor.engine.explain`): whoever shows a chain that came over a
socket needs no engine for it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, NamedTuple

from monitor.engine.by_hour import Hourly

#: The unit of a probability.
CHANCE: Final = "chance"


class Item(NamedTuple):
    """One figure of a room; None with `words` where it is not known. `age_seconds` of a reading."""

    name: str
    figure: float | str | None
    unit: str = ""
    sd: float | None = None
    words: str = ""
    age_seconds: float | None = None


@dataclass(frozen=True, slots=True)
class Part:
    """One room of the chain: what it is for, what it holds, and by hour of the day what it learned
    (UTC where the clock is known)."""

    name: str
    words: str
    items: tuple[Item, ...]
    hours: tuple[tuple[str, Hourly], ...] = ()
