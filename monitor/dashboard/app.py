"""The dashboard: follows one feed, keeps the newest snapshot, tells the screens to redraw.

Wiring only. What a figure looks like is in `screens` and `widgets`, what it says in
`monitor.words`, what a key does in `actions`.
"""

from __future__ import annotations

import asyncio
import gc
import os
from collections.abc import Callable, Iterable
from datetime import tzinfo
from functools import partial
from importlib import import_module
from pathlib import Path
from typing import ClassVar

from textual.app import SystemCommand
from textual.await_complete import AwaitComplete
from textual.binding import Binding
from textual.reactive import reactive
from textual.screen import Screen

from adapters.reading import Action, Command
from monitor.dashboard.actions import DEEDS, bindings, deed_of, offered
from monitor.dashboard.closed_screens import let_go_of_closed_screens
from monitor.dashboard.playing import PlayerKeys
from monitor.dashboard.screens.now import NowScreen
from monitor.dashboard.screens.safety import SafetyScreen
from monitor.dashboard.themes import THEME_NAMES, THEMES, VARIABLE_DEFAULTS, following
from monitor.dashboard.view import Drawing, View
from monitor.dashboard.widgets.blocks import Signs
from monitor.engine.snapshot import AlarmView, Snapshot
from monitor.feed import Feed
from monitor.mishaps import in_one_line
from monitor.told_to_end import SIGNALS
from monitor.words.alarm_states import rings
from monitor.words.degrees import told_in
from monitor.words.figures import Clock
from monitor.words.keys import pressed
from monitor.words.texts import (
    COPIED,
    FEED_ENDED,
    FEED_QUIET,
    HOW_TO_LEAVE,
    LOOKS_ONLY,
    feed_failed,
    not_saved,
    saved,
)

#: Hours in the trend, in the order of the key that changes them.
WINDOWS: tuple[float, ...] = (6 * 3600.0, 24 * 3600.0, 72 * 3600.0, 3600.0)
#: Seconds without a snapshot after which nothing on the screen may look live. Live feeds speak
#: every second (common practice: ten missed polls are no hiccup).
QUIET_SECONDS = 10


