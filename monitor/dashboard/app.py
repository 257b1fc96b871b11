"""The dashboard: follows one feed, keeps the newest snapshot, tells the screens to redraw.

Wiring only. What a figure looks like is in `screens` and `widgets`, what it says in
`monitor.words`, what a key does in `actions`.
"""

from __future__ import annotations

import asyncio
import os
import signal
import sys
from collections.abc import Callable, Iterable
from datetime import tzinfo
from typing import ClassVar

from rich.console import RenderableType
from textual.app import App, SystemCommand
from textual.reactive import reactive
from textual.screen import Screen

from adapters.reading import Action, Command
from monitor.dashboard.actions import DEEDS
from monitor.dashboard.commands import CLOSE, CLOSE_HELP, WayOut, close
from monitor.dashboard.screens.alarms import AlarmsScreen
from monitor.dashboard.screens.explain import ExplainScreen
from monitor.dashboard.screens.glance import GlanceScreen
from monitor.dashboard.screens.help import HelpScreen
from monitor.dashboard.screens.journal import JournalScreen
from monitor.dashboard.screens.now import NowScreen
from monitor.dashboard.screens.safety import SafetyScreen
from monitor.dashboard.themes import THEME_NAMES, THEMES, VARIABLE_DEFAULTS, following
from monitor.dashboard.view import Drawing, View
from monitor.dashboard.widgets.blocks import Signs
from monitor.engine.snapshot import AlarmView, Snapshot
from monitor.feed import Feed
from monitor.words.figures import Clock
from monitor.words.sentences import rings
from monitor.words.texts import FEED_ENDED, FEED_QUIET, HOW_TO_LEAVE, feed_failed

#: Hours in the trend, in the order of the key that changes them.
WINDOWS: tuple[float, ...] = (6 * 3600.0, 24 * 3600.0, 72 * 3600.0, 3600.0)
#: Seconds without a snapshot after which nothing on the screen may look live. Live feeds speak
#: every second (common practice: ten missed polls are no hiccup).
QUIET_SECONDS = 10
JUMP_SECONDS = 600.0
RATES: tuple[float, ...] = (1.0, 5.0, 20.0, 60.0, 300.0, 1200.0, 3600.0)


