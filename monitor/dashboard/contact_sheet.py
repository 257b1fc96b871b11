"""Every screen in every size and theme as pictures, and one sheet of them for each theme.

`python -m monitor.dashboard.contact_sheet FOLDER` draws a shipped recording at a fixed moment. To
be looked at one by one: nothing else finds what is clipped, crowded or unclear.
"""

from __future__ import annotations

import argparse
import asyncio
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Final, NamedTuple

from textual.pilot import Pilot

from monitor.commission.attended import Attended
from monitor.commission.installation_file import from_site
from monitor.commission.procedure import Procedure
from monitor.commission.said import Said
from monitor.commission.session import Session
from monitor.commission.setting import Setting
from monitor.dashboard.actions import DEEDS
from monitor.dashboard.app import Dashboard
from monitor.dashboard.keeping import screen_svg
from monitor.dashboard.picture import HOURS, RECORDING, ZONE, Still
from monitor.dashboard.screens.commission import CommissionScreen
from monitor.dashboard.themes import THEME_NAMES

SIZES: Final = ((100, 30), (80, 24), (60, 20), (40, 15), (30, 10))
#: Columns and rows of a sheet in the pictures' units, and the gap between two.
_GAP: Final = 40
_CELL: Final = (10, 20)
_FRAME: Final = 32
#: Longest wait for what is worked out beside the screen.
_TURNS: Final = 400
#: The check that is shown, before it is begun and while hands are at it.
_CHECK: Final = "voltmeter"


class Shot(NamedTuple):
    """A screen by its name, the keys that open it, and those that leave it."""

    name: str
    opens: tuple[str, ...] = ()
    leaves: tuple[str, ...] = ("x",)


#: The live screen, then every screen that a key opens, what is asked in a line, the list of
#: commands, and the cautions. An installation is proved on a board of its own.
LIVE: Final = (
    Shot("now", (), ()),
    *(
        Shot(deed.action, (deed.key,))
        for deed in DEEDS
        if deed.screen and deed.action != "commission"
    ),
    Shot("ask", ("o", "l"), ("escape", "x")),
    Shot("menu", ("m",), ("escape",)),
    Shot("cautions", ("y",), ("y",)),
)
#: While a capture plays.
PLAYING: Final = (
    Shot("now-playing", (), ()),
    Shot("account-playing", ("u",)),
    Shot("go-to", ("9",), ("escape",)),
)
COMMISSION: Final = ("commission-waits", "commission-runs", "commission-list")
NAMES: Final = (*(shot.name for shot in (*LIVE, *PLAYING)), *COMMISSION)


class Paused:
    """The controls of a capture that stands still at one moment of it."""

    rate, paused, catching_up = 60.0, True, False

    def __init__(self, hours: float) -> None:
        self.start, self.position = 0.0, hours * 3600.0
        self.end = 2.0 * self.position

    def pause(self) -> None: ...
    def resume(self) -> None: ...
    def set_rate(self, rate: float) -> None: ...
    def seek(self, seconds: float) -> None: ...
    def step(self) -> None: ...


async def drawn(feed: Still, size: tuple[int, int], theme: str) -> dict[str, str]:
    """Each screen by its name, in one size and theme."""
    made = await _shots(feed, LIVE, size, theme)
    feed.player = Paused(HOURS)
    made |= await _shots(feed, PLAYING, size, theme)
    feed.player = None
    return made | await _proving(feed, size, theme)


async def _shots(
    feed: Still, shots: Sequence[Shot], size: tuple[int, int], theme: str
) -> dict[str, str]:
    made: dict[str, str] = {}
    board = Dashboard(feed, zone=ZONE, theme=theme)
    async with board.run_test(size=size) as pilot:
        while board.snapshot is None:
            await pilot.pause()
        for shot in shots:
            feed.look_again()  # the one moment is news again, however long the picture before took
            for key in shot.opens:
                await pilot.press(key)
                await _settled(board, pilot)
            await _settled(board, pilot)
            made[shot.name] = _picture(board, shot.name, size, theme)
            await pilot.press(*shot.leaves)
            await _settled(board, pilot)
    return made


