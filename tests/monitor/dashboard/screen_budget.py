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

from monitor.dashboard.actions import DEEDS
from tests.monitor.dashboard.pseudo_terminal import terminal

#: The budget: bytes a second and a share of a core at rest, seconds to the first frame.
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


def first_frame(folder: Path) -> tuple[float, float]:
    """Seconds from the start of the program to its first figures, and its own part of a core."""
    with terminal(folder) as board:
        began = time.monotonic()
        board.read(30, until=b"no alarm")
        took, used = time.monotonic() - began, board.cpu_seconds()
        board.type(b"q")
        board.wait()
    return took, used


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
        frames = [first_frame(folder) for _ in range(7)]
    took, used = (statistics.median(each) for each in zip(*frames, strict=True))
    print(f"\nfirst frame after {took:.2f} s, {used:.2f} s of a core (medians of 7)")
    if took > FIRST:
        over.append("first frame")
    print(f"over budget: {', '.join(over) or 'none'}")
    return 1 if over else 0


if __name__ == "__main__":
    sys.exit(main())
