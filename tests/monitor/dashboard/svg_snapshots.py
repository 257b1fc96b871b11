"""Few screens in colour, kept as pictures: what plain text cannot show, a priority's colour.

`python -m tests.monitor.dashboard.svg_snapshots` remakes them; look at each in a browser before
it is kept. The toolkit is pinned exactly, so that only our own changes change them.
"""

from __future__ import annotations

import asyncio
from dataclasses import replace
from pathlib import Path
from typing import Final, NamedTuple

from monitor.dashboard.picture import picture
from monitor.dashboard.themes import THEME_NAMES
from tests.monitor.dashboard.fake_feed import HOT, LOW, NORMAL, FakeFeed

FOLDER: Final = Path(__file__).parent / "golden"


class Shot(NamedTuple):
    name: str
    theme: str
    size: tuple[int, int]
    keys: str


SHOTS: Final = (
    Shot("alarmed", THEME_NAMES[0], (100, 30), ""),
    Shot("alarms_sunlight", THEME_NAMES[1], (40, 15), "a"),
    Shot("account_colour_blind", THEME_NAMES[3], (80, 24), "u"),
)


def drawn(shot: Shot) -> str:
    feed = FakeFeed(replace(NORMAL, alarms=(HOT, LOW)))
    return asyncio.run(picture(feed, size=shot.size, theme=shot.theme, keys=shot.keys))


def kept(shot: Shot) -> Path:
    return FOLDER / f"{shot.name}.svg"


def main() -> None:
    for shot in SHOTS:
        kept(shot).write_text(drawn(shot), encoding="utf-8")


if __name__ == "__main__":
    main()
