"""Telling a person who is away, by a command of his own: in a thread that nobody waits for.

`Notifier.turn` is one look: which notices are due, and one try to send the first of those that
wait. The thread only calls it again and again. A command that fails is tried again after half a
minute, then twice as long, up to a quarter of an hour; what waits is on disk meanwhile.

That messages do not get through is told where somebody may see it: as a note in the journal, and
where a sign of life is expected as the tool's own link `heartbeat`, which has an alarm.
"""

from __future__ import annotations

import contextlib
import os
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Final, Protocol

from adapters.reading import Action, Command, OwnLink
from monitor.config_notify import Notify
from monitor.engine.snapshot import Event, EventKind, Snapshot
from monitor.notices import Chooser, Kind, Notice, heartbeat, iso
from monitor.outbox import Outbox, load_outbox
from monitor.user_command import Outcome, log_run, run_command

#: Between two looks, and the longest without building a snapshot (repeats need no more).
LOOK_SECONDS: Final = 1.0
SNAPSHOT_SECONDS: Final = 10.0
#: Waits after a failure (our choice): a way out that comes back is used within a quarter hour.
FIRST_RETRY_SECONDS: Final = 30.0
LONGEST_RETRY_SECONDS: Final = 900.0
#: At the start nothing is told for so long: devices must be heard first.
SETTLING_SECONDS: Final = 30.0
#: A wall clock that moved by more against the steady one was set (our choice).
CLOCK_SET_SECONDS: Final = 30.0
#: How long stopping waits for a command that is at work.
FAREWELL_SECONDS: Final = 2.0

TOOL: Final = "ampwright"

Run = Callable[[Notify, Notice, float, int, Callable[[], bool]], Outcome]


class Watched(Protocol):
    """The live feed, as far as it is needed here."""

    def events(self, since: int) -> tuple[Event, ...]: ...
    def snapshot(self) -> Snapshot: ...
    def send(self, command: Command) -> None: ...
    def tell_link(self, device: str, up: bool, reason: str) -> None: ...


def notify_folder() -> Path:
    """Where notices wait and the command's output is logged."""
    home = Path(os.environ.get("XDG_STATE_HOME") or Path.home() / ".local" / "state")
    return home / "ampwright" / "notify"


def send_once(
    notify: Notify,
    notice: Notice,
    wall: float,
    left_out: int = 0,
    give_up: Callable[[], bool] = lambda: False,
) -> Outcome:
    """Run the user's command with one notice."""
    message, words = notice.message(wall, left_out), notice.environment(wall)
    return run_command(notify.command, message, words, notify.timeout_seconds, give_up)


