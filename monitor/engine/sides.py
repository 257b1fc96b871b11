"""The two sides of a battery's protection: open or closed, as told or as seen, and closed again.

Told by the battery itself, each side is what it says. Where it does not tell, the charge side is
seen open by a source that stands above the posts while nothing flows, the discharge side by a load
that stopped at once on an empty bank. That a side opened is a condition; that it closed again is
an event, told once.
"""

from __future__ import annotations

from typing import ClassVar, Final

from monitor.engine.duration import duration

#: Side, and what it means that it is closed again.
CLOSED_AGAIN: Final = {
    "charge": "The battery's protection has closed its charge side again: it can be charged",
    "discharge": "The battery's protection has closed its discharge side again: loads are fed",
}
#: A side that was open for less than this has told nobody anything (our choice: the on-delay).
LEAST_SECONDS: Final = 10.0


class Sides:
    """Since when each side has been open; None while it is closed or nothing is known of it."""

    KEPT: ClassVar[tuple[str, ...]] = ("charge_since", "discharge_since")
    __slots__ = KEPT

    def __init__(self) -> None:
        self.charge_since: float | None = None
        self.discharge_since: float | None = None

    def look(
        self, seconds: float, charge_open: bool | None, discharge_open: bool | None
    ) -> list[tuple[str, str]]:
        """Every ten seconds; the sides that closed again, each with its words. None: not known."""
        closed = []
        if charge_open is not None and charge_open != (self.charge_since is not None):
            closed += _closed("charge", self.charge_since, seconds)
            self.charge_since = seconds if charge_open else None
        if discharge_open is not None and discharge_open != (self.discharge_since is not None):
            closed += _closed("discharge", self.discharge_since, seconds)
            self.discharge_since = seconds if discharge_open else None
        return closed


def _closed(side: str, since: float | None, seconds: float) -> list[tuple[str, str]]:
    if since is None or seconds - since < LEAST_SECONDS:
        return []
    return [(f"{side}-side-closed", f"{CLOSED_AGAIN[side]}, after {duration(seconds - since)}.")]
