"""One check of one target as it stands: begun or not, what was entered, what came out of it.

Mutable and owned by the procedure; everything in it can stand in a file.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum
from typing import Any

from monitor.commission.check import Ask, Check, Result
from monitor.commission.memory import Memory
from monitor.commission.record import (
    Attempt,
    Evidence,
    Limit,
    Outcome,
    Sizing,
    Verdict,
)
from monitor.commission.record_file import document_of, value_of


class Phase(StrEnum):
    IDLE = "idle"
    RUNNING = "running"
    FINISHED = "finished"


@dataclass(slots=True)
class Item:
    """`needless` says why there is nothing to do, "" where there is."""

    check: Check
    target: str
    needless: str
    limits: tuple[Limit, ...]
    asks: tuple[Ask, ...]
    phase: Phase = Phase.IDLE
    memory: Memory = field(default_factory=dict)
    entries: dict[str, float | str] = field(default_factory=dict)
    done: bool = False
    began: float | None = None
    attempts: tuple[Attempt, ...] = ()
    note: str = ""
    sizing: Sizing | None = None
    evidence: Evidence = field(default_factory=Evidence)
    #: Names of what is asked that a device tells at the moment.
    told: frozenset[str] = frozenset()

    @property
    def key(self) -> str:
        return f"{self.check.id}@{self.target}" if self.target else self.check.id

    @property
    def last(self) -> Attempt | None:
        return self.attempts[-1] if self.attempts else None

    @property
    def open_asks(self) -> tuple[Ask, ...]:
        """What is still to be answered; last, what a device tells and a meter may better."""
        left = [each for each in self.asks if each.name not in self.entries]
        told = [
            each._replace(optional=True, words=f"{each.words}; its device tells it")
            for each in left
            if each.name in self.told
        ]
        return (*(each for each in left if each.name not in self.told), *told)

    @property
    def waits_for_done(self) -> bool:
        """Whether nothing is judged before the person says that the hands are finished."""
        check = self.check
        by_device = check.done_if_told and any(each.name in self.told for each in self.asks)
        return (check.until_done or by_device) and not self.done

    def begin(self, seconds: float) -> None:
        self.phase, self.began, self.done = Phase.RUNNING, seconds, False
        self.memory, self.entries, self.told = {}, {}, frozenset()

    def leave(self) -> None:
        """Not begun after all; an outcome that it had stays."""
        self.phase = Phase.FINISHED if self.attempts else Phase.IDLE
        self.memory, self.entries, self.done = {}, {}, False

    def judge(
        self, result: Result, seconds: float, wall: float | None, who: str, capture: str
    ) -> bool:
        """Take a result in; False where it is what was known already."""
        last = self.last
        again = last is not None and (last.verdict, last.why) == (result.verdict, result.why)
        if again and self.phase is Phase.RUNNING and self.check.alone:
            return False
        attempt = Attempt(result.verdict, result.why, result.figures, seconds, wall, who)
        self.attempts = (*self.attempts, attempt)
        if result.sizing is not None:
            self.sizing = result.sizing
        self.evidence = Evidence(capture, "", self.began, seconds)
        return True

    def outcome(self) -> Outcome:
        check, last = self.check, self.last
        verdict, why = Verdict.NOT_DONE, "not begun"
        if self.needless:
            verdict, why = Verdict.NOT_APPLICABLE, self.needless
        elif last is not None:
            verdict, why = last.verdict, last.why
        elif self.phase is Phase.RUNNING:
            why = f"waits for: {check.watches}"
        return Outcome(
            id=check.id,
            title=check.title,
            group=check.group,
            target=self.target,
            purpose=check.purpose,
            limits=self.limits,
            verdict=verdict,
            why=why,
            figures=last.figures if last else (),
            note=self.note,
            seconds=last.seconds if last else None,
            wall=last.wall if last else None,
            who=last.who if last else "",
            attempts=self.attempts,
            evidence=self.evidence,
        )

    def state(self) -> dict[str, Any]:
        return {
            "phase": self.phase.value,
            "memory": self.memory,
            "entries": self.entries,
            "done": self.done,
            "began": self.began,
            "attempts": document_of(self.attempts),
            "note": self.note,
            "sizing": None if self.sizing is None else document_of(self.sizing),
            "evidence": document_of(self.evidence),
        }

    def take_up(self, state: dict[str, Any]) -> None:
        self.phase = Phase(state["phase"])
        self.memory = {str(k): float(v) for k, v in state["memory"].items()}
        self.entries = {
            str(k): float(v) if isinstance(v, int | float) else str(v)
            for k, v in state["entries"].items()
        }
        self.done = bool(state["done"])
        self.began = None if state["began"] is None else float(state["began"])
        self.attempts = tuple(value_of(Attempt, each) for each in state["attempts"])
        self.note = str(state["note"])
        self.sizing = None if state["sizing"] is None else value_of(Sizing, state["sizing"])
        self.evidence = value_of(Evidence, state["evidence"])
