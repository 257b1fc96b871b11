"""One row of the table of conditions: what is abnormal, how it is judged, what a person is told.

A condition compares a figure with a limit. It begins when the figure has been beyond the limit for
`on_delay` seconds, and ends when it has been back by `deadband` for `off_delay` seconds (deadband
on the return side, delays and priorities as in ISA-18.2 and IEC 62682). A figure of None means
that it cannot be judged now: then nothing begins and nothing ends. The tables are in the
`conditions_*.py` files; `conditions.py` gathers them.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum
from typing import Final, Generic, TypeVar

from adapters.reading import Quantity
from monitor.engine.duration import SECONDS_IN, duration
from monitor.engine.snapshot import Fact, Priority

W = TypeVar("W")

Figures = tuple[tuple[str, float], ...]


class Cadence(StrEnum):
    """How often a condition is judged: every ten seconds of readings, or every minute."""

    FAST = "fast"
    SLOW = "slow"


#: Said where hands may go near posts; wording of the handbook's cautions (common practice).
CAUTION_POSTS: Final = (
    "Open the charger's AC supply and the DC disconnect before touching the posts; "
    "take off metal jewellery, use insulated tools."
)
CAUTION_GAS: Final = (
    "Charging lead-acid makes explosive gas: ventilate, no flame or spark, "
    "wait before disconnecting."
)
CAUTION_ACID: Final = "Eye protection and gloves; never reach into acid unprotected."

LEAD: Final = frozenset({"flooded", "gel", "agm", "lead-calcium"})
LFP: Final = frozenset({"lfp"})
ANY: Final = LEAD | LFP


@dataclass(frozen=True, slots=True)
class Condition(Generic[W]):
    """A row. `W` is what is watched: a bank, a source, a device or the site.

    `says` is the evidence in words, formatted with `figure`, `limit` and whatever `detail` adds;
    where they are times also with `lasted` and `allowed`, the same two as people say them.
    `adds` gives words of the moment to go before it, where figures do not say it all.
    `source` says where the limit comes from. `below` turns the comparison round. A `latched`
    condition's alarm stays until a person resets it. `inputs` are the quantities that it cannot
    be judged without: while every device that gives one of them is silent, its alarm is
    suppressed by design. `unit` is that of figure, limit and deadband as the configuration names
    it, and `possible` the limits that an owner may put in place of ours; a row without a unit is
    a yes or no, and has no limit to move.
    """

    name: str
    words: str
    causes: tuple[str, ...]
    first: str
    priority: Priority
    figure: Callable[[W], float | None]
    limit: Callable[[W], float]
    says: str
    source: str
    inputs: tuple[Quantity, ...]
    deadband: float = 0.0
    on_delay: float = 0.0
    off_delay: float = 0.0
    caution: str = ""
    detail: Callable[[W], Figures] | None = None
    adds: Callable[[W], str] | None = None
    below: bool = False
    latched: bool = False
    cadence: Cadence = Cadence.SLOW
    chemistries: frozenset[str] = ANY
    unit: str = ""
    possible: tuple[float, float] = (0.0, 0.0)

    def evidence(self, figure: float, limit: float, detail: Figures, added: str = "") -> Fact:
        """The judgement as a fact that a person can read."""
        unit = SECONDS_IN.get(self.unit, 0.0)
        lasted, allowed = duration(unit * figure), duration(unit * limit)
        told = self.says.format(
            figure=figure, limit=limit, lasted=lasted, allowed=allowed, **dict(detail)
        )
        words = added + told
        return Fact(
            self.name,
            f"{words} (limit: {self.source})",
            (("figure", figure), ("limit", limit), *detail),
        )
