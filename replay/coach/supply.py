"""The AC side: a pedestal or generator with its cable, and what the chargers ask of it.

Volts sag by the current through the cable's resistance; the current follows from watts, volts and
power factor. Below 90 V a universal-input charger stops (common practice: 90 to 265 V).
"""

from __future__ import annotations

from random import Random
from typing import Final

from replay.coach.models import SupplyModel

_CHARGER_STOPS_VOLTS: Final = 90.0


def split_legs(
    volts: float, ohms: float, neutral_ohms: float, load_ohms: tuple[float, float]
) -> tuple[float, float]:
    """What two loads see, one on each leg of a split supply, each leg `volts` to its neutral.

    Two meshes share the neutral; each leg has `ohms` of its own. With the neutral open (ohms
    without end, a million will do) the loads stand in series across both legs.
    """
    one, other = load_ohms
    first, second = ohms + one + neutral_ohms, ohms + other + neutral_ohms
    spread = first * second - neutral_ohms**2
    amps = volts * (second + neutral_ohms) / spread
    others = volts * (first + neutral_ohms) / spread
    return amps * one, others * other


class Supply:
    """As it is now. Faults turn `source_volts`, `source_hertz`, `ohms`, `power_factor`, `lost`."""

    def __init__(self, model: SupplyModel, seed: str) -> None:
        self.model = model
        self.source_volts = model.volts
        self.source_hertz = model.hertz
        self.ohms = model.ohms
        self.power_factor: float | None = None
        self.lost = False
        self.volts = self.amps = self.watts = self.hertz = self.factor = 0.0
        self._random = Random(seed)
        self._wander = 0.0

    @property
    def usable(self) -> bool:
        """Whether a charger would run on it."""
        return not self.lost and self.source_volts >= _CHARGER_STOPS_VOLTS

    def advance(self, charger_watts: float, power_factor: float, present: bool) -> None:
        """One step with the chargers taking this much; `present`: the cord is plugged in."""
        if self.lost or not present:
            self.volts = self.amps = self.watts = self.hertz = self.factor = 0.0
            return
        self._wander = 0.995 * self._wander + self._random.gauss(0.0, 0.12)
        factor = self.power_factor if self.power_factor is not None else power_factor
        other = self.model.other_watts
        volt_amps = charger_watts / factor + other
        before = self.volts if self.volts > 0.0 else self.source_volts
        self.amps = volt_amps / before
        self.watts = charger_watts + other
        self.volts = max(self.source_volts + self._wander - self.ohms * self.amps, 0.0)
        self.hertz = self.source_hertz + self._random.gauss(0.0, 0.01)
        # With nothing on the cord there is no current to have a factor: 1, as meters show it.
        self.factor = self.watts / volt_amps if volt_amps > 0.0 else 1.0
