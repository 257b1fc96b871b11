"""Every check with its figures, limits, verdict, time and who; and what was not tested, and why."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

from monitor.commission.record import Attempt, Outcome, Verdict
from monitor.report.document import Block, Heading, Paragraph, Table
from monitor.report.making import Making
from monitor.report.told import all_measured, limits_told, name_of, when_and_who
from monitor.words.commission import MARK

_COLUMNS: Final = ("Check", "Measured", "Limits", "Verdict", "When and who")
_WIDTHS: Final = (0.19, 0.28, 0.26, 0.12, 0.15)
_HEAVY: Final = (Verdict.FAIL,)


def all_checks(making: Making) -> Iterator[Block]:
    """One table for each group, in the order in which an installer does them. What the site has no
    use for is told with what was not tested."""
    yield Heading("Every check")
    yield Paragraph(
        "± is one standard deviation, the meter's own error included: the truth lies within twice "
        "that, 19 times in 20. A figure is judged as it was measured."
    )
    done = [e for e in making.record.outcomes if e.verdict is not Verdict.NOT_APPLICABLE]
    if not done:
        yield Paragraph("None.")
    for group, those in _grouped(done):
        if group:
            yield Heading(group.capitalize(), 3)
        yield Table(
            _COLUMNS,
            tuple(_row(each, making) for each in those),
            _WIDTHS,
            frozenset(n for n, each in enumerate(those) if each.verdict in _HEAVY),
        )


def _grouped(outcomes: Sequence[Outcome]) -> list[tuple[str, list[Outcome]]]:
    groups: dict[str, list[Outcome]] = {}
    for each in outcomes:
        groups.setdefault(each.group, []).append(each)
    return list(groups.items())


def _row(outcome: Outcome, making: Making) -> tuple[str, ...]:
    told = [all_measured(outcome.figures)]
    if outcome.why:
        told.append(outcome.why)
    if outcome.note:
        told.append(f"note: {outcome.note}")
    told += [f"before: {_attempt(each)}" for each in outcome.attempts[:-1]]
    judged = outcome.verdict in (Verdict.PASS, Verdict.FAIL)
    when = when_and_who(outcome.wall, outcome.who, making.zone) if judged else ""
    causes = [name_of(e) for e in making.record.outcomes if e.key == outcome.follows]
    follows = f"\nfollows from: {causes[0]}" if causes else ""
    return (
        name_of(outcome),
        "\n".join(filter(None, told)),
        "\n".join(limits_told(outcome.limits)),
        MARK[outcome.verdict] + follows,
        when,
    )


def _attempt(attempt: Attempt) -> str:
    why = f", {attempt.why}" if attempt.why else ""
    return f"{MARK[attempt.verdict]}{why}"


def not_tested(making: Making) -> Iterator[Block]:
    record = making.record
    yield Heading("Not tested")
    if record.open:
        yield Paragraph("These should have been done and were not. Nothing is proved about them.")
        yield _reasons(record.open)
    else:
        yield Paragraph("Every check that this installation has use for was done.")
    needless = [e for e in record.outcomes if e.verdict is Verdict.NOT_APPLICABLE]
    if needless:
        yield Paragraph("This installation has nothing for these:")
        yield _reasons(needless)
    yield Paragraph(
        "What no check is for was not tested either: mains wiring, gas, structure, and whatever "
        "lies beyond the fuses that are listed here."
    )


def _reasons(outcomes: Sequence[Outcome]) -> Table:
    return Table(
        ("Check", "Verdict", "Why"),
        tuple((name_of(e), MARK[e.verdict], e.why or "no reason given") for e in outcomes),
        (0.34, 0.16, 0.50),
    )
