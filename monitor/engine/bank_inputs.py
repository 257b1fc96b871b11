"""One bank as its devices show it now, and when its volts and amps belong together.

`BankInputs` is what the engine's rooms read; `Pair` says when a new one is to be had from two
figures that may come from two devices. `align` fills both.
"""

from __future__ import annotations

from typing import ClassVar

from monitor.engine.device import BEFORE_ALL, Given, Slot


class BankInputs:
    """One bank as the devices show it now: the single value that the engine's rooms read.

    A mutable object that is reused from step to step (building a frozen one at every reading
    would cost more than the whole stage filter); nobody but `align` writes to it. Figures are
    None where no device gave one or the last is too old; ages are seconds before `seconds`.
    The lists run in the order of the site's sources of this bank; `source_seconds` are the moments
    at which the sources' volts were read, which may lie behind `seconds` by their devices' periods.
    """

    KEPT: ClassVar[tuple[str, ...]] = (
        "amps",
        "amps_age",
        "celsius",
        "celsius_age",
        "charge_permitted",
        "discharge_permitted",
        "reported_stages",
        "seconds",
        "source_amps",
        "source_seconds",
        "source_volts",
        "volts",
        "volts_age",
    )
    __slots__ = KEPT

    def __init__(self, sources: int) -> None:
        self.seconds = 0.0
        self.volts: float | None = None
        self.volts_age = 0.0
        self.amps: float | None = None
        self.amps_age = 0.0
        self.celsius: float | None = None
        self.celsius_age = 0.0
        self.charge_permitted: bool | None = None
        self.discharge_permitted: bool | None = None
        self.source_volts: list[float | None] = [None] * sources
        self.source_seconds: list[float] = [BEFORE_ALL] * sources
        self.source_amps: list[float | None] = [None] * sources
        self.reported_stages: list[str | None] = [None] * sources


class Pair:
    """Volts and amps that belong together, perhaps from two devices: when is a pair new?"""

    KEPT: ClassVar[tuple[str, ...]] = ("stepped_volts", "stepped_amps")
    __slots__ = (*KEPT, "amps", "volts")

    def __init__(self, volts: Slot, amps: Slot) -> None:
        self.volts = volts
        self.amps = amps
        self.stepped_volts = BEFORE_ALL
        self.stepped_amps = BEFORE_ALL

    def period(self, now: float) -> float:
        """Seconds between two pairs, as their devices are polled; 0 where nobody said."""
        return max(self.volts.period(now), self.amps.period(now))

    def fill(self, now: float, inputs: BankInputs) -> bool:
        """Write fresh volts and amps, both newer than the last pair, with their ages; False where
        there is no such pair yet. The moment of a pair is that of its newer half.

        Where only one of the two is to be had, that one alone is enough, and is still there to
        make a pair when the other comes.
        """
        volts = self.volts.best(now)
        amps = self.amps.best(now)
        if volts is None or amps is None:
            return volts is not amps and self._half(now, inputs, volts, amps)
        volts_at = volts.seconds
        amps_at = amps.seconds
        if volts_at <= self.stepped_volts or amps_at <= self.stepped_amps:
            return False
        self.stepped_volts = volts_at
        self.stepped_amps = amps_at
        moment = volts_at if volts_at > amps_at else amps_at
        inputs.seconds = moment
        inputs.volts = volts.figure  # type: ignore[assignment] # a number by its channel
        inputs.volts_age = moment - volts_at
        inputs.amps = amps.figure  # type: ignore[assignment] # likewise
        inputs.amps_age = moment - amps_at
        return True

    def _half(
        self, now: float, inputs: BankInputs, volts: Given | None, amps: Given | None
    ) -> bool:
        """Write the one of the two that there is."""
        volts_at = now if volts is None else volts.seconds
        amps_at = now if amps is None else amps.seconds
        moment = max(volts_at, amps_at)
        inputs.seconds = moment
        inputs.volts = None if volts is None else float(volts.figure)
        inputs.volts_age = moment - volts_at
        inputs.amps = None if amps is None else float(amps.figure)
        inputs.amps_age = moment - amps_at
        return True