class Dashboard(App[int]):
    """The screen of one feed.

    `zone` is the zone of clock times, None for the machine's own. `on_cautions_read` is called
    once the safety cautions were read; pass `show_cautions=True` where they were not read before.
    """

    TITLE = "Ampwright"
    ENABLE_COMMAND_PALETTE = True
    HORIZONTAL_BREAKPOINTS = [(0, "-narrow"), (60, "-middle"), (100, "-wide")]  # noqa: RUF012
    VERTICAL_BREAKPOINTS = [  # noqa: RUF012
        (0, "-short"),
        (18, "-medium"),
        (22, "-roomy"),
        (26, "-tall"),
    ]
    COMMANDS = App.COMMANDS | {WayOut}
    BINDINGS: ClassVar = []
    MODES: ClassVar = {"now": NowScreen}
    DEFAULT_MODE = "now"

    snapshot: reactive[Snapshot | None] = reactive(None, layout=False, repaint=False)

    def __init__(
        self,
        feed: Feed,
        *,
        zone: tzinfo | None = None,
        show_cautions: bool = False,
        on_cautions_read: Callable[[], None] | None = None,
        theme: str | None = None,
        signs: Signs = Signs.BLOCKS,
        who: str = "dashboard",
        bell: bool = False,
    ) -> None:
        # Without colour the filter is chosen here and now: with terminal colours it drops every
        # colour, otherwise it would still send greys.
        super().__init__(ansi_color=True if "NO_COLOR" in os.environ else None)
        self.animation_level = "none"
        for ours in THEMES:
            self.register_theme(ours)
        self.theme = theme if theme in THEME_NAMES else THEME_NAMES[0]
        self.feed = feed
        self.zone = zone
        self.signs = signs
        self.who = who
        self.bells = bell
        self._rung: frozenset[tuple[str, str]] = frozenset()
        self.bank_index = 0
        self.window_seconds = WINDOWS[0]
        self.stalled = ""
        self.failure = ""
        self._show_cautions = show_cautions
        self._on_cautions_read = on_cautions_read
        self._quiet = 0
        self._leaving = False
        self._following: asyncio.Task[None] | None = None

    def get_theme_variable_defaults(self) -> dict[str, str]:
        return VARIABLE_DEFAULTS

    # The feed.

    def on_mount(self) -> None:
        loop = asyncio.get_running_loop()
        for number in (signal.SIGHUP, signal.SIGTERM):
            loop.add_signal_handler(number, self.exit, 0)
        self.follow()
        self.set_interval(1.0, self.count_quiet)
        if self._show_cautions:
            self.push_screen(SafetyScreen(), self._cautions_read)

    def exit(
        self,
        result: int | None = None,
        return_code: int = 0,
        message: RenderableType | None = None,
    ) -> None:
        """Leave. Nothing is drawn from here on: the screens are taken apart while the feed still
        speaks, and would look like a failure of it."""
        self._leaving = True
        super().exit(result, return_code, message)

    async def on_unmount(self) -> None:
        if self._following is not None:
            self._following.cancel()
        await self.feed.stop()

    def follow(self) -> None:
        """Take snapshots from the feed until it ends; again after a finished capture was moved."""
        if self._following is None:
            self._following = asyncio.create_task(self._follow(first=True))
        elif self._following.done():
            self._following = asyncio.create_task(self._follow(first=False))

    async def _follow(self, first: bool) -> None:
        try:
            if first:
                await self.feed.start()
            async for snapshot in self.feed.snapshots():
                self._quiet, self.stalled = 0, ""
                self.snapshot = snapshot
        except asyncio.CancelledError:
            raise
        except Exception as problem:
            self.failure = feed_failed(problem)
            self.exit(1)
            return
        if getattr(self.feed, "last_words", ""):
            self.exit(0)  # it ended by its own choice: there is no more to see
            return
        if self.feed.player is None:
            self.stalled = FEED_ENDED
        self.redraw()

    def count_quiet(self) -> None:
        """Called once a second: a live feed that says nothing must not leave old figures up."""
        if self.feed.player is not None:
            return
        trouble = str(getattr(self.feed, "trouble", ""))
        if trouble and not self._leaving:
            self.stalled = trouble
            self.redraw()
        if self.stalled:
            return
        self._quiet += 1
        if self._quiet >= QUIET_SECONDS and self.snapshot is not None:
            self.stalled = FEED_QUIET
            self.redraw()

    # Drawing.

    @property
    def view(self) -> View:
        offset = self.snapshot.wall_offset if self.snapshot is not None else None
        return View(self.snapshot, self.bank_index, Clock(offset, self.zone), self.stalled)

    def watch_snapshot(self) -> None:
        self._ring()
        self.redraw()

    def _ring(self) -> None:
        """The terminal's bell at an alarm that was not there before, where it is wanted."""
        alarms = self.snapshot.alarms if self.snapshot is not None else ()
        unseen = frozenset((a.target, a.name) for a in alarms if rings(a))
        if self.bells and unseen - self._rung:
            self.bell()
        self._rung = unseen

    def redraw(self) -> None:
        """Let every screen that is open show what changed."""
        if self._leaving:
            return
        view = self.view
        with self.batch_update():
            for screen in self.screen_stack:
                if isinstance(screen, Drawing) and screen.is_mounted:
                    screen.show(view)

    # What keys and the command list do.

    def get_system_commands(self, screen: Screen[object]) -> Iterable[SystemCommand]:  # noqa: ARG002
        playing, banks = self.feed.player is not None, len(self.feed.site.banks)
        yield SystemCommand(CLOSE, CLOSE_HELP, close)
        for deed in DEEDS:
            if deed.action == "commands" or (deed.replay and not playing):
                continue
            if deed.action == "next_bank" and banks < 2:
                continue
            method = getattr(self, f"action_{deed.action}")
            yield SystemCommand(deed.words, f"key {deed.key}", method)

    def action_leave(self) -> None:
        self.exit(0)

    def action_help_quit(self) -> None:
        """Ctrl-C: the library would name a key that is not ours."""
        self.notify(HOW_TO_LEAVE)

    def action_commands(self) -> None:
        self.action_command_palette()

    def action_help(self) -> None:
        self._open(HelpScreen())

    def action_alarms(self) -> None:
        self._open(AlarmsScreen())

    def action_journal(self) -> None:
        self._open(JournalScreen())

    def action_explain(self) -> None:
        self._open(ExplainScreen())

    def action_glance(self) -> None:
        self._open(GlanceScreen())

    def action_cautions(self) -> None:
        self.push_screen(SafetyScreen())
        self.call_after_refresh(self.redraw)

    def _open(self, screen: Screen[None]) -> None:
        self.push_screen(screen)
        self.call_after_refresh(self.redraw)

    def action_next_bank(self) -> None:
        banks = len(self.snapshot.banks) if self.snapshot is not None else 1
        self.bank_index = (self.bank_index + 1) % max(banks, 1)
        self.redraw()

    def action_next_window(self) -> None:
        self.window_seconds = WINDOWS[(WINDOWS.index(self.window_seconds) + 1) % len(WINDOWS)]
        self.redraw()

    def action_next_theme(self) -> None:
        self.theme = following(self.theme)

    def action_next_glyphs(self) -> None:
        self.signs = Signs.LETTERS if self.signs is Signs.BLOCKS else Signs.BLOCKS
        self.redraw()

    def tell(self, alarm: AlarmView, action: Action, note: str = "") -> None:
        """A person has seen this alarm, lets go of it or sets it aside."""
        seconds = self.snapshot.seconds if self.snapshot is not None else 0.0
        target = f"{alarm.target}:{alarm.name}"
        self.feed.send(Command(seconds, self.who, action, target, note))

    def _cautions_read(self, read: bool | None) -> None:
        if not read:
            self.exit(0)
        elif self._on_cautions_read is not None:
            self._on_cautions_read()

    # The player of a capture.

    def action_pause(self) -> None:
        if (player := self.feed.player) is not None:
            (player.resume if player.paused else player.pause)()
            self._moved()

    def action_faster(self) -> None:
        if (player := self.feed.player) is not None:
            player.set_rate(next((rate for rate in RATES if rate > player.rate), RATES[-1]))
            self._moved()

    def action_slower(self) -> None:
        if (player := self.feed.player) is not None:
            player.set_rate(next((r for r in reversed(RATES) if r < player.rate), RATES[0]))
            self._moved()

    def action_step(self) -> None:
        if (player := self.feed.player) is not None:
            player.pause()
            player.step()
            self._moved()

    def action_earlier(self) -> None:
        self._jump(-JUMP_SECONDS)

    def action_later(self) -> None:
        self._jump(JUMP_SECONDS)

    def action_seek_tenth(self, tenth: int) -> None:
        if (player := self.feed.player) is not None:
            player.seek(player.start + (player.end - player.start) * tenth / 10)
            self._moved()

    def _jump(self, seconds: float) -> None:
        if (player := self.feed.player) is not None:
            player.seek(min(max(player.position + seconds, player.start), player.end))
            self._moved()

    def _moved(self) -> None:
        self.follow()
        self.redraw()


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
    )
    code = board.run(mouse=mouse)
    if board.failure:
        print(board.failure, file=sys.stderr)
    return code or 0
