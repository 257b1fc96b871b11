"""The program, which also tells what it holds whenever it gets SIGUSR1.

`python -m tests.monitor.dashboard.counted FILE ARGUMENTS...` runs `ampwright ARGUMENTS...`; each
signal appends one line of JSON to FILE: objects, blocks, tasks, widgets, and where a capture is.
"""

from __future__ import annotations

import asyncio
import gc
import json
import signal
import sys
from pathlib import Path
from types import FrameType

from textual.widget import Widget

from monitor.cli import main
from monitor.played import Controls


def held() -> dict[str, object]:
    """What there is now, garbage not yet collected left out."""
    gc.collect()
    objects = gc.get_objects()
    player = next((each for each in objects if type(each) is Controls), None)
    return {
        "objects": len(objects),
        "blocks": sys.getallocatedblocks(),
        "widgets": sum(isinstance(each, Widget) for each in objects),
        "tasks": sum(isinstance(each, asyncio.Task) for each in objects),
        "position": player.position if player is not None else None,
    }


def telling(path: Path) -> None:
    def tell(_number: int, _frame: FrameType | None) -> None:
        with path.open("a", encoding="utf-8") as file:
            file.write(json.dumps(held()) + "\n")

    signal.signal(signal.SIGUSR1, tell)


if __name__ == "__main__":
    telling(Path(sys.argv[1]))
    sys.exit(main(sys.argv[2:]))
