"""A commissioning record as a document: what a customer is handed, in the order of what matters.

Pure: the same `Making` gives the same document, to the letter. Open defects come first; what was
not tested is told as plainly as what was.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from monitor.commission.record import CommissionRecord, Outcome
from monitor.report import checks, installation, owner, recording
from monitor.report.again import leave_words
from monitor.report.document import Block, Caution, Defect, Document, Heading, Pairs, Paragraph
from monitor.report.making import Making
from monitor.report.told import (
    all_measured,
    given,
    limits_told,
    moment,
    name_of,
    when_and_who,
    zone_words,
)
from monitor.words.commission import counted

TITLE: Final = "Commissioning report"


def document(making: Making) -> Document:
    record = making.record
    name = record.installation.name.strip()
    title = f"{TITLE}: {name}" if name else TITLE
    blocks = (
        Heading(title, 1),
        *_top(making),
        *_defects(making),
        *installation.described(making),
        *checks.all_checks(making),
        *checks.not_tested(making),
        *recording.extremes(making),
        *installation.instruments(making),
        *recording.trust(making),
        *recording.plots(making),
        *recording.sizing(making),
        *owner.alarms(making),
        *installation.breaking(making),
        *owner.handing_over(making),
        *_evidence(making),
    )
    foot = f"{title}, {moment(record.changed, making.zone)}"
    return Document(title, blocks, making.seal.line, foot)


def _top(making: Making) -> Iterator[Block]:
    record, entered = making.record, making.record.installation
    yield Pairs(
        (
            ("Owner", given(entered.owner)),
            ("Commissioned by", given(entered.who)),
            ("Bank", _bank(record)),
            ("Begun", moment(record.began, making.zone)),
            ("Last changed", moment(record.changed, making.zone)),
            ("Times are", zone_words(making.zone)),
            ("Checks", counted(record.outcomes) or "none"),
        )
    )


def _bank(record: CommissionRecord) -> str:
    entered = record.installation
    volts = f"{entered.nominal_volts} V" if entered.nominal_volts is not None else ""
    hours = f"{entered.amp_hours:g} Ah" if entered.amp_hours is not None else ""
    return given(", ".join(filter(None, (entered.bank, volts, entered.chemistry, hours))))


def _defects(making: Making) -> Iterator[Block]:
    record = making.record
    yield Heading("Open defects")
    beyond = recording.beyond_limits(making)
    if not record.failed and not beyond:
        undone = len(record.open)
        left = f" {undone} were not done: see Not tested." if undone else ""
        yield Paragraph(f"No check failed.{left}")
        return
    yield Paragraph(
        "Each of these stands until it is put right and looked at again. "
        "Do not use the installation before whoever commissioned it has said that it may be used."
    )
    number = 0
    for words in beyond:
        number += 1
        yield Defect(
            f"{number}. {words}", ("No check is for this: judge whether it was meant, and may be.",)
        )
    following: dict[str, list[Outcome]] = {}
    for each in record.failed:
        following.setdefault(_root(record, each), []).append(each)
    for each in record.defects:
        number += 1
        yield Defect(
            f"{number}. {name_of(each)}", tuple(_told(each, following.get(each.key, []), making))
        )
    told = {each.key for each in record.defects}
    for cause, those in following.items():
        if cause and cause not in told:
            for each in those:
                number += 1
                yield Defect(
                    f"{number}. {name_of(each)}",
                    (f"Follows from: {_title(record, cause)}", *_told(each, [], making)),
                )


def _root(record: CommissionRecord, outcome: Outcome) -> str:
    """The defect at the end of the chain that an outcome follows from; "" for a defect itself."""
    causes = {each.key: each.follows for each in record.failed}
    root, steps = outcome.follows, len(causes)
    while causes.get(root) and steps:
        root, steps = causes[root], steps - 1
    return root


def _title(record: CommissionRecord, key: str) -> str:
    return next((name_of(each) for each in record.outcomes if each.key == key), key)


def _told(outcome: Outcome, followers: list[Outcome], making: Making) -> Iterator[str]:
    if outcome.why:
        yield f"Found: {outcome.why}"
    if outcome.figures:
        yield f"Measured: {all_measured(outcome.figures)}"
    for line in limits_told(outcome.limits):
        yield f"Limit: {line}"
    if outcome.purpose:
        yield f"Why it matters: {outcome.purpose}"
    if outcome.note:
        yield f"Note: {outcome.note}"
    for each in followers:
        yield f"Also failed, and follows from it: {name_of(each)}: {each.why}"
    yield f"Judged: {when_and_who(outcome.wall, outcome.who, making.zone)}"


def _evidence(making: Making) -> Iterator[Block]:
    seal = making.seal
    yield Heading("Evidence")
    yield Paragraph(
        "The recording holds every reading and every answer on which this report rests. Its digest "
        "is printed here so that whoever holds this paper can tell later whether the file is still "
        f"the one of that day: ampwright report verify {seal.record}"
    )
    yield Pairs(
        (
            ("Recording", seal.capture or "none was kept: the figures cannot be replayed"),
            ("its SHA-256", seal.capture_sha256 or "none"),
            ("Record", seal.record),
            ("its SHA-256", seal.record_sha256),
            ("Commissioned with", given(making.record.software)),
            ("Report made with", given(seal.software)),
        )
    )
    if making.charge is None:
        return
    if not making.changed:
        yield Paragraph(
            "The recording was replayed when this report was made: every check came to the same."
        )
        return
    yield Paragraph(
        "The recording was replayed when this report was made, and does NOT come to the same:"
    )
    for words in making.changed:
        yield Caution(words)
    leave = leave_words(making.record, making.whole)
    if leave:
        yield Paragraph(f"But {leave}.")
