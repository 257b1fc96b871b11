"""What a bank takes for good at a held voltage, and how long it was kept full and warm.

After hours in float a sound bank takes next to nothing, after hours in absorption what it gasses.
What else goes on flowing is lost in the bank, or drawn from its posts without passing the shunt;
the shunt cannot tell the two apart.
"""

from __future__ import annotations

from typing import ClassVar, Final

from monitor.bank import Bank
from monitor.engine.minute import Minute
from monitor.engine.snapshot import Stage

HELD: Final = (Stage.FLOAT, Stage.ABSORPTION)
#: The current has settled after this (common practice: it falls for hours after absorption).
SETTLING_SECONDS: Final = 6.0 * 3600.0
FOLLOW_SECONDS: Final = 3600.0
#: Other stages for no longer than this (a load that the source could not carry).
PAUSE_SECONDS: Final = 900.0
#: Typical float current, 1 mA for an ampere-hour (IEC 62485-2: vented and sealed alike, before its
#: factors for safety), of which an old bank may take so many times, doubling for 10 °C.
USUAL_RATE: Final = 0.001
OLD_FACTOR: Final = {"flooded": 10.0, "lead-calcium": 10.0}
OTHER_FACTOR: Final = 5.0
#: In absorption: the same standard's figures for a high charge rate, 20 and 8 mA for an Ah.
GASSING_FACTOR: Final = {"flooded": 20.0, "lead-calcium": 20.0}
OTHER_GASSING_FACTOR: Final = 8.0
DOUBLING_CELSIUS: Final = 10.0
#: What a common shunt may show while nothing flows (0.1 % of 150 to 500 A).
SHUNT_AMPS: Final = 0.3
#: Full and warm: above this state of charge and temperature (common practice: LFP ages fastest
#: full and above 30 °C; stored half full).
FULL_SOC: Final = 0.9
WARM_CELSIUS: Final = 30.0
#: Neither full nor warm, it recovers nothing, but the time no longer counts as one stretch.
FORGETS: Final = 2.0


class FloatCurrent:
    """`amps` settled at a held voltage, None before; `full_and_warm_hours` in one long stretch."""

    KEPT: ClassVar[tuple[str, ...]] = (
        "amps",
        "full_and_warm_hours",
        "_seconds",
        "_gasses",
        "_pause",
        "_mean",
    )
    __slots__ = (*KEPT, "_amp_hours", "_factor", "_gassing", "_standing")

    def __init__(self, bank: Bank) -> None:
        self._amp_hours = bank.amp_hours
        self._factor = OLD_FACTOR.get(bank.chemistry.name, OTHER_FACTOR)
        self._gassing = GASSING_FACTOR.get(bank.chemistry.name, OTHER_GASSING_FACTOR)
        self._standing = bank.standing_amps or 0.0
        self.amps: float | None = None
        self.full_and_warm_hours = 0.0
        self._seconds = 0.0
        self._gasses = False
        self._pause = 0.0
        self._mean = 0.0

    def look(self, minute: Minute) -> None:
        self._full_and_warm(minute)
        if minute.stage not in HELD:
            self._pause += minute.elapsed
            if self._pause > PAUSE_SECONDS:
                self._seconds = 0.0
                self.amps = None
            return
        self._pause = 0.0
        gasses = minute.stage == Stage.ABSORPTION
        if self._seconds == 0.0 or gasses is not self._gasses:
            self._gasses = gasses
            self._seconds = 0.0
            self.amps = None
            self._mean = minute.amps
        self._seconds += minute.elapsed
        gain = minute.elapsed / (minute.elapsed + FOLLOW_SECONDS)
        self._mean += gain * (minute.amps - self._mean)
        if self._seconds >= SETTLING_SECONDS:
            self.amps = self._mean

    def most_amps(self, celsius: float | None) -> float:
        """What a worn but sound bank may take there, with the shunt's error."""
        warmer = max(0.0, (celsius if celsius is not None else 25.0) - 25.0)
        factor = self._gassing if self._gasses else self._factor
        rate = USUAL_RATE * factor * 2.0 ** (warmer / DOUBLING_CELSIUS)
        return float(rate * self._amp_hours + SHUNT_AMPS + self._standing)

    def _full_and_warm(self, minute: Minute) -> None:
        celsius = minute.celsius
        if celsius is None:
            return
        if minute.soc >= FULL_SOC and celsius >= WARM_CELSIUS:
            self.full_and_warm_hours += minute.hours
        else:
            hours = self.full_and_warm_hours - FORGETS * minute.hours
            self.full_and_warm_hours = max(0.0, hours)
