"""How fast this bank's held current falls, against how fast the circuit says it should.

The circuit's level can be right and its fall wrong: gas, acceptance and what is missing pull at the
same current. But what fell during the last hour, while a known charge went in, was seen. The ratio
of the fall seen to the circuit's own fall over the same charge is the *pace*; what is left of a
held charge takes so much less time.
"""

from __future__ import annotations

import math
from typing import ClassVar, Final

from monitor.engine.cell import Circuit

POINT_SECONDS: Final = 120.0
POINTS: Final = 31  # an hour of points
LEAST_FALL: Final = 0.10  # of the log of the current: below, noise and loads are the larger part
MOST: Final = 3.0  # a pace further from one means another thing than a wrong circuit
NOISE_RATE: Final = 0.0005  # of the label: what a minute's mean current errs by (a common shunt)
PRIOR_SD: Final = 0.35  # of the log of the pace before anything was seen (ours, on two truths)


class Pace:
    """Follows one hold: `note` at every reading of it, `clear` when another begins."""

    KEPT: ClassVar[tuple[str, ...]] = (
        "_amp_seconds",
        "_amps",
        "_due",
        "_polarisation",
        "_seconds",
        "_volts",
    )
    __slots__ = KEPT

    def __init__(self) -> None:
        self.clear()

    def clear(self) -> None:
        self._seconds: list[float] = []  # one figure a point: held seconds since the hold began,
        self._amp_seconds: list[float] = []  # net charge since then,
        self._amps: list[float] = []  # net amps,
        self._volts: list[float] = []  # volts per cell,
        self._polarisation: list[float] = []  # and the slow part of them
        self._due = 0.0

    def note(
        self, elapsed: float, amps: float, calm_amps: float, volts: float, polarisation: float
    ) -> None:
        """`amps` flowed for `elapsed` seconds at `volts` per cell; `calm_amps` over a minute."""
        if not self._seconds:
            self._point(0.0, 0.0, calm_amps, volts, polarisation)
            return
        self._seconds[-1] += elapsed
        self._amp_seconds[-1] += amps * elapsed
        self._due -= elapsed
        if self._due > 0.0:
            self._amps[-1] = calm_amps
            self._volts[-1] = volts
            self._polarisation[-1] = polarisation
            return
        self._point(self._seconds[-1], self._amp_seconds[-1], calm_amps, volts, polarisation)

    def _point(
        self, seconds: float, amp_seconds: float, amps: float, volts: float, polarisation: float
    ) -> None:
        self._due = POINT_SECONDS
        for figures, figure in (
            (self._seconds, seconds),
            (self._amp_seconds, amp_seconds),
            (self._amps, amps),
            (self._volts, volts),
            (self._polarisation, polarisation),
        ):
            figures.append(figure)
            if len(figures) > POINTS + 1:
                del figures[0]

    def look(
        self,
        circuit: Circuit,
        soc: float,
        celsius: float,
        offset_amps: float,
        end_amps: float,
        label: float,
        capacity: float,
    ) -> float:
        """The pace to `end_amps`: above one, the current falls faster than the circuit says.

        A fall that was seen tells of one as large ahead, and less of a larger one.
        """
        if len(self._seconds) < 3:
            return 1.0
        now_amps = self._amps[-1] - offset_amps
        then_amps = self._amps[0] - offset_amps
        if min(now_amps, then_amps) <= 0.0:
            return 1.0
        seen = math.log(then_amps / now_amps)
        hours = (self._seconds[-1] - self._seconds[0]) / 3600.0
        charge = (self._amp_seconds[-1] - self._amp_seconds[0]) / 3600.0 - offset_amps * hours
        gas = circuit.gas(self._volts[-1], celsius) * hours
        moved = (charge / capacity - gas) / (1.0 + circuit.share(soc))
        if moved <= 0.0 or soc - moved <= 0.0:
            return 1.0
        now = circuit.held(soc, self._polarisation[-1], self._volts[-1], celsius)
        then = circuit.held(soc - moved, self._polarisation[0], self._volts[0], celsius)
        fall = math.log(then / now) if min(now, then) > 0.0 else 0.0
        if seen < LEAST_FALL or fall < LEAST_FALL:
            return 1.0
        ratio = min(max(seen / fall, 1.0 / MOST), MOST)
        sd = NOISE_RATE * label * (1.0 / now_amps + 1.0 / then_amps) / seen
        ahead = math.log(max(now_amps / end_amps, 1.0)) if end_amps > 0.0 else MOST
        share = seen / (seen + ahead) / (1.0 + (sd / PRIOR_SD) ** 2)
        return math.exp(share * math.log(ratio))