class Dashboard(PlayerKeys):
    """The screen of one feed.

    `zone` is the zone of clock times, None for the machine's own. `on_cautions_read` is called
    once the safety cautions were read; pass `show_cautions=True` where they were not read before.
    """

    TITLE = "Ampwright"
    #: As long as a dozen words take to read (common practice: three words a second).
    NOTIFICATION_TIMEOUT = 4.0
    ENABLE_COMMAND_PALETTE = True
    HORIZONTAL_BREAKPOINTS = [(0, "-narrow"), (60, "-middle"), (100, "-wide")]  # noqa: RUF012
    VERTICAL_BREAKPOINTS = [  # noqa: RUF012
        (0, "-short"),
        (18, "-medium"),
        (22, "-roomy"),
        (26, "-tall"),
    ]
    BINDINGS: ClassVar = [*bindings(), Binding("ctrl+z", "suspend_process", show=False)]
    MODES: ClassVar = {"now": NowScreen}
    # Read with the program's own: read when its screen opens, every style would be parsed again.
    CSS_PATH = "screens/now.tcss"
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
        fahrenheit: bool = False,
        twelve: bool = False,
        folder: Path = Path(),
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
        self.fahrenheit, self.twelve = fahrenheit, twelve
        self.folder = folder
        self._rung: frozenset[tuple[str, str]] = frozenset()
        self.bank_index = 0
        self.window_seconds = WINDOWS[0]
        self.stalled = ""
        self.failure = ""
        self._show_cautions = show_cautions
        self._on_cautions_read = on_cautions_read
        self._quiet = 0
        self._following: asyncio.Task[None] | None = None

    def get_theme_variable_defaults(self) -> dict[str, str]:
        return VARIABLE_DEFAULTS

    # The feed.

    def on_mount(self) -> None:
        loop = self._running_in = asyncio.get_running_loop()
        if self.is_web:  # there the library has put its own in place of ours
            for number in SIGNALS:
                loop.add_signal_handler(number, self.exit, 0)
        if self._told:
            self.exit(0)
        # After Ctrl-Z and fg the terminal is blank: everything is drawn again.
        self.app_resume_signal.subscribe(self, lambda _: self.refresh(layout=True))
        self.call_after_refresh(gc.enable)  # off while everything is loaded (`at_once.loading`)
        self.follow()
        self.set_interval(1.0, self.count_quiet)
        if getattr(self.feed, "session", None) is not None:
            self.action_open("commission")
        if self._show_cautions:
            self.push_screen(SafetyScreen(first=True), self._cautions_read)

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
        clock = Clock(offset, self.zone, self.twelve)
        snapshot = told_in(self.snapshot, self.fahrenheit)
        return View(snapshot, self.bank_index, clock, self.stalled, self.fahrenheit)

    def watch_snapshot(self) -> None:
        self._ring()
        self.look_for_event()
        self.redraw()

    def _ring(self) -> None:
        """The terminal's bell at an alarm that was not there before, where it is wanted."""
        alarms = self.snapshot.alarms if self.snapshot is not None else ()
        unseen = frozenset((a.target, a.name) for a in alarms if rings(a))
        if self.bells and unseen - self._rung:
            self.bell()
        self._rung = unseen

    def redraw(self) -> None:
        """Let every screen in sight show what changed; covered ones when seen again."""
        if self._leaving:
            return
        view = self.view
        with self.batch_update():
            for screen in reversed(self.screen_stack):
                if isinstance(screen, Drawing) and screen.is_mounted:
                    screen.show(view)
                if not screen.is_modal:
                    break

    # What keys and the command list do.

    def get_system_commands(self, screen: Screen[object]) -> Iterable[SystemCommand]:  # noqa: ARG002
        playing, banks = self.feed.player is not None, len(self.feed.site.banks)
        for deed in DEEDS:
            if deed.action != "commands" and offered(deed, playing, banks):
                yield SystemCommand(deed.words, pressed(deed.key), partial(self.do, deed.key))

    def do(self, key: str) -> None:
        """What a key does, wherever it was pressed or chosen."""
        deed = next((deed for deed in DEEDS if deed.key == key), None)
        if deed is None or self.leaving:
            return
        if deed.screen:
            self.action_open(deed.action)
        else:
            getattr(self, f"action_{deed.action}")()

    def action_open(self, action: str) -> None:
        """A screen over the live one, in place of another; its own key again closes it."""
        module, _, name = deed_of(action).screen.partition(":")
        kind = getattr(import_module(f"monitor.dashboard.screens.{module}"), name)
        if isinstance(self.screen, kind):
            self.pop_screen()
        elif len(self.screen_stack) > 1:
            self.switch_screen(kind())
            self.call_later(let_go_of_closed_screens)
        else:
            self.push_screen(kind())
        self.call_after_refresh(self.redraw)

    def pop_screen(self) -> AwaitComplete:
        popped = super().pop_screen()
        self.call_later(let_go_of_closed_screens)
        return popped

    def action_leave(self) -> None:
        self.exit(0)

    def action_help_quit(self) -> None:
        """Ctrl-C: the library would name a key that is not ours."""
        self.notify(HOW_TO_LEAVE)

    def action_commands(self) -> None:
        self.action_command_palette()

    def action_command_palette(self) -> None:
        from monitor.dashboard.commands import CommandMenu

        if not CommandMenu.is_open(self):  # type: ignore[arg-type]  # any application will do
            self.push_screen(CommandMenu())

    def action_cautions(self) -> None:
        self.push_screen(SafetyScreen())
        self.call_after_refresh(self.redraw)

    def action_copy(self) -> None:
        from monitor.dashboard.keeping import screen_text

        self.copy_to_clipboard(screen_text(self))
        self.notify(COPIED, markup=False)

    def action_save(self) -> None:
        from monitor.dashboard.keeping import save_screen, wall_now

        try:
            self.folder.mkdir(parents=True, exist_ok=True)
            path = save_screen(self, self.folder, wall_now(self.zone))
        except OSError as problem:
            self.notify(not_saved(in_one_line(problem)[0]), markup=False)
            return
        self.notify(saved(str(path)), markup=False)

    def on_notify(self) -> None:
        """One notice at a time: it covers figures. Called before the library takes up the next."""
        self.clear_notifications()

    def action_next_degrees(self) -> None:
        self.fahrenheit = not self.fahrenheit
        self.redraw()

    def action_next_hours(self) -> None:
        self.twelve = not self.twelve
        self.redraw()

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

    def enter(self, commands: tuple[Command, ...]) -> None:
        """What a person measured or did by hand, into the log."""
        if getattr(self.feed, "look_only", False):
            self.notify(LOOKS_ONLY)
            return
        for command in commands:
            self.feed.send(command)

    def tell(self, alarm: AlarmView, action: Action, note: str = "") -> None:
        """A person has seen this alarm, lets go of it or sets it aside."""
        if getattr(self.feed, "look_only", False):
            self.notify(LOOKS_ONLY)
            return
        seconds = self.snapshot.seconds if self.snapshot is not None else 0.0
        target = f"{alarm.target}:{alarm.name}"
        self.feed.send(Command(seconds, self.who, action, target, note))

    def _cautions_read(self, read: bool | None) -> None:
        if not read:
            self.exit(0)
        elif self._on_cautions_read is not None:
            self._on_cautions_read()

    def moved(self) -> None:
        self.follow()
        self.redraw()
