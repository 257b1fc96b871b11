"""What was seen all the time beside the checks: extremes, how much of the time, the clock."""

from __future__ import annotations

from typing import Any, Final

from monitor.commission.look import Look
from monitor.commission.record import Clock, Coverage, Extreme, OwnLimits

#: A longer silence is a gap (as in a capture: devices report every few seconds).
GAP_SECONDS: Final = 30.0
#: The wall clock moved by more than this against the steady one: a jump, not drift (our choice).
JUMP_SECONDS: Final = 2.0

_UNITS: Final = {"volts": "V", "amps": "A", "celsius": "°C"}


class Seen:
    """Stepped by every look."""

    def __init__(self) -> None:
        self._ends: dict[str, list[float]] = {}
        self._from: float | None = None
        self._last = 0.0
        self._seen = 0.0
        self._gap = 0.0
        self._offset: float | None = None
        self._jumps = 0

    def look(self, look: Look) -> bool:
        """Take a look in; True where a gap lies before it. Without volts it was no look."""
        offset = look.wall_offset
        if offset is not None:
            if self._offset is not None and abs(offset - self._offset) > JUMP_SECONDS:
                self._jumps += 1
            self._offset = offset
        for name in _UNITS:
            figure = getattr(look, name)
            if figure is not None:
                self._extreme(name, figure, look.seconds)
        if look.volts is None:
            return False
        if self._from is None:
            self._from = self._last = look.seconds
            return False
        passed = max(look.seconds - self._last, 0.0)
        self._last = look.seconds
        if passed <= GAP_SECONDS:
            self._seen += passed
            return False
        self._gap = max(self._gap, passed)
        return True

    def restarted(self) -> None:
        """Another run, whose steady clock is another: its offset is no jump."""
        self._offset = None

    def _extreme(self, name: str, figure: float, seconds: float) -> None:
        ends = self._ends.setdefault(name, [figure, seconds, figure, seconds])
        if figure < ends[0]:
            ends[0], ends[1] = figure, seconds
        if figure > ends[2]:
            ends[2], ends[3] = figure, seconds

    def extremes(self, own: OwnLimits) -> tuple[Extreme, ...]:
        discharge = None if own.discharge_amps is None else -own.discharge_amps
        limits = {
            "volts": (own.lowest_volts, own.highest_volts),
            "amps": (discharge, own.charge_amps),
            "celsius": (own.charge_low_celsius, own.charge_high_celsius),
        }
        return tuple(
            Extreme(
                name,
                _UNITS[name],
                ends[0],
                ends[1],
                ends[2],
                ends[3],
                *limits[name],
                own.source,
            )
            for name, ends in self._ends.items()
        )

    def coverage(self) -> Coverage | None:
        if self._from is None:
            return None
        return Coverage(self._from, self._last, self._seen, self._gap)

    def clock(self) -> Clock:
        if self._offset is None:
            return Clock(False, self._jumps, "no wall clock was recorded")
        if self._jumps:
            return Clock(
                False, self._jumps, f"the wall clock was set {self._jumps} times meanwhile"
            )
        return Clock(True, 0, "never set meanwhile")

    def state(self) -> dict[str, Any]:
        return {
            "ends": self._ends,
            "from": self._from,
            "last": self._last,
            "seen": self._seen,
            "gap": self._gap,
            "offset": self._offset,
            "jumps": self._jumps,
        }

    def take_up(self, state: dict[str, Any]) -> None:
        self._ends = {name: [float(x) for x in ends] for name, ends in state["ends"].items()}
        self._from, self._offset = state["from"], state["offset"]
        self._last, self._seen = float(state["last"]), float(state["seen"])
        self._gap, self._jumps = float(state["gap"]), int(state["jumps"])
