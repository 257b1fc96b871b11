"""Open the screen on a feed, and see to it that it closes."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable
from datetime import tzinfo
from pathlib import Path

from monitor.dashboard.app import Dashboard
from monitor.dashboard.line_noise import bear_line_noise
from monitor.dashboard.widgets.blocks import Signs
from monitor.feed import Feed
from monitor.told_to_end import SIGNALS, STDERR, Ending


def run_dashboard(
    feed: Feed,
    *,
    mouse: bool = False,
    zone: tzinfo | None = None,
    show_cautions: bool = False,
    on_cautions_read: Callable[[], None] | None = None,
    theme: str | None = None,
    signs: Signs = Signs.BLOCKS,
    who: str = "dashboard",
    bell: bool = False,
    fahrenheit: bool = False,
    twelve: bool = False,
    folder: Path = Path(),
) -> int:
    """Show `feed` until the person leaves: 0; or 1, and one line on stderr, where it failed."""
    board = Dashboard(
        feed,
        zone=zone,
        show_cautions=show_cautions,
        on_cautions_read=on_cautions_read,
        theme=theme,
        signs=signs,
        who=who,
        bell=bell,
        fahrenheit=fahrenheit,
        twelve=twelve,
        folder=folder,
    )
    bear_line_noise()
    board.ending = Ending(STDERR, feed)
    with board.ending.at(SIGNALS, board.told_to_end):
        code = board.run(mouse=mouse)
    try:
        if board.failure:
            print(board.failure, file=sys.stderr)
        sys.stderr.flush()
    except OSError:
        # The line is gone, and what was meant for it: the interpreter must not fail of it at its
        # end, which would show as another exit status.
        os.dup2(os.open(os.devnull, os.O_WRONLY), STDERR)
    return code or 0
