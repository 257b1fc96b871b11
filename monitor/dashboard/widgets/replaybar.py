"""Where a playing capture is: its time, its end, its rate."""

from __future__ import annotations

import math
from typing import Final

from monitor.dashboard.widgets.blocks import Signs, rule
from monitor.dashboard.widgets.line import Line
from monitor.feed import PlayerControls
from monitor.words import replay as say
from monitor.words.figures import Clock
from monitor.words.fitting import first_fitting

#: A screen may lag so far behind a capture that it follows at its pace: seconds of that pace (a
#: few slow frames), and seconds of the capture. Further behind, the person has jumped.
_LAG_SECONDS: Final = 2.0
_JUMPED_SECONDS: Final = 300.0


def replay_words(
    player: PlayerControls, clock: Clock, signs: Signs, width: int, shown: float | None = None
) -> str:
    """`capture paused   ━━━━────  2 h 10 min of 3 days, Tue 12 May`.

    `shown` is the moment that the figures on the screen are of; far behind the place that was
    jumped to, they are not yet those of that place, and the bar says so.
    """
    length = max(player.end - player.start, 0.0)
    gone = min(max(player.position - player.start, 0.0), length)
    pace = player.rate if math.isfinite(player.rate) else 0.0
    state = say.rate(player.rate)
    if player.paused:
        state = say.PAUSED
    if not player.paused and gone >= length:
        state = say.AT_ITS_END
    lag = player.position - shown if shown is not None and player.catching_up else 0.0
    if lag > _JUMPED_SECONDS + _LAG_SECONDS * pace:
        state = say.on_the_way(_share(player, shown or 0.0))
    left, right = say.playing(state), say.place(gone, length)
    moment = clock.time(player.position)
    if moment is not None and width >= 56:
        right += f", {say.day(moment)}"
    room = width - len(left) - len(right) - 4
    line = rule(gone / length if length else 0.0, room, signs) if room >= 6 else ""
    if line:
        return f"{left}  {line}  {right}"
    ways = (f"{left} {right}", f"{left.rstrip()} {right}", f"{state} {right}", right)
    return first_fitting(width, *ways)


def _share(player: PlayerControls, shown: float) -> float:
    """Of the way from the start of the capture: what was worked out before counts as gone."""
    way = player.position - player.start
    return min(max((shown - player.start) / way, 0.0), 1.0) if way > 0.0 else 0.0


class ReplayBar(Line):
    """One line above the hints; absent when live."""

    DEFAULT_CSS = """
    ReplayBar { dock: bottom; height: 1; padding: 0 1; margin-bottom: 1; }
    """

    def draw(
        self, player: PlayerControls | None, clock: Clock, signs: Signs, shown: float | None
    ) -> None:
        """Where the capture is; `shown` is the moment of the figures on the screen."""
        if player is not None:
            self.show(replay_words(player, clock, signs, self.size.width, shown))
