"""What the keys do and what the words mean."""

from __future__ import annotations

from collections.abc import Iterable

from textual.binding import Binding, BindingType

from monitor.dashboard.actions import DEEDS, Deed, offered
from monitor.dashboard.screens.alarms import AlarmsScreen
from monitor.dashboard.screens.commission import CommissionScreen
from monitor.dashboard.screens.devices import DevicesScreen
from monitor.dashboard.screens.journal import JournalScreen
from monitor.dashboard.screens.page import PageScreen
from monitor.dashboard.screens.tonight import TonightScreen
from monitor.dashboard.screens.trend import TrendScreen
from monitor.words.sentences import STAGE_MEANS, STAGE_WORD
from monitor.words.texts import HELP_HEADINGS, HOW_TO_READ, Section
from monitor.words.trend import stage_letters


def key_sections(playing: bool, banks: int) -> list[Section]:
    """Screens first, then how they look, then what drives a capture."""
    shown = [deed for deed in DEEDS if offered(deed, playing, banks)]
    ways = ("leave", "cautions")
    screens = [deed for deed in shown if deed.screen or deed.action in ways]
    capture = [deed for deed in shown if deed.replay]
    looks = [deed for deed in shown if deed not in screens and deed not in capture]
    groups = (
        (HELP_HEADINGS.screens, screens),
        (HELP_HEADINGS.looks, looks),
        (HELP_HEADINGS.capture, capture),
    )
    return [Section(heading, _lines(deeds)) for heading, deeds in groups if deeds]


def _lines(deeds: Iterable[Deed]) -> tuple[str, ...]:
    return tuple(f"{deed.key}  {deed.words}" for deed in deeds)


def bound_section(heading: str, bindings: Iterable[BindingType]) -> Section:
    """The keys of one screen that has some of its own."""
    bound = [each for each in bindings if isinstance(each, Binding) and each.description]
    return Section(heading, tuple(f"{b.key.split(',')[0]}  {b.description}" for b in bound))


class HelpScreen(PageScreen):
    """Keys first, then the stages, then how to read the screen."""

    HEADING = HELP_HEADINGS.help

    def on_mount(self) -> None:
        super().on_mount()
        feed = self.board.feed
        stages = tuple(f"{STAGE_WORD[stage]}: {means}" for stage, means in STAGE_MEANS.items())
        self.write(
            [
                *key_sections(feed.player is not None, len(feed.site.banks)),
                bound_section(HELP_HEADINGS.pages, PageScreen.BINDINGS),
                bound_section(HELP_HEADINGS.alarms, AlarmsScreen.BINDINGS),
                *_own_keys(),
                Section(HELP_HEADINGS.stages, (*stages, stage_letters())),
                *HOW_TO_READ,
            ]
        )


def _own_keys() -> list[Section]:
    """Screens that have keys of their own, beside the alarms."""
    own = (
        (HELP_HEADINGS.trend, TrendScreen),
        (HELP_HEADINGS.tonight, TonightScreen),
        (HELP_HEADINGS.devices, DevicesScreen),
        (HELP_HEADINGS.journal, JournalScreen),
        (HELP_HEADINGS.commission, CommissionScreen),
    )
    return [bound_section(heading, screen.BINDINGS) for heading, screen in own]
