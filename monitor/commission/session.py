"""A procedure on a feed, with its record on disk: what screen and plain text both hold on to.

session.take(snapshot)     hear what was said since, look, write down what changed
session.say(key, word)     a person's word, sent into the feed so that a capture records it
"""

from __future__ import annotations

import hashlib
from dataclasses import replace
from pathlib import Path
from typing import Final, Protocol

from adapters.reading import Command
from monitor.commission.look import look_of
from monitor.commission.procedure import Procedure
from monitor.commission.record import Evidence, Outcome
from monitor.commission.record_file import save_record
from monitor.commission.said import command, said_in
from monitor.engine.snapshot import Event, Snapshot

#: Progress without news is put on disk this often (feed seconds): a night is not lost by a fuse.
SAVE_SECONDS: Final = 300.0


def record_path(bank_id: str) -> Path:
    """Where the record lies unless another place is named."""
    return Path(f"commissioning-{bank_id}.json")


class Talk(Protocol):
    """What is asked of a feed here."""

    def events(self, since: int) -> tuple[Event, ...]: ...
    def send(self, command: Command) -> None: ...


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
        self._saved = -SAVE_SECONDS

    @property
    def bank_id(self) -> str:
        return self.procedure.setting.bank.id

    def say(self, key: str, word: str, rest: str = "") -> None:
        self._feed.send(command(self.who, key, word, rest))

    def take(self, snapshot: Snapshot) -> tuple[Outcome, ...]:
        """The outcomes that are new."""
        changed: list[Outcome] = []
        spoken = False
        if snapshot.last_event > self._since:
            for event in self._feed.events(self._since):
                said = said_in(event)
                if said is not None:
                    changed.extend(self.procedure.hear(said))
                    spoken = True
            self._since = snapshot.last_event
        changed.extend(self.procedure.look(look_of(snapshot, self.bank_id)))
        if changed or spoken or snapshot.seconds - self._saved >= SAVE_SECONDS:
            self._saved = snapshot.seconds
            self.save()
        return tuple(changed)

    def save(self) -> None:
        """Put the record on disk; a disk that refuses is told, and the work goes on."""
        if self.path is None:
            return
        try:
            save_record(self.path, replace(self.procedure.record(), evidence=self.evidence))
            self.trouble = ""
        except OSError as error:
            self.trouble = f"{self.path}: cannot be written: {error.strerror or error}"


def evidence_of(capture: Path, start: float | None = None, end: float | None = None) -> Evidence:
    """A recording as evidence; OSError where it cannot be read."""
    digest = hashlib.sha256()
    with capture.open("rb") as file:
        for block in iter(lambda: file.read(1 << 20), b""):
            digest.update(block)
    return Evidence(capture.name, digest.hexdigest(), start, end)
