"""The figures at once: what `now` says, on the terminal while the full screen is still loading.

Loading the screen's toolkit takes half a second here and some seconds on a small board; asking the
service takes a fifth of that. The lines stand on the alternate screen (ECMA-48 private mode 1049,
as xterm documents it), which the toolkit then takes over: nothing of them is left behind.
"""

from __future__ import annotations

import contextlib
import os
from collections.abc import Iterator
from typing import TYPE_CHECKING, Final, TextIO

from monitor.plain import now_text
from monitor.words.texts import OPENING

if TYPE_CHECKING:
    from monitor.engine.snapshot import Snapshot

#: To the alternate screen, cleared, cursor home; lines end as a raw terminal wants them.
_ENTER: Final = "\x1b[?1049h\x1b[H\x1b[2J"
_LEAVE: Final = "\x1b[?1049l"


@contextlib.contextmanager
def at_once(snapshot: Snapshot, out: TextIO, size: os.terminal_size) -> Iterator[None]:
    """Show a snapshot until the screen inside takes over; taken back where it never could."""
    # A terminal that tells no size is taken for the one that every terminal once was.
    columns, rows = size.columns or 80, size.lines or 24
    lines = [line[:columns] for line in (*now_text(snapshot).splitlines(), "", OPENING)]
    out.write(_ENTER + "\r\n".join(lines[:rows]))
    out.flush()
    try:
        yield
    except BaseException:
        out.write(_LEAVE)
        out.flush()
        raise