async def _proving(feed: Still, size: tuple[int, int], theme: str) -> dict[str, str]:
    """One check of an installation that nobody has begun to prove yet, then begun; the list."""
    bank = feed.site.banks[0]
    procedure = Procedure(Setting(feed.site, bank, from_site(feed.site, bank)))
    session = Session(feed, procedure, None)
    made: dict[str, str] = {}
    board = Dashboard(Attended(feed, session), zone=ZONE, theme=theme)
    async with board.run_test(size=size) as pilot:
        while board.snapshot is None:
            await pilot.pause()
        board.push_screen(CommissionScreen(_CHECK))
        for name in COMMISSION:
            if name == "commission-runs":
                procedure.hear(Said(board.snapshot.seconds, session.who, _CHECK, "begin"))
                feed.look_again()
            elif name == "commission-list":
                await pilot.press("l")
            await _settled(board, pilot)
            board.redraw()
            await _settled(board, pilot)
            made[name] = _picture(board, name, size, theme)
    return made


def _picture(board: Dashboard, name: str, size: tuple[int, int], theme: str) -> str:
    return screen_svg(board, f"The screen {name} at {size[0]}x{size[1]}, {theme}")


async def _settled(board: Dashboard, pilot: Pilot[int]) -> None:
    """Nothing is being worked out, and what was is painted."""
    for _ in range(_TURNS):
        await pilot.pause()
        if all(worker.is_finished for worker in board.workers):
            break
    await pilot.pause()
    await pilot.pause()


def sheet(pictures: dict[tuple[str, tuple[int, int]], str]) -> str:
    """One picture of all: a row a screen, a column a size."""
    names = list(dict.fromkeys(name for name, _ in pictures))
    lefts, left = {}, _GAP
    for size in SIZES:
        lefts[size] = left
        left += size[0] * _CELL[0] + _FRAME + _GAP
    high = SIZES[0][1] * _CELL[1] + _FRAME + _GAP
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {left} {high * len(names) + _GAP}">',
        f'<rect width="{left}" height="{high * len(names) + _GAP}" fill="#808080"/>',
    ]
    for (name, size), picture in pictures.items():
        top = _GAP + names.index(name) * high
        wide, tall = size[0] * _CELL[0] + _FRAME, size[1] * _CELL[1] + _FRAME
        place = f'<svg x="{lefts[size]}" y="{top}" width="{wide}" height="{tall}" '
        parts.append(picture.replace("<svg ", place, 1))
    return "\n".join([*parts, "</svg>", ""])


async def write_all(feed: Still, folder: Path, themes: Sequence[str]) -> None:
    for theme in themes:
        pictures: dict[tuple[str, tuple[int, int]], str] = {}
        for size in SIZES:
            for name, picture in (await drawn(feed, size, theme)).items():
                pictures[name, size] = picture
                path = folder / theme / f"{name}_{size[0]}x{size[1]}.svg"
                path.parent.mkdir(parents=True, exist_ok=True)
                path.write_text(picture, encoding="utf-8")
        (folder / f"{theme}.svg").write_text(sheet(pictures), encoding="utf-8")


def main(argv: Sequence[str] | None = None) -> int:
    parser = argparse.ArgumentParser(prog="python -m monitor.dashboard.contact_sheet")
    parser.add_argument("folder", type=Path, help="where the pictures go")
    parser.add_argument("--theme", choices=THEME_NAMES, help="only this one")
    parser.add_argument("--recording", type=Path, default=RECORDING)
    parser.add_argument("--hours", type=float, default=HOURS, help="how far into the recording")
    chosen = parser.parse_args(argv)
    themes = THEME_NAMES if chosen.theme is None else (chosen.theme,)
    asyncio.run(write_all(Still(chosen.recording, chosen.hours), chosen.folder, themes))
    print(f"{chosen.folder}: {', '.join(f'{theme}.svg' for theme in themes)}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
