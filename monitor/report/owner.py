"""What the owner keeps: each alarm and what to do, cautions, the next service, where to sign."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Final

from monitor.chemistries import CHEMISTRIES
from monitor.engine import conditions
from monitor.engine.condition import Condition
from monitor.engine.snapshot import Priority
from monitor.report.document import (
    Block,
    Caution,
    Heading,
    Pairs,
    Paragraph,
    Signatures,
    Table,
)
from monitor.report.making import Making
from monitor.words.sentences import PRIORITY_MARK
from monitor.words.texts import CAUTIONS, CAUTIONS_HEADING

_WHEN: Final = {
    Priority.HIGH: "see to it now",
    Priority.MEDIUM: "see to it within the hour",
    Priority.LOW: "see to it today",
}
_DEFERENCE: Final = (
    "This report says what was measured on the day and how it compares with the limits that are "
    "named. It is no certificate. Local codes, the makers' instructions and the judgement of who "
    "is licensed for this work come before anything printed here. Figures of a screen are no proof "
    "that a circuit is dead: measure it."
)
_INTRODUCTION: Final = (
    "An alarm says what is abnormal, and what to do first. Where there is a caution, read it "
    "before you do anything."
)


def alarms(making: Making) -> Iterator[Block]:
    """Every alarm that this bank can raise, the gravest first."""
    yield Heading("What each alarm means, and what to do")
    yield Paragraph(_INTRODUCTION)
    rows = _rows(making)
    for priority, when in _WHEN.items():
        those = [row for row in rows if row.priority is priority]
        if not those:
            continue
        yield Heading(f"{PRIORITY_MARK[priority]} {priority.name.capitalize()}: {when}", 3)
        yield Table(
            ("It says", "Do first"),
            tuple((row.words, _do_first(row)) for row in those),
            (0.45, 0.55),
        )


def _rows(making: Making) -> list[Condition[Any]]:
    chemistry = making.record.installation.chemistry
    tables: tuple[tuple[Condition[Any], ...], ...] = (
        conditions.BANK,
        conditions.SOURCE if making.record.installation.chargers else (),
        conditions.DEVICE,
        conditions.SITE,
        *conditions.OWN_LINK.values(),
    )
    known = chemistry in CHEMISTRIES
    return [row for table in tables for row in table if not known or chemistry in row.chemistries]


def _do_first(row: Condition[Any]) -> str:
    return f"Caution: {row.caution}\n{row.first}" if row.caution else row.first


def handing_over(making: Making) -> Iterator[Block]:
    entered = making.record.installation
    yield Heading("Next service")
    yield Pairs(
        (
            (
                "Next service",
                making.seal.next_service or "no date was set: agree on one and write it here",
            ),
        )
    )
    yield Heading(CAUTIONS_HEADING)
    for words in CAUTIONS:
        yield Caution(words)
    yield Paragraph(_DEFERENCE)
    yield Heading("Signatures")
    yield Signatures(
        (
            f"Commissioned by {entered.who}".strip() if entered.who else "Commissioned by",
            f"Received by {entered.owner}" if entered.owner else "Received by the owner",
        )
    )
