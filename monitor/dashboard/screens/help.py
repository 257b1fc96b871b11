"""What the keys do and what the words mean."""

from __future__ import annotations

from typing import cast

from textual.binding import Binding

from monitor.dashboard.actions import DEEDS, TENTHS, TENTHS_WORDS
from monitor.dashboard.screens.alarms import AlarmsScreen
from monitor.dashboard.screens.page import PageScreen
from monitor.dashboard.view import Board
from monitor.words.sentences import STAGE_MEANS
from monitor.words.texts import HOW_TO_READ, Section


def key_section(playing: bool) -> Section:
    lines = [f"{deed.key}  {deed.words}" for deed in DEEDS if playing or not deed.replay]
    if playing:
        lines.append(f"{TENTHS[0]} to {TENTHS[-1]}  {TENTHS_WORDS}")
    return Section("Keys", tuple(lines))


def alarm_key_section() -> Section:
    bound = [each for each in AlarmsScreen.BINDINGS if isinstance(each, Binding)]
    lines = [f"{each.key.split(',')[0]}  {each.description}" for each in bound if each.description]
    return Section("Keys in the list of alarms", tuple(lines))


class HelpScreen(PageScreen):
    """Keys first, then the stages, then how to read the screen."""

    HEADING = "Help"

    def on_mount(self) -> None:
        super().on_mount()
        stages = tuple(f"{stage.value}: {means}" for stage, means in STAGE_MEANS.items())
        player = cast(Board, self.app).feed.player
        keys = [key_section(player is not None), alarm_key_section()]
        self.write([*keys, Section("Stages", stages), *HOW_TO_READ])
