"""How a live feed begins: from nothing, from a kept state, or where a record ends.

Everything that is decided before the first input stands here: what the engine knows, what time the
feed shows, whether the wall clock may be believed, and what is written into.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from monitor.bank import Site
from monitor.config import Config, ConfigError
from monitor.disk_room import free_bytes
from monitor.engine.whose_state import StateError
from monitor.history.book import Book
from monitor.history.keeper import Keeper
from monitor.history.lock import Lock
from monitor.history.taking_up import (
    TakenUp,
    header_says,
    known_time,
    newest,
    play_behind,
    same_start,
    take_up,
)
from monitor.history.worker import Beside, Worker
from monitor.history.writing import HistoryWriter, Setting
from monitor.kept_state import (
    STATE_NAME,
    KeptState,
    UnusableStateError,
    load_state,
    set_aside,
)
from monitor.showing import Showing
from monitor.software import software
from monitor.wall_clock import WallClock, boot_id, missed_seconds
from replay.capture import CaptureError, CaptureWriter, Header
from replay.segments import segments, tidy


@dataclass(frozen=True, slots=True)
class Clocks:
    """The clocks of the machine, and which of its starts this is."""

    monotonic: Callable[[], float]
    wall: Callable[[], float]
    boot: str = field(default_factory=boot_id)


@dataclass(slots=True)
class Beginning:
    """What a feed goes on from. `shift` makes the steady clock feed time; `notices` are lines for
    the journal."""

    showing: Showing
    shift: float
    clock: WallClock
    writer: CaptureWriter | HistoryWriter | None
    state_path: Path | None
    notices: tuple[str, ...]


def begin(
    config: Config, clocks: Clocks, state_path: Path | None, capture_path: Path | None
) -> Beginning:
    """With a kept state, where there is one, and a capture of its own, where one is wanted."""
    kept, notice = _kept(config.site, state_path)
    showing = _showing(config.site, kept)
    state = None
    if kept is not None:
        play_behind(kept, showing)
        state = showing.state()
    shift, clock = _time(showing, kept, clocks)
    header = _header(config, clock)
    writer = None
    if capture_path is not None:
        writer = CaptureWriter(capture_path, dataclasses.replace(header, state=state))
    return Beginning(showing, shift, clock, writer, state_path, notice)


def begin_looking(config: Config, clocks: Clocks, directory: Path) -> Beginning:
    """From what a record knows, to look once: nothing in its directory is written or set aside.

    The kept state and the rows behind it, ten minutes at most; where they cannot be used, nothing
    is known, as without a record.
    """
    try:
        kept = load_state(directory / STATE_NAME)
        showing = _showing(config.site, kept)
    except (UnusableStateError, StateError, ConfigError):
        kept, showing = None, Showing(config.site)
    if kept is not None and kept.recorded is not None:
        segment = newest(segments(directory))
        if segment is not None and segment.path.name == kept.recorded[0]:
            try:
                taken = take_up(segment, kept, config)
                showing = Showing(config.site, taken.showing.state(), taken.showing.events(0))
            except (CaptureError, StateError):
                pass  # the kept state alone, then
    shift, clock = _time(showing, kept, clocks)
    return Beginning(showing, shift, clock, None, None, ())


def begin_history(
    config: Config,
    clocks: Clocks,
    directory: Path,
    state_path: Path | None = None,
    *,
    free: Callable[[Path], int] = free_bytes,
    worker: Worker | None = None,
) -> Beginning:
    """Where the record of a directory ends. CaptureError where nothing can be recorded there."""
    try:
        directory.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise CaptureError(f"{directory}: cannot be made ({error.strerror or error})") from None
    lock = Lock(directory)
    try:
        return _begin_history(
            config, clocks, directory, state_path or directory / STATE_NAME, free, worker, lock
        )
    except BaseException:
        lock.let_go()
        raise


def _begin_history(
    config: Config,
    clocks: Clocks,
    directory: Path,
    state_path: Path,
    free: Callable[[Path], int],
    worker: Worker | None,
    lock: Lock,
) -> Beginning:
    tidy(directory)
    kept, notices = _kept(config.site, state_path, fits=False)
    held = segments(directory)
    segment = newest(held)
    taken: TakenUp | None = None
    if segment is not None:
        try:
            taken = take_up(segment, kept, config)
        except (CaptureError, StateError) as error:
            notices += (f"{segment.path}: not gone on from: {error}",)
    showing, book, more = _go_on(config, taken, kept, state_path)
    shift, clock = _time(showing, kept, clocks)
    alike = taken is not None and header_says(taken.header, config, software())
    known = same_start(taken.header, clocks.boot) if taken is not None else None
    seconds, _ = known_time(showing, kept)
    if known is not None and clocks.monotonic() + known >= seconds:
        shift = known
        clock = WallClock(lambda: clocks.monotonic() + shift, clocks.wall, None)
    else:
        alike = False
    setting = Setting(
        directory, _header(config, clock), clocks.boot, shift, config.history.zone_seconds
    )
    keeper = Keeper(directory, config.history, free)
    writer = HistoryWriter(setting, showing, keeper, worker or Beside(), lambda: clock.offset, lock)
    if taken is not None and segment is not None and alike and taken.exact and not segment.sealed:
        try:
            writer.go_on(segment, taken.header, taken.tail, book)
            return Beginning(showing, shift, clock, writer, state_path, notices + more)
        except CaptureError:
            pass  # the disk refuses; so it will the next segment, and that is told below
    number = max((each.number for each in held), default=0) + 1
    fresh, now = Book(config.site, book.carry()), clocks.monotonic() + shift
    try:
        writer.begin(number, fresh, now)
    except CaptureError as error:
        writer.wait(number, fresh, now, str(error))
    return Beginning(showing, shift, clock, writer, state_path, notices + more)


def _go_on(
    config: Config, taken: TakenUp | None, kept: KeptState | None, state_path: Path
) -> tuple[Showing, Book, tuple[str, ...]]:
    """The engine of this configuration that goes on from what was taken up, or from the kept state,
    or from nothing; with a line where it is nothing."""
    if taken is not None:
        if taken.showing.site == config.site:
            return taken.showing, taken.book, ()
        state, events = taken.showing.state(), taken.showing.events(0)
        try:
            return Showing(config.site, state, events), Book(config.site, taken.book.carry()), ()
        except StateError as error:
            return Showing(config.site), Book(config.site), (f"the record: {error}",)
    if kept is not None:
        try:
            return Showing(config.site, kept.engine, kept.events), Book(config.site), ()
        except StateError as error:
            said = set_aside(state_path, str(error))
            return Showing(config.site), Book(config.site), (said,)
    return Showing(config.site), Book(config.site), ()


def _kept(
    site: Site, path: Path | None, *, fits: bool = True
) -> tuple[KeptState | None, tuple[str, ...]]:
    """The state kept there; a line where it had to be set aside. With `fits` it must be of this
    site as well."""
    if path is None:
        return None, ()
    try:
        kept = load_state(path)
        if kept is not None and fits:
            Showing(site, kept.engine, kept.events)
    except (UnusableStateError, StateError) as error:
        return None, (set_aside(path, str(error)),)
    return kept, ()


def _showing(site: Site, kept: KeptState | None) -> Showing:
    return Showing(site) if kept is None else Showing(site, kept.engine, kept.events)


def _time(showing: Showing, kept: KeptState | None, clocks: Clocks) -> tuple[float, WallClock]:
    """Feed time goes on from the newest input, later by what the wall clock says was missed."""
    seconds, known = known_time(showing, kept)
    shift = seconds + missed_seconds(clocks.wall(), known) - clocks.monotonic()
    return shift, WallClock(lambda: clocks.monotonic() + shift, clocks.wall, known)


def _header(config: Config, clock: WallClock) -> Header:
    return Header(
        config=config.text,
        descriptions=config.descriptions,
        software=software(),
        wall_offset=clock.offset,
        origin="measured",
    )
