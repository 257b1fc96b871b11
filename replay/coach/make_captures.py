"""Make the shipped demonstration captures: python -m replay.coach.make_captures [OUTDIR]

Without OUTDIR they go where they are shipped, replay/captures/. The same source gives the same
bytes on the same C library; figures are rounded to what the sensors resolve, so elsewhere a last
digit may differ in a row now and then.
"""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Final

from replay.coach.recording import write_capture
from replay.coach.stories import STORIES
from replay.sealed_lines import CaptureError

#: Three days with a fault, an LFP van, a 24 V coach.
SHIPPED: Final = ("pinewater", "saltmarsh", "highfell")
HOME: Final = Path(__file__).resolve().parent.parent / "captures"


def file_name(story: str) -> str:
    return f"{story}.capture.gz"


def make_captures(folder: Path, hours: float | None = None) -> tuple[Path, ...]:
    """Write them all; `hours` cuts each short (for a quick check)."""
    made = []
    for name in SHIPPED:
        story = STORIES[name]
        if hours is not None:
            story = story.with_hours(hours)
        made.append(write_capture(story, folder / file_name(name)))
    return tuple(made)


def main(arguments: list[str] | None = None) -> int:
    given = sys.argv[1:] if arguments is None else arguments
    if len(given) > 1 or (given and given[0].startswith("-")):
        print("usage: python -m replay.coach.make_captures [OUTDIR]", file=sys.stderr)
        return 2
    folder = Path(given[0]) if given else HOME
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for path in make_captures(folder):
            print(f"{path}: {path.stat().st_size / 1024:.0f} kB")
    except (OSError, CaptureError) as error:
        print(f"{folder}: the captures cannot be written ({error})", file=sys.stderr)
        return 2
    return 0


if __name__ == "__main__":
    sys.exit(main())
