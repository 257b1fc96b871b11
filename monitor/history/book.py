"""What a segment of the record amounts to: kept up input by input, from what the engine says.

Nothing is inferred a second time here: amps, stage and state of charge are the engine's, and are
only added up. The book is a room like those of the engine (`KEPT`): stop anywhere, keep its memory
as JSON, go on, and nothing differs. So the same segment gives the same summary whether it was kept
up live, across kills and restarts, or is worked out again from the file.

What reaches from one segment into the next (the last figures, the charge cycle that is open) is
its `carry`; it stands in the header of the next segment.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any, ClassVar, Final

from adapters.reading import Input, Reading, Tick
from monitor.bank import Site
from monitor.engine.snapshot import Event, EventKind, Glance, Snapshot, Stage
from monitor.engine.state import Json, dump, restore

#: Between two looks further apart nothing is known to have gone on: as the engine bridges no more
#: than a minute or two either.
LONGEST_SECONDS: Final = 60.0
HOUR_SECONDS: Final = 3600.0
#: Above this state of charge a bank counts as full (our choice: within the uncertainty of full).
FULL_SOC: Final = 0.98
#: A charge cycle is counted when at least this share of the capacity was taken out and full was
#: reached again; less is a bank that is merely held full (our choice).
CYCLE_SHARE: Final = 0.02
#: No segment keeps more events than this: what chatters for days must not fill the memory.
MOST_EVENTS: Final = 5000


class Extremes:
    """Lowest and highest of one figure."""

    KEPT: ClassVar[tuple[str, ...]] = ("high", "low")
    __slots__ = KEPT

    def __init__(self) -> None:
        self.low: float | None = None
        self.high: float | None = None

    def add(self, figure: float | None) -> None:
        if figure is None:
            return
        if self.low is None or figure < self.low:
            self.low = figure
        if self.high is None or figure > self.high:
            self.high = figure


class OpenCycle:
    """What went on since the bank was last full, or since it was first seen."""

    KEPT: ClassVar[tuple[str, ...]] = (
        "amp_hours_in",
        "amp_hours_out",
        "began",
        "celsius",
        "lowest_soc",
        "lowest_soc_at",
        "since_full",
    )
    __slots__ = KEPT

    def __init__(self, *, since_full: bool = False) -> None:
        #: Whether it began with a full bank; else where the bank was first seen.
        self.since_full = since_full
        self.began: float | None = None
        self.amp_hours_in = 0.0
        self.amp_hours_out = 0.0
        self.lowest_soc: float | None = None
        self.lowest_soc_at: float | None = None
        self.celsius = Extremes()

    def add(self, glance: Glance, amp_hours: float) -> None:
        if self.began is None:
            self.began = glance.seconds
        if amp_hours > 0.0:
            self.amp_hours_in += amp_hours
        else:
            self.amp_hours_out -= amp_hours
        self.celsius.add(glance.celsius)
        if glance.soc is not None and (self.lowest_soc is None or glance.soc < self.lowest_soc):
            self.lowest_soc, self.lowest_soc_at = glance.soc, glance.seconds

    def closed(self, bank: str, seconds: float) -> Json:
        return {"bank": bank, **dump(self), "ended": seconds}


class BankPage:
    """One bank in one segment."""

    KEPT: ClassVar[tuple[str, ...]] = (
        "_amps",
        "_last",
        "_soc",
        "_stage",
        "amp_hours_in",
        "amp_hours_out",
        "amps",
        "celsius",
        "cycle",
        "full_seconds",
        "fulls",
        "seen_seconds",
        "soc",
        "stage_seconds",
        "volts",
    )
    __slots__ = (*KEPT, "_label", "bank")

    #: What goes on in the next segment as it was.
    CARRIED: ClassVar[tuple[str, ...]] = ("_amps", "_last", "_soc", "_stage", "cycle")

    def __init__(self, bank: str, amp_hours: float) -> None:
        self.bank = bank
        self._label = amp_hours
        self._last: float | None = None
        self._amps: float | None = None
        self._soc: float | None = None
        self._stage: str | None = None
        self.amp_hours_in = 0.0
        self.amp_hours_out = 0.0
        self.seen_seconds = 0.0
        self.full_seconds = 0.0
        self.fulls = 0
        self.stage_seconds: dict[str, float] = {}
        self.soc, self.volts, self.amps = Extremes(), Extremes(), Extremes()
        self.celsius = Extremes()
        self.cycle = OpenCycle()

    def take(self, glance: Glance) -> None:
        moved = 0.0
        if self._last is not None and 0.0 < glance.seconds - self._last <= LONGEST_SECONDS:
            moved = self._pass(glance.amps, glance.seconds - self._last)
        self.cycle.add(glance, moved)
        self.soc.add(glance.soc)
        self.volts.add(glance.volts)
        self.amps.add(glance.amps)
        self.celsius.add(glance.celsius)
        if self._last is None or glance.seconds > self._last:
            self._last = glance.seconds
        self._amps, self._soc, self._stage = glance.amps, None, None
        # Stage and charge stand still while the bank is not read: those hours are not theirs.
        if glance.volts is not None and glance.amps is not None:
            self._soc = glance.soc
            self._stage = None if glance.stage is None else glance.stage.value

    def _pass(self, amps: float | None, seconds: float) -> float:
        """So many seconds went by; the ampere-hours that flowed in them, into the bank."""
        if self._stage is not None:
            before = self.stage_seconds.get(self._stage, 0.0)
            self.stage_seconds[self._stage] = before + seconds
        if self._soc is not None and self._soc >= FULL_SOC:
            self.full_seconds += seconds
        if amps is None or self._amps is None:
            return 0.0
        self.seen_seconds += seconds
        moved = 0.5 * (amps + self._amps) * seconds / HOUR_SECONDS
        if moved > 0.0:
            self.amp_hours_in += moved
        else:
            self.amp_hours_out -= moved
        return moved

    def full(self, seconds: float) -> Json | None:
        """The bank is full: a cycle ends where enough was taken out of it, and another begins."""
        self.fulls += 1
        ended, self.cycle = self.cycle, OpenCycle(since_full=True)
        self.cycle.began = seconds
        if ended.amp_hours_out < CYCLE_SHARE * self._label:
            return None
        return ended.closed(self.bank, seconds)

    def replaced(self) -> None:
        self.cycle = OpenCycle()

    def page(self) -> Json:
        kept = (name for name in self.KEPT if name not in self.CARRIED)
        whole = dump(self)
        return {"bank": self.bank, **{name: whole[name] for name in kept}}

    def carry(self) -> Json:
        whole = dump(self)
        return {name: whole[name] for name in self.CARRIED}


class Book:
    """All banks in one segment, with its events and its clock."""

    KEPT: ClassVar[tuple[str, ...]] = ("cycles", "events", "first", "last", "offset", "pages")

    def __init__(self, site: Site, carry: Json | None = None) -> None:
        self.pages = [BankPage(bank.id, bank.amp_hours) for bank in site.banks]
        self.cycles: list[Json] = []
        self.events: list[Json] = []
        self.first: float | None = None
        self.last: float | None = None
        #: Of the wall clock, as last told.
        self.offset: float | None = None
        if carry is not None:
            self._take_over(carry)

    def take(self, value: Input, events: Iterable[Event], glance: Callable[[str], Glance]) -> None:
        """One input that the engine took, what came of it, and how a bank looks now."""
        if self.first is None:
            self.first = value.seconds
        if self.last is None or value.seconds > self.last:
            self.last = value.seconds
        if isinstance(value, Tick) and value.wall_offset is not None:
            self.offset = value.wall_offset
        if isinstance(value, Reading):
            for page in self.pages:
                page.take(glance(page.bank))
        for event in events:
            self._event(event)

    def _event(self, event: Event) -> None:
        if len(self.events) < MOST_EVENTS:
            self.events.append(_document(event))
        if event.kind is not EventKind.LEARNED:
            return
        for page in self.pages:
            if page.bank == event.target and event.name == "full":
                cycle = page.full(event.seconds)
                if cycle is not None:
                    self.cycles.append(cycle)
            elif page.bank == event.target and event.name == "forgotten":
                page.replaced()

    def carry(self) -> Json:
        """What the next segment goes on from."""
        return {page.bank: page.carry() for page in self.pages}

    def memory(self) -> Json:
        return dump(self)

    def remember(self, memory: Json) -> None:
        """Go on from a kept memory; KeyError or ValueError where it is another site's."""
        restore(self, memory)

    def summary(self, snapshot: Snapshot, rows: int) -> Json:
        """All of it, with how the banks stand at the end, as plain JSON."""
        pages = []
        for page, view in zip(self.pages, snapshot.banks, strict=True):
            charge = view.charge
            pages.append(
                {
                    **page.page(),
                    "end_soc": charge.soc.figure,
                    "end_soc_sd": charge.soc.sd,
                    "capacity": charge.capacity_amp_hours.figure,
                    "capacity_sd": charge.capacity_amp_hours.sd,
                    "milliohms": charge.milliohms.figure,
                    "milliohms_sd": charge.milliohms.sd,
                    "label": view.amp_hours,
                    "cycle": dump(page.cycle),
                }
            )
        return {
            "rows": rows,
            "first": self.first,
            "last": self.last,
            "offset": self.offset,
            "banks": pages,
            "cycles": list(self.cycles),
            "events": list(self.events),
        }

    def _take_over(self, carry: Json) -> None:
        for page in self.pages:
            kept = carry.get(page.bank)
            if isinstance(kept, dict):
                whole = dump(page)
                try:
                    cycle = {"since_full": True, **kept["cycle"]}  # as older records meant it
                    restore(page, {**whole, **kept, "cycle": cycle})
                except (KeyError, TypeError, ValueError):
                    restore(page, whole)


def _document(event: Event) -> dict[str, Any]:
    """An event without its evidence, which a capture gives again."""
    return {
        "number": event.number,
        "seconds": event.seconds,
        "kind": event.kind.value,
        "name": event.name,
        "target": event.target,
        "priority": int(event.priority),
        "words": event.words,
    }


#: Every stage, in the order in which tables show them.
STAGES: Final = tuple(stage.value for stage in Stage)
