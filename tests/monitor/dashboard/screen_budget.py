"""What every screen costs at one snapshot a second: bytes on the wire, share of a core.

`python -m tests.monitor.dashboard.screen_budget` measures in a pseudo-terminal of 100x30 with 256
colours and prints a table; it fails where the live screen is over its budget.
"""

from __future__ import annotations

import statistics
import sys
import tempfile
import time
from pathlib import Path
from typing import NamedTuple

from monitor.dashboard.actions import DEEDS
from tests.monitor.dashboard.pseudo_terminal import terminal

#: The budget: bytes a second and a share of a core at rest; seconds to the first frame of the
#: screen, and to the figures that stand before it.
BYTES, CORE, FIRST = 2000.0, 0.01, 0.35
SECONDS = 20.0


def measured(folder: Path, key: str, *, proving: bool = False) -> tuple[float, float]:
    """Bytes a second and the share of a core of one screen; with an installation being proved."""
    module = ["tests.monitor.dashboard.board_in_terminal", "1", str(folder / "log")]
    with terminal(folder, module=[*module, "proving"] if proving else module) as board:
        board.read(30, until=b"no alarm")
        board.type(key.encode())
        board.read(4.0)
        began, used = time.monotonic(), board.cpu_seconds()
        sent = len(board.read(SECONDS))
        lasted = time.monotonic() - began
        share = (board.cpu_seconds() - used) / lasted
        board.type(b"q")
        board.wait()
    return sent / lasted, share


class First(NamedTuple):
    """A program, and what is looked for on the terminal: seconds from its start, its CPU then."""

    told: str
    module: tuple[str, ...]
    until: bytes


#: The figures of a recording, as lines before the toolkit is loaded; the whole screen in its place,
#: whose keys come last; and the toolkit's own least, for comparison.
FIRSTS = (
    First("first figures, as lines", ("monitor.cli", "demo"), b" A into"),
    First("first frame of the screen", ("monitor.cli", "demo"), b" quit"),
    First("first frame of a program of one line", (f"{__package__}.one_line",), b"no alarm"),
)


def first(folder: Path, what: First) -> tuple[float, float]:
    """Seconds from the start of a program until it shows something, and its own part of a core."""
    with terminal(folder, module=what.module) as board:
        began = time.monotonic()
        assert what.until in board.read(30, until=what.until)
        return time.monotonic() - began, board.cpu_seconds()


def main() -> int:
    over = []
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        print("| screen | bytes a second | of a core |\n|---|---|---|")
        opened = [(deed.action, deed.key) for deed in DEEDS if deed.screen]
        for action, key in (("now", ""), *opened, ("commission, a check under way", "")):
            sent, share = measured(folder, key, proving=action not in ("now", *dict(opened)))
            print(f"| {action} | {sent:.0f} | {100 * share:.1f} % |", flush=True)
            if sent > BYTES or share > CORE:
                over.append(action)
        frames = [[first(folder, what) for what in FIRSTS] for _ in range(7)]
    print("\n| medians of 7 | seconds | of a core |\n|---|---|---|")
    for what, each in zip(FIRSTS, zip(*frames, strict=True), strict=True):
        took, used = (statistics.median(figures) for figures in zip(*each, strict=True))
        print(f"| {what.told} | {took:.2f} | {used:.2f} |")
        if took > FIRST and what.module[0] == "monitor.cli":
            over.append(what.told)
    print(f"over budget: {', '.join(over) or 'none'}")
    return 1 if over else 0


if __name__ == "__main__":
    sys.exit(main())
