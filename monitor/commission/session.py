"""A procedure on a feed, with its record on disk: what screen and plain text both hold on to.

session.take(snapshot)     hear what was said since, look, write down what changed
session.say(key, word)     a person's word, sent into the feed so that a capture records it
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Final, Protocol, runtime_checkable

from adapters.reading import Command, Input
from monitor.commission.look import LOOKS, Looking, look_of
from monitor.commission.procedure import Procedure
from monitor.commission.record import CommissionRecord, Evidence, Outcome
from monitor.commission.record_file import save_record
from monitor.commission.said import Said, command, said_in
from monitor.engine.snapshot import Event, Snapshot

if TYPE_CHECKING:
    from monitor.engine.engine import Engine

#: Looks and words taken in at once: a far jump in a recording must not hold a screen up (0.1 s).
_MOST_AT_ONCE: Final = 500
#: Progress without news is put on disk this often (feed seconds): a night is not lost by a fuse.
SAVE_SECONDS: Final = 300.0


def record_path(bank_id: str) -> Path:
    """Where the record lies unless another place is named."""
    return Path(f"commissioning-{bank_id}.json")


class Talk(Protocol):
    """What is asked of a feed here."""

    def events(self, since: int) -> tuple[Event, ...]: ...
    def send(self, command: Command) -> None: ...


@runtime_checkable
class Followed(Protocol):
    """A feed that lets somebody follow each step of its engine."""

    def follow(self, follower: Callable[[Input, tuple[Event, ...], Engine], None]) -> None: ...


class Session:
    """`path` None: nothing is kept. `evidence` says which recording stands behind it."""

    def __init__(
        self,
        feed: Talk,
        procedure: Procedure,
        path: Path | None,
        who: str = "installer",
        evidence: Evidence | None = None,
    ) -> None:
        self.procedure = procedure
        self.path = path
        self.who = who
        self.evidence = evidence or Evidence()
        self.trouble = ""
        self._feed = feed
        self._since = int(getattr(feed, "earlier", 0))
        #: What the feed gave input by input; None where it gives snapshots alone.
        self._looking = self._followed(feed)
        self._saved = -SAVE_SECONDS

    def _followed(self, feed: Talk) -> Looking | None:
        if not isinstance(feed, Followed):
            self.procedure.looks = ""  # whatever it was brought up to date by
            return None
        looking = Looking(self.bank_id)
        feed.follow(looking.took)
        self.procedure.looks = LOOKS
        return looking

    @property
    def bank_id(self) -> str:
        return self.procedure.setting.bank.id

    def say(self, key: str, word: str, rest: str = "") -> None:
        self._feed.send(command(self.who, key, word, rest))

    def take(self, snapshot: Snapshot) -> tuple[Outcome, ...]:
        """The outcomes that are new."""
        if self._looking is not None:
            given = self._looking.take(_MOST_AT_ONCE)
            changed = self.procedure.take(given)
            spoken = any(isinstance(each, Said) for each in given)
        else:
            changed, spoken = self._by_snapshot(snapshot)
        if changed or spoken or snapshot.seconds - self._saved >= SAVE_SECONDS:
            self._saved = snapshot.seconds
            self._write()
        return changed

    def _by_snapshot(self, snapshot: Snapshot) -> tuple[tuple[Outcome, ...], bool]:
        """Of a feed that gives nothing but snapshots and events; whether anything was said."""
        changed: list[Outcome] = []
        spoken = False
        if snapshot.last_event < self._since:
            self._since = 0  # a service that began anew counts its events anew
        if snapshot.last_event > self._since:
            for event in self._feed.events(self._since):
                said = said_in(event)
                if said is not None:
                    changed.extend(self.procedure.hear(said))
                    spoken = True
            self._since = snapshot.last_event
        changed.extend(self.procedure.look(look_of(snapshot, self.bank_id)))
        return tuple(changed), spoken

    def save(self) -> None:
        """Put the record on disk, with all that came until now."""
        if self._looking is not None:
            self.procedure.take(self._looking.take())
        self._write()

    def _write(self) -> None:
        """A disk that refuses is told, and the work goes on."""
        if self.path is None:
            return
        try:
            save_record(self.path, with_evidence(self.procedure.record(), self.evidence))
            self.trouble = ""
        except OSError as error:
            self.trouble = f"{self.path}: cannot be written: {error.strerror or error}"


def with_evidence(record: CommissionRecord, evidence: Evidence) -> CommissionRecord:
    """A record with the recording that stands behind its last run."""
    *before, last = record.recordings
    if last.capture == evidence.capture:
        last = replace(last, digest=evidence.digest)
    return replace(record, evidence=evidence, recordings=(*before, last))


def evidence_of(capture: Path, start: float | None = None, end: float | None = None) -> Evidence:
    """A recording as evidence; OSError where it cannot be read."""
    digest = hashlib.sha256()
    with capture.open("rb") as file:
        for block in iter(lambda: file.read(1 << 20), b""):
            digest.update(block)
    return Evidence(capture.name, digest.hexdigest(), start, end)
