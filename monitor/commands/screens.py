"""Show a feed or a recording: on a terminal as the dashboard, else as lines."""

from __future__ import annotations

import argparse
import contextlib
import itertools
import math
import os
import sys
from collections.abc import AsyncIterator, Callable, Coroutine, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from monitor.commands.options import on_a_terminal
from monitor.mishaps import Refusal

if TYPE_CHECKING:
    from datetime import tzinfo

    from monitor.attached import Attached
    from monitor.commands.at_once import FirstLines
    from monitor.config import Config
    from monitor.engine.snapshot import Snapshot
    from monitor.live import Live
    from monitor.plain import Teller
    from monitor.recorded import Recorded
    from monitor.service.caller import Greeted

#: The pace of a recording on the screen unless another is asked for: a minute a second.
SCREEN_RATE: Final = 60.0

#: Lines are looked for this often while a recording runs by, and at every event.
_LINES_EVERY_SECONDS: Final = 60.0


def screen_wanted(arguments: argparse.Namespace) -> bool:
    """Whether the screen is asked for and there is a terminal for it.

    Colours that are none are refused all the same: who asked for them meant the screen.
    """
    wanted = not arguments.plain and on_a_terminal()
    if not wanted:
        check_theme(arguments)
    return wanted


def check_theme(arguments: argparse.Namespace) -> None:
    """Refuse colours that are none."""
    if arguments.theme is None:
        return
    from monitor.dashboard.themes import THEME_NAMES

    if arguments.theme not in THEME_NAMES:
        raise Refusal(
            f'--theme: expected one of {", ".join(THEME_NAMES)}, found "{arguments.theme}"'
        )


def play(
    recorded: Recorded,
    arguments: argparse.Namespace,
    *,
    begin: float | None = None,
    pace: float = SCREEN_RATE,
    zone: tzinfo | None = None,
) -> int:
    """A recording, on the screen or as lines; shown from `begin`, with all before it known.

    `pace` is that of the screen unless another is asked for; `zone` that of clock times, None for
    this machine's.
    """
    if not screen_wanted(arguments):
        rate = arguments.rate if arguments.rate is not None else math.inf
        print_recording(recorded, rate, begin, zone)
        return 0
    from monitor.commands.at_once import figures, first_figures, loading, on_terminal

    with on_terminal() as lines, loading():
        if begin is None:
            look = first_figures(recorded)
            begin = look.seconds
            lines.say(figures(look, zone))
        else:  # what lies before is long, and takes its time
            lines.say(recorded.recording.title)
        from monitor.played import Played
        from replay.player import Player

        player = Player(recorded.recording, arguments.rate or pace)
        player.seek(begin)
        feed = Played(player, recorded.site, recorded.state)
        return dashboard(feed, arguments, lines, cautions=False, zone=zone)


def watch(
    live: Live, arguments: argparse.Namespace, lines: FirstLines, *, bell: bool = False
) -> int:
    """The devices, on the screen or as lines until the program is told to stop."""
    if screen_wanted(arguments):
        status = dashboard(live, arguments, lines, cautions=True, bell=bell)
    else:
        run_until_told(lambda: print_lines(live), live, None)
        status = 0
    ended_well(live)
    return status


def watch_attached(greeted: Greeted, snapshot: Snapshot, arguments: argparse.Namespace) -> int:
    """A running service, on the screen or as lines until told to stop or until it ends.

    What it says already stands there while the screen is loaded."""
    if not screen_wanted(arguments):
        from monitor.attached import Attached

        feed = Attached(greeted)
        run_until_told(lambda: print_lines(feed), feed, None)
        return 0
    from monitor.commands.at_once import figures, loading, on_terminal

    with on_terminal() as lines, loading():
        lines.say(figures(snapshot))
        from monitor.attached import Attached

        feed = Attached(greeted, look_only=arguments.look_only)
        return dashboard(feed, arguments, lines, cautions=not arguments.look_only)


def dashboard(
    feed: Any,
    arguments: argparse.Namespace,
    lines: FirstLines | None = None,
    *,
    cautions: bool,
    bell: bool = False,
    zone: tzinfo | None = None,
) -> int:
    """The screen, in place of `lines`. Safety cautions are shown once where hands may go near
    posts."""
    from monitor.commands.at_once import loading

    with loading():  # the screen ends it itself, once it stands
        from monitor.dashboard.run import run_dashboard
        from monitor.dashboard.widgets.blocks import Signs

        check_theme(arguments)
        mark = _cautions_mark()
        if lines is not None:
            lines.give_over()
        return run_dashboard(
            feed,
            zone=zone,
            mouse=arguments.mouse,
            theme=arguments.theme,
            signs=Signs.BLOCKS if _can_show("█") else Signs.LETTERS,
            who=os.environ.get("USER") or "dashboard",
            bell=bell,
            fahrenheit=arguments.fahrenheit,
            twelve=arguments.twelve_hours,
            folder=mark.parent / "screens",
            show_cautions=cautions and not mark.exists(),
            on_cautions_read=lambda: _leave_mark(mark),
        )


