"""The commissioning without a screen: lines in and out beside a live feed, or a recording's end."""

from __future__ import annotations

import asyncio
import sys
import threading
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING

from monitor.commands.screens import run_until_told
from monitor.commission.record_file import save_record
from monitor.commission.replayed import replayed
from monitor.commission_talk import Dialogue

if TYPE_CHECKING:
    from monitor.attached import Attached
    from monitor.commission.procedure import Procedure
    from monitor.commission.record import Evidence
    from monitor.commission.session import Session
    from monitor.live import Live
    from monitor.recorded import Recorded


def talk(live: Live | Attached, session: Session) -> None:
    """Ask on stdout, hear on stdin, until all is done, the person leaves or the feed ends.

    Once stdin has ended nothing more is asked; what completes itself is waited for.
    """

    def say(key: str, word: str, rest: str = "") -> None:
        """What nobody would hear is not swallowed: it is said again once the service is back."""
        if trouble := getattr(live, "trouble", ""):
            print(f"not taken, say it again later: {trouble}", file=sys.stderr, flush=True)
        else:
            session.say(key, word, rest)

    dialogue = Dialogue(session.procedure, say)
    run_until_told(lambda: _talk(live, session, dialogue), live, None)
    session.save()


async def _talk(live: Live | Attached, session: Session, dialogue: Dialogue) -> None:
    lines: asyncio.Queue[str | None] = asyncio.Queue()
    _listen(asyncio.get_running_loop(), lines)
    _print(dialogue.opening())
    hearing = asyncio.create_task(_hear(lines, dialogue))
    told = ""
    try:
        async for snapshot in live.snapshots():
            _print(dialogue.news(session.take(snapshot)))
            if session.trouble != told:
                told = session.trouble
                print(told or "the record is written again", file=sys.stderr, flush=True)
            nothing_left = not session.procedure.waiting
            if dialogue.ended or (nothing_left and (dialogue.idle or hearing.done())):
                return
    finally:
        hearing.cancel()


async def _hear(lines: asyncio.Queue[str | None], dialogue: Dialogue) -> None:
    while (line := await lines.get()) is not None:
        _print(dialogue.hear(line))


def _listen(loop: asyncio.AbstractEventLoop, lines: asyncio.Queue[str | None]) -> None:
    """Stdin by a thread of its own: a terminal that says nothing holds nothing up."""

    def read() -> None:
        for line in sys.stdin:
            if loop.is_closed():
                return
            loop.call_soon_threadsafe(lines.put_nowait, line)
        if not loop.is_closed():
            loop.call_soon_threadsafe(lines.put_nowait, None)

    threading.Thread(target=read, name="questions", daemon=True).start()


def play(recorded: Recorded, procedure: Procedure, path: Path | None, evidence: Evidence) -> None:
    """A recording from end to end, as fast as it goes."""
    from monitor.commission.session import with_evidence
    from monitor.engine.engine import Engine

    engine = Engine(recorded.site, recorded.state)
    dialogue = Dialogue(procedure, lambda *_: None)
    for changed in replayed(recorded.recording.inputs(), engine, procedure):
        _print(dialogue.outcomes(changed))
    if path is not None:
        save_record(path, with_evidence(procedure.record(), evidence))


def _print(lines: Iterable[str]) -> None:
    for line in lines:
        print(line, flush=True)
