"""A second bank behind a combiner: a starting battery that is charged along with the house bank.

While the combiner is closed the two stand on one bus, and current goes whichever way their volts
say; while it is open nothing does. To the first bank it is a load, which may give as well.
"""

from __future__ import annotations

from replay.coach.circuit import Feed, balance
from replay.coach.lead import LeadBank
from replay.coach.models import SecondBankModel


class SecondBank:
    """As it is now. Faults turn `dead` (it never closes), `welded` (never opens) and `out`."""

    def __init__(self, model: SecondBankModel, nominal_volts: int, step_seconds: float) -> None:
        self.model = model
        self.bank = LeadBank(model.bank, step_seconds)
        self.closed = False
        self.dead = self.welded = self.out = False
        self.amps = 0.0
        self.posts = self.bank.rest_volts()
        self._twelves = nominal_volts / 12.0

    def advance(self, bus: float, air_celsius: float) -> None:
        """One step beside a bus of these volts."""
        model = self.model
        edge = (model.open_volts if self.closed else model.close_volts) * self._twelves
        self.closed = not self.out and (self.welded or (bus >= edge and not self.dead))
        # A feed gives from nought up: shifted by its limit, and the shift drawn off again, it goes
        # both ways.
        limit, siemens = (model.limit_amps if self.closed else 0.0), 1e3 / model.milliohms
        both_ways = Feed(bus + limit / siemens, siemens if self.closed else 0.0, 2.0 * limit)
        branch = self.bank.branch()
        found = balance(branch, [both_ways], limit, self.bank.inner)
        self.bank.advance(found, branch, air_celsius)
        self.posts, self.amps = found.posts, found.amps