@contextlib.contextmanager
def leaving(live: Live, config: Config) -> Iterator[None]:
    """However the feed ends: where it ended by its own choice, its last words are told after."""
    try:
        yield
    finally:
        if live.last_words:
            from monitor.farewell import farewell

            farewell(live.last_words, config, lambda line: print(line, file=sys.stderr))


def ended_well(live: Live) -> None:
    """Raise what went wrong while a live feed ran, if anything."""
    if live.failure is not None:
        raise live.failure
    if live.closing is not None and live.closing.trouble is not None:
        raise Refusal(live.closing.trouble)


def print_recording(
    recorded: Recorded, rate: float, shown_from: float | None = None, zone: tzinfo | None = None
) -> None:
    """What changes, a line each, from the beginning of a recording, or a place in it, to its end.

    What lies before that place is taken in as fast as it goes.
    """
    from adapters.reading import Reading
    from monitor.commands.at_once import HEARING_SECONDS
    from monitor.engine.engine import Engine
    from monitor.plain import Teller
    from monitor.playthrough import paced

    engine, teller = Engine(recorded.site, recorded.state), Teller(zone)
    look_at = -math.inf
    unheard = {link.device for link in recorded.site.links}
    start = recorded.recording.start if shown_from is None else shown_from
    begin = start + HEARING_SECONDS
    inputs = iter(recorded.recording.inputs())
    if shown_from is not None:
        for value in itertools.takewhile(lambda value: value.seconds < start, inputs):
            engine.step(value)
    for value in paced(inputs, rate):
        events = engine.step(value)
        if isinstance(value, Reading):
            unheard.discard(value.device)
        if unheard and value.seconds < begin:
            continue
        if events or value.seconds >= look_at:
            look_at = value.seconds + _LINES_EVERY_SECONDS
            for line in teller.lines(engine.snapshot()):
                print(line)


async def print_lines(live: Live | Attached) -> None:
    """What changes, a line each, as long as the feed goes on."""
    import asyncio

    from monitor.commands.at_once import HEARING_SECONDS
    from monitor.plain import Teller

    teller, begin = Teller(), live.now() + HEARING_SECONDS
    turns = getattr(live, "turns", None)
    turning = None if turns is None else asyncio.create_task(_print_turns(live, turns(), teller))
    try:
        await _print_changes(live, teller, begin)
    finally:
        if turning is not None:
            turning.cancel()
            await asyncio.gather(turning, return_exceptions=True)


async def _print_turns(live: Live | Attached, turns: AsyncIterator[str], teller: Teller) -> None:
    """A line when the service goes, and one when it is back."""
    async for gone in turns:
        print(teller.turned(gone, live.now()), flush=True)


async def _print_changes(live: Live | Attached, teller: Teller, begin: float) -> None:
    async for snapshot in live.snapshots():
        if live.awaited and snapshot.seconds < begin:
            continue
        for line in teller.lines(snapshot):
            print(line, flush=True)


def run_until_told(
    work: Callable[[], Coroutine[Any, Any, None]], live: Live | Attached, seconds: float | None
) -> None:
    """Run a live feed with some work beside it, until a signal, the time limit, or its end."""
    import asyncio

    from monitor.told_to_end import SIGNALS_TO_LINES, STDOUT, Ending

    async def main() -> None:
        told = asyncio.Event()
        loop = asyncio.get_running_loop()
        ending = Ending(STDOUT, live)
        with ending.at(SIGNALS_TO_LINES, lambda: loop.call_soon_threadsafe(told.set)):
            await live.start()
            working = asyncio.create_task(work())
            waiting = asyncio.create_task(told.wait())
            try:
                await asyncio.wait(
                    {working, waiting}, timeout=seconds, return_when=asyncio.FIRST_COMPLETED
                )
                if working.done():
                    working.result()
            finally:
                for task in (working, waiting):
                    task.cancel()
                await asyncio.gather(working, waiting, return_exceptions=True)
                await live.stop()

    asyncio.run(main())


def _can_show(sign: str) -> bool:
    """Whether the terminal's encoding has a sign at all (the screen is written to stderr)."""
    try:
        sign.encode(sys.stderr.encoding or "ascii")
    except (LookupError, UnicodeEncodeError):
        return False
    return True


def _cautions_mark() -> Path:
    """Where it is noted that the safety cautions were read."""
    home = Path(os.environ.get("XDG_STATE_HOME") or Path.home() / ".local" / "state")
    return home / "ampwright" / "cautions-read"


def _leave_mark(mark: Path) -> None:
    # Where nothing can be written the cautions are merely shown again.
    with contextlib.suppress(OSError):
        mark.parent.mkdir(parents=True, exist_ok=True)
        mark.touch()
