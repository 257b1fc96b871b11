"""A battery management system: watches the first and the last cell, opens one side, closes it.

With the charge side open the bank can still be drawn from; with the discharge side open it can
still be charged. The other side's current has no way, whatever sources and loads want.
"""

from __future__ import annotations

from replay.coach.models import ProtectionModel


class Protection:
    """Both sides as they are now. Faults force a side open, or make it `blind` to temperature."""

    def __init__(self, model: ProtectionModel) -> None:
        self.model = model
        self.charge_closed = True
        self.discharge_closed = True
        self.force_charge_open = False
        self.force_discharge_open = False
        self.blind = False
        self._charge_wait = 0.0
        self._discharge_wait = 0.0

    def advance(self, highest: float, lowest: float, celsius: float, step_seconds: float) -> None:
        """Look at the cells once more."""
        model = self.model
        if self.blind:
            celsius = 25.0
        stop = highest >= model.high_cell or celsius <= model.low_celsius
        stop = stop or celsius >= model.high_celsius or self.force_charge_open
        clear = highest < model.high_cell_close and celsius > model.low_celsius_close
        clear = clear and celsius < model.high_celsius_close and not self.force_charge_open
        self.charge_closed, self._charge_wait = self._side(
            self.charge_closed, self._charge_wait, stop, clear, step_seconds
        )
        stop = lowest <= model.low_cell or self.force_discharge_open
        clear = lowest > model.low_cell_close and not self.force_discharge_open
        self.discharge_closed, self._discharge_wait = self._side(
            self.discharge_closed, self._discharge_wait, stop, clear, step_seconds
        )

    def _side(
        self, closed: bool, wait: float, stop: bool, clear: bool, step: float
    ) -> tuple[bool, float]:
        if (closed and not stop) or (not closed and not clear):
            return closed, 0.0
        wait += step
        return (not closed, 0.0) if wait >= self.model.delay_seconds else (closed, wait)
