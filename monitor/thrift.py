"""What the tool does with little left: poll slower, and at a last level say last words and end.

Pure: `look` is given what is known of the bank that feeds the computer, and says how often the
devices are polled from now on and whether it is time to go. The computer is a load like any other,
and below the lowest planned charge every load should be less. Polling slower spares the devices
and the card; what the board itself draws is seldom changed by it.
"""

from __future__ import annotations

from typing import Final, NamedTuple

from monitor.bank import Site
from monitor.config_computer import Computer
from monitor.engine.snapshot import BankView, Snapshot

#: Looked at this often: nothing here is sudden.
LOOK_SECONDS: Final = 10.0
#: So far above the lowest planned charge everything is as before (our choice).
BACK_SOC: Final = 0.02
#: An estimate looser than this is no reason to end anything (our choice).
SURE_SD: Final = 0.15
#: At the last level for so long, before it is believed: a starter or an inverter sags a bank for
#: seconds (our choice).
LAST_SECONDS: Final = 180.0
#: Below this share of its capacity, in amps, nothing worth the name charges the bank (our choice).
CHARGING_RATE: Final = 0.002


class Thrift(NamedTuple):
    """`period_seconds` the shortest time between two polls, 0 for each device's own; `last_words`
    is empty until it is time to end."""

    period_seconds: float = 0.0
    why: str = ""
    last_words: str = ""


class Thrifty:
    """Follows one bank, the one that feeds the computer."""

    def __init__(self, site: Site, computer: Computer) -> None:
        self._site, self._computer = site, computer
        self._slow = False
        self._low_since: float | None = None

    @property
    def idle(self) -> bool:
        """Nothing was configured that could ever change anything."""
        computer = self._computer
        return computer.bank is None and computer.lay_up_seconds is None

    def look(self, snapshot: Snapshot) -> Thrift:
        """What to do from now on."""
        view = next((b for b in snapshot.banks if b.id == self._computer.bank), None)
        if view is None:
            return Thrift(*self._period())
        self._follow(view)
        return Thrift(*self._period(), self._last(view, snapshot.seconds))

    def _period(self) -> tuple[float, str]:
        computer = self._computer
        season = computer.lay_up_seconds or 0.0
        if self._slow and computer.slow_seconds > season:
            return computer.slow_seconds, "below the lowest planned charge"
        return season, "laid up" if season else ""

    def _follow(self, view: BankView) -> None:
        lowest, soc = view.lowest_soc, view.charge.soc
        if lowest is None or soc.figure is None or not _sure(view):
            return
        self._slow = soc.figure < lowest + (BACK_SOC if self._slow else 0.0)

    def _last(self, view: BankView, now: float) -> str:
        """The last words, once it has been at the last level for long enough."""
        words = "" if _charging(view) else self._at_the_last(view)
        if not words:
            self._low_since = None
            return ""
        if self._low_since is None:
            self._low_since = now
        return words if now - self._low_since >= LAST_SECONDS else ""

    def _at_the_last(self, view: BankView) -> str:
        computer, soc, volts = self._computer, view.charge.soc, view.volts.figure
        last = computer.last_soc
        if last is not None and soc.figure is not None and soc.figure <= last and _sure(view):
            return f"{view.id}: {100.0 * soc.figure:.0f} % charged, last level {100.0 * last:.0f} %"
        if computer.last_volts is not None and volts is not None and volts <= computer.last_volts:
            return f"{view.id}: {volts:.2f} V, last level {computer.last_volts:.2f} V"
        return ""


def _sure(view: BankView) -> bool:
    sd = view.charge.soc.sd
    return sd is not None and sd <= SURE_SD


def _charging(view: BankView) -> bool:
    """Something is being given back; what is not measured is no reason to go on."""
    amps = view.amps.figure
    return amps is not None and amps > CHARGING_RATE * view.amp_hours