class Notifier:
    """Tells of a feed's alarms. `monotonic` and `wall` are the clocks, `run` sends one notice."""

    def __init__(
        self,
        feed: Watched,
        notify: Notify,
        folder: Path,
        *,
        monotonic: Callable[[], float] = time.monotonic,
        wall: Callable[[], float] = time.time,
        run: Run = send_once,
    ) -> None:
        self._feed, self._notify, self._folder = feed, notify, folder
        self._monotonic, self._wall, self._run = monotonic, wall, run
        self.outbox: Outbox = load_outbox(folder / "waiting.json")
        self._chooser = Chooser(notify)
        self._chooser.told = self.outbox.told
        self._began = monotonic()
        self._offset = wall() - monotonic()
        self._seen = 0
        self._looked: float | None = None
        self._not_before = 0.0
        self._retry = FIRST_RETRY_SECONDS
        self._failing = self._disk_failing = self._beat_missing = False
        self._stop = threading.Event()
        self._thread: threading.Thread | None = None

    # The thread.

    def start(self) -> None:
        self._thread = threading.Thread(target=self._work, name="notify", daemon=True)
        self._thread.start()

    def stop(self) -> None:
        """Let go. A command at work is ended; its notice waits on disk for the next start."""
        self._stop.set()
        if self._thread is not None:
            self._thread.join(FAREWELL_SECONDS)

    def _work(self) -> None:
        while not self._stop.wait(LOOK_SECONDS):
            try:
                self.turn()
            except Exception as error:
                # Nothing here should ever fail. If it does, watching goes on and it is said once.
                self._say(f"telling of alarms has stopped: {type(error).__name__}: {error}")
                return

    # One turn.

    def turn(self) -> None:
        """Gather what is due, then try to send one notice."""
        now, wall = self._monotonic(), self._wall()
        self._follow_clock(wall - now)
        fresh = self._gather(now, wall)
        if now >= self._not_before:
            fresh = self._beat(now, wall) or self._send(now, wall) or fresh
        if fresh:
            self._save()

    def _follow_clock(self, offset: float) -> None:
        """The wall clock was set: nothing becomes due, or late, by that alone."""
        moved = offset - self._offset
        if abs(moved) > CLOCK_SET_SECONDS:
            self._offset = offset
            self._chooser.forgive(moved)
            if self.outbox.beat is not None:
                self.outbox.beat += moved
            self.outbox.sent = [each + moved for each in self.outbox.sent]

    def _gather(self, now: float, wall: float) -> bool:
        if now - self._began < SETTLING_SECONDS:
            return False
        events = self._feed.events(self._seen)
        if events:
            self._seen = events[-1].number
        news = any(event.kind is EventKind.ALARM for event in events)
        if not news and self._looked is not None and now - self._looked < SNAPSHOT_SECONDS:
            return False
        self._looked = now
        before = dict(self._chooser.told)
        notices = self._chooser.look(self._feed.snapshot(), wall)
        waiting = {each.alarm for each in self.outbox.waiting}
        for notice in notices:
            # What still waits says it already.
            if notice.kind is not Kind.AGAIN or notice.alarm not in waiting:
                self.outbox.put(notice)
        self.outbox.told = self._chooser.told
        return bool(notices) or before != self._chooser.told

    def _beat(self, now: float, wall: float) -> bool:
        """A sign of life where one is due. One that fails is not kept: late, it says nothing."""
        every, last = self._notify.heartbeat_seconds, self.outbox.beat
        if every is None or now - self._began < SETTLING_SECONDS:
            return False
        if last is not None and wall - last < every:
            return False
        outcome = self._try(heartbeat(self._feed.snapshot(), wall), now, wall)
        if outcome.done:
            self.outbox.beat = wall
        if outcome.done is self._beat_missing:
            self._beat_missing = not outcome.done
            self._feed.tell_link(OwnLink.HEARTBEAT, outcome.done, outcome.reason)
        return True

    def _send(self, now: float, wall: float) -> bool:
        notice = self.outbox.next()
        if notice is None or self.outbox.sent_lately(wall) >= self._most(notice):
            return False
        outcome = self._try(notice, now, wall)
        if outcome.done:
            self.outbox.gone(notice, wall)
            self._chooser.delivered(notice.alarm, wall)
        return True

    def _most(self, notice: Notice) -> int:
        """High alarms may go out half as often again: the rest must not use up their share."""
        most = self._notify.most_per_hour
        return most if notice.rank else most + (most + 1) // 2

    def _try(self, notice: Notice, now: float, wall: float) -> Outcome:
        outcome = self._run(self._notify, notice, wall, self.outbox.left_out, self._stop.is_set)
        what = f"{notice.kind.value} {notice.alarm}".rstrip()
        log_run(self._log, iso(wall), what, outcome)
        if outcome.done:
            self._retry, self._not_before = FIRST_RETRY_SECONDS, now
            if self._failing:
                self._failing = False
                self._say("messages get through again")
        elif not self._stop.is_set():
            self._not_before = self._monotonic() + self._retry
            self._retry = min(2.0 * self._retry, LONGEST_RETRY_SECONDS)
            if not self._failing:
                self._failing = True
                self._say(f"a message did not get through: {outcome.reason}; see {self._log}")
        return outcome

    @property
    def _log(self) -> Path:
        with contextlib.suppress(OSError):
            self._folder.mkdir(parents=True, exist_ok=True)
        return self._folder / "command.log"

    def _save(self) -> None:
        trouble = self.outbox.save()
        if trouble and not self._disk_failing:
            self._say(f"waiting messages are not kept: {trouble}")
        self._disk_failing = bool(trouble)

    def _say(self, words: str) -> None:
        self._feed.send(Command(0.0, TOOL, Action.NOTE, "notify", words))


@contextlib.contextmanager
def notifying(feed: Watched, notify: Notify, folder: Path | None = None) -> Iterator[None]:
    """Tell of the feed's alarms meanwhile; does nothing where there is no command."""
    if not notify.command:
        yield
        return
    notifier = Notifier(feed, notify, folder or notify_folder())
    notifier.start()
    try:
        yield
    finally:
        notifier.stop()
