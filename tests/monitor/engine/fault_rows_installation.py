"""Which condition must name each fault of instruments, wiring and the tool's devices, how soon."""

from __future__ import annotations

from typing import Final

from replay.coach import slow_stories as coaches
from tests.monitor.engine.fault_rows_charging import FaultRow, usual

INSTALLATION: Final[dict[str, FaultRow]] = {
    "shunt_reversed": usual("shunt_reversed", "shunt-reversed", 4.0, 5.0),
    "shunt_scale": usual("shunt_scale", "shunt-scale", 3.9, 4.0),
    "shunt_offset": usual("shunt_offset", "shunt-offset", 9.0, 10.0),
    "joint_resistance": usual("joint_resistance", "joint-resistance", 11.0, 12.0),
    "lead_drop": usual("lead_drop", "lead-drop-high", 2.5, 3.0),
    "source_around_shunt": usual("source_around_shunt", "charged-unseen", 2.2, 3.0),
    "draw_around_shunt": FaultRow(("held-current-high",), coaches.TIMED, 11.0, 2.0, 11.5),
    # a day of what is usual, then twelve hours, or six
    "standing_draw": FaultRow(("standing-draw",), coaches.LAID_UP, 13.0, 30.0, 13.5),
    "load_left_on": FaultRow(("large-load-left-on",), coaches.LAID_UP, 7.0, 30.0, 7.5),
}

TOOL: Final[dict[str, FaultRow]] = {
    "volts_missing": usual("volts_missing", "figure-missing", 0.1, 0.5),
    "device_silent": usual("device_silent", "device-silent", 0.02, 0.3),
    "poll_gaps": usual("poll_gaps", "polls-lost", 0.6, 0.8),
    "glitches": usual("glitches", "line-disturbed", 2.5, 3.0),
    "clock_jump": usual("clock_jump", "clock-jumped", 0.01, 0.2),
}
