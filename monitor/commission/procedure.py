"""The guided procedure: stepped by looks and by what people say, with no clock and no I/O.

    procedure = Procedure(setting, record)      goes on where the record left off
    procedure.look(look)                        one moment of the bank; the outcomes that changed
    procedure.hear(said)                        a person began, entered, finished, skipped
    procedure.record()                          everything as it stands, to be put on disk

Of the checks done by hand one runs at a time; those that need nobody (`alone`) run from the start
and complete themselves. The same looks and words give the same outcomes.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator
from datetime import date
from typing import Any, Final

from monitor.commission.ac_side import told_now
from monitor.commission.check import Check, Result, Watch, not_done
from monitor.commission.checks_handover import NEXT_SERVICE
from monitor.commission.entry import EntryError, value_of_entry
from monitor.commission.follows import with_follows
from monitor.commission.item import Item, Phase
from monitor.commission.look import Look
from monitor.commission.memory import interrupt
from monitor.commission.record import CommissionRecord, Outcome, Span, Verdict
from monitor.commission.record_file import installation_digest
from monitor.commission.said import Said, entry_of
from monitor.commission.seen import Seen
from monitor.commission.setting import Setting
from monitor.commission.table import CHECKS

#: Looks closer together than this are not judged anew.
LEAST_SECONDS: Final = 0.9


class Procedure:
    """Every check of one bank. `capture` names the recording that the evidence will be in."""

    def __init__(
        self,
        setting: Setting,
        record: CommissionRecord | None = None,
        *,
        software: str = "",
        capture: str = "",
        checks: tuple[Check, ...] = CHECKS,
    ) -> None:
        self.setting = setting
        self.capture = capture
        self.items = tuple(_items(setting, checks))
        self.facts: dict[str, float] = {}
        self.seen = Seen()
        self.latest: Look | None = None
        #: How looks are taken (`look.LOOKS`), "" at moments that cannot be repeated.
        self.looks = ""
        self._looks_before: str | None = None
        self._software = software
        #: Looks and words taken in by this run, and the runs before it.
        self._taken = 0
        self._runs_before: tuple[Span, ...] = ()
        self._by_key = {item.key: item for item in self.items}
        self._began: float | None = None
        self._wall: float | None = None
        self._who = setting.installation.who
        #: Feed time of this run plus this is the procedure's own, which goes on over restarts.
        self._shift: float | None = 0.0
        self._own = 0.0
        #: Unix time at which an earlier run left off.
        self._left: float | None = None
        for item in self.items:
            if item.check.alone and not item.needless:
                item.begin(0.0)
        if record is not None and record.progress:
            self._take_up(record)

    # -- what comes in ----------------------------------------------------------------------

    def take(self, given: Iterable[Look | Said]) -> tuple[Outcome, ...]:
        """Looks and words in their order; the outcomes that are new by them."""
        changed: list[Outcome] = []
        for each in given:
            self._taken += 1
            changed += self.hear(each) if isinstance(each, Said) else self.look(each)
        return tuple(changed)

    def look(self, look: Look) -> tuple[Outcome, ...]:
        """One moment; the outcomes that are new by it."""
        look = self._in_own_time(look)
        if self.latest is not None and 0.0 <= look.seconds - self.latest.seconds < LEAST_SECONDS:
            return ()
        gap = self.seen.look(look)
        self.latest = look
        changed = []
        for item in self.items:
            if item.phase is not Phase.RUNNING:
                continue
            if gap:
                interrupt(item.memory)
            if item.check.fed_by is not None:
                source = item.check.fed_by(self.setting, item.target)
                item.told = frozenset(told_now(look, source, item.asks))
            result = item.check.watch(self._watch(item, look))
            if result is not None and self._finish(item, result):
                changed.append(item.outcome())
        return tuple(changed)

    def hear(self, said: Said) -> tuple[Outcome, ...]:
        """What a person says; of a check that does not exist nothing is heard."""
        item = self._by_key.get(said.key)
        if item is None or item.needless:
            return ()
        if said.who:
            self._who = said.who
        match said.word:
            case "begin":
                self._begin(item)
            case "enter":
                self._enter(item, *entry_of(said.rest))
                return self._judge_now(item)
            case "done":
                item.done = item.phase is Phase.RUNNING
            case "note":
                item.note = said.rest
                return (item.outcome(),)
            case "stop":
                if not item.check.alone:
                    item.leave()
            case "skip":
                item.leave()
                if self._finish(item, not_done(said.rest or "no reason given")):
                    return (item.outcome(),)
        return ()

    def _judge_now(self, item: Item) -> tuple[Outcome, ...]:
        """An answer is judged by what was last seen, before hands go on to something else."""
        if item.phase is not Phase.RUNNING or self.latest is None:
            return ()
        result = item.check.watch(self._watch(item, self.latest))
        if result is not None and self._finish(item, result):
            return (item.outcome(),)
        return ()

    def _begin(self, item: Item) -> None:
        current = self.current
        if current is not None and current is not item:
            current.leave()
        item.begin(self._own)

    def _enter(self, item: Item, name: str, text: str) -> None:
        ask = next((each for each in item.asks if each.name == name), None)
        if ask is None or item.phase is not Phase.RUNNING:
            return
        try:
            item.entries[name] = value_of_entry(ask, text)
        except EntryError:
            return

    def _finish(self, item: Item, result: Result) -> bool:
        look = self.latest
        wall = None if look is None else self._wall_of(look)
        seconds = self._feed_seconds(look) if look is not None else 0.0
        who = "" if item.check.alone else self._who
        news = item.judge(result, seconds, wall, who, self.capture)
        self.facts.update(result.facts)
        self._wall = wall if wall is not None else self._wall
        check = item.check
        waits_on = check.alone and not check.at_once and result.verdict is Verdict.NOT_DONE
        if not waits_on:
            item.phase = Phase.FINISHED
        return news

    def _watch(self, item: Item, look: Look) -> Watch:
        return Watch(
            self.setting,
            item.target,
            look,
            item.memory,
            item.entries,
            item.done,
            item.limits,
            self.facts,
            self._wall_of(look),
        )

    # -- what can be asked ------------------------------------------------------------------

    @property
    def current(self) -> Item | None:
        """The check that hands are at."""
        for item in self.items:
            if item.phase is Phase.RUNNING and not item.check.alone:
                return item
        return None

    def item(self, key: str) -> Item | None:
        return self._by_key.get(key)

    @property
    def next(self) -> Item | None:
        """The first that hands have not been at yet."""
        for item in self.items:
            if item.phase is Phase.IDLE and not item.check.alone and not item.needless:
                return item
        return None

    @property
    def waiting(self) -> tuple[Item, ...]:
        """Those that complete themselves and have not yet."""
        return tuple(i for i in self.items if i.check.alone and i.phase is Phase.RUNNING)

    def outcomes(self) -> tuple[Outcome, ...]:
        return with_follows([item.outcome() for item in self.items])

    def watch_of(self, item: Item) -> Watch | None:
        """What a check sees right now, for whoever shows its live figure."""
        return None if self.latest is None else self._watch(item, self.latest)

    # -- what is kept -----------------------------------------------------------------------

    def record(self) -> CommissionRecord:
        return CommissionRecord(
            software=self._software,
            installation=self.setting.installation,
            outcomes=self.outcomes(),
            extremes=self.seen.extremes(self.setting.installation.limits),
            coverage=self.seen.coverage(),
            clock=self.seen.clock(),
            sizing=tuple(item.sizing for item in self.items if item.sizing is not None),
            began=self._began,
            changed=self._wall,
            next_service=self._next_service(),
            looks=self.looks if self._looks_before in (None, self.looks) else "",
            recordings=(*self._runs_before, self._this_run()),
            progress=json.dumps(self._state(), ensure_ascii=False, allow_nan=False),
        )

    def _this_run(self) -> Span:
        entered = installation_digest(self.setting.installation)
        taken = self._taken if self.looks else -1
        return Span(self.capture, "", taken, self.looks, self._software, entered)

    def _next_service(self) -> str:
        day = self.facts.get(NEXT_SERVICE)
        return "" if day is None else date.fromordinal(int(day)).isoformat()

    def _state(self) -> dict[str, Any]:
        look = self.latest
        offset = look.wall_offset if look is not None else None
        return {
            "items": {item.key: item.state() for item in self.items if not item.needless},
            "facts": self.facts,
            "seen": self.seen.state(),
            "own": self._own,
            "wall": self._left
            if look is None or offset is None
            else self._feed_seconds(look) + offset,
        }

    def _take_up(self, record: CommissionRecord) -> None:
        """Go on where a record left off; a check that is new since then begins as new."""
        state = json.loads(record.progress)
        for key, kept in state["items"].items():
            item = self._by_key.get(key)
            if item is not None and not item.needless:
                item.take_up(kept)
                interrupt(item.memory)
                if item.check.at_once:
                    item.begin(self._own)  # what was entered may be another by now
        self.facts = {str(k): float(v) for k, v in state["facts"].items()}
        self.seen.take_up(state["seen"])
        self.seen.restarted()
        self._own, self._left = float(state["own"]), state["wall"]
        self._shift = None
        self._looks_before = record.looks
        self._runs_before = record.recordings or (Span(record.evidence.capture),)
        self._began, self._wall = record.began, record.changed

    def _in_own_time(self, look: Look) -> Look:
        """Feed time begins anew with each run; own time goes on, by the wall clock if it can."""
        if self._shift is None:
            away = 0.0
            if self._left is not None and look.wall_offset is not None:
                away = max(look.seconds + look.wall_offset - self._left, 0.0)
            self._shift = self._own + away - look.seconds
        self._own = max(self._own, look.seconds + self._shift)
        if self._began is None and look.wall_offset is not None:
            self._began = look.seconds + look.wall_offset
        return look._replace(seconds=look.seconds + self._shift)

    def _wall_of(self, look: Look) -> float | None:
        """Unix time of a look in own time."""
        return None if look.wall_offset is None else self._feed_seconds(look) + look.wall_offset

    def _feed_seconds(self, look: Look) -> float:
        return look.seconds - (self._shift or 0.0)


def _items(setting: Setting, checks: tuple[Check, ...]) -> Iterator[Item]:
    for check in checks:
        targets = check.targets(setting)
        if not targets:
            yield Item(check, "", "no such source at this site", (), ())
        for target in targets:
            needless = check.needless(setting, target)
            limits = () if needless else check.limits(setting, target)
            asks = () if needless else check.asks(setting, target)
            yield Item(check, target, needless, limits, asks)
