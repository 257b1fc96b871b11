"""Where a playing capture is: its time, its end, its rate."""

from __future__ import annotations

from monitor.dashboard.widgets.blocks import Signs, rule
from monitor.dashboard.widgets.line import Line
from monitor.feed import PlayerControls
from monitor.words.figures import Clock, span


def replay_words(player: PlayerControls, clock: Clock, signs: Signs, width: int) -> str:
    """`capture  paused  ━━━━────  2 h 10 min of 3 days  x60  Tue 14:32`."""
    length = max(player.end - player.start, 0.0)
    gone = min(max(player.position - player.start, 0.0), length)
    state = "paused" if player.paused else f"x{player.rate:g}"
    if not player.paused and gone >= length:
        state = "at its end"
    left = f"capture {state:<7}"
    right = f"{span(gone)} of {span(length)}"
    moment = clock.time(player.position)
    if moment is not None and width >= 56:
        right += f", {moment:%a %d %b}"
    room = width - len(left) - len(right) - 4
    line = rule(gone / length if length else 0.0, room, signs) if room >= 6 else ""
    return f"{left}  {line}  {right}" if line else f"{left} {right}"


class ReplayBar(Line):
    """One line above the hints; absent when live."""

    DEFAULT_CSS = """
    ReplayBar { dock: bottom; height: 1; padding: 0 1; margin-bottom: 1; }
    """
