"""The evidence replayed: the recording through the engine and the procedure once more.

What was said stands in the recording as the readings do, so nobody is asked. `look_again` gives
what there is to plot and what every check comes to now; `differences` says in words where that is
not what the record says. The looks are settled by the recording itself (`commission.look`), so the
same version of the program must come to the same figures to the last bit; a record of before that,
or of another version, is compared with some leave, and `leave_words` says so.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Sequence
from typing import Final, NamedTuple

from adapters.reading import Input
from monitor.bank import Bank
from monitor.commission.check import told
from monitor.commission.look import EXACT
from monitor.commission.procedure import Procedure
from monitor.commission.record import (
    CommissionRecord,
    Extreme,
    Figure,
    Outcome,
    Span,
    Verdict,
)
from monitor.commission.record_file import as_text, from_text, installation_digest
from monitor.commission.replayed import replayed
from monitor.commission.setting import Setting
from monitor.engine.engine import Engine
from monitor.mishaps import Refusal
from monitor.recorded import Recorded
from monitor.report.curve import Curve
from monitor.report.making import Charge
from monitor.report.told import name_of
from monitor.software import software
from monitor.words.commission import MARK

#: A record of an earlier version was made by looks at moments of the screen, and is replayed with
#: one every fifth second: figures of a moment differ by so much (shares of the figure, measured
#: over simulated commissionings) without anything being changed.
_SHARE: Final = 0.02
#: And no figure is compared more finely than this, in its own unit.
_LEAST: Final = {"V": 0.03, "mV": 3.0, "A": 0.5, "°C": 0.5, "s": 30.0, "h": 0.05}
_LEAST_OTHER: Final = 0.02
#: Inputs between two words of progress.
_EVERY: Final = 2000


class Again(NamedTuple):
    charge: Charge
    record: CommissionRecord


class Run(NamedTuple):
    """An earlier run and its recording; None where nothing of it was taken in."""

    span: Span
    recorded: Recorded | None


def bank_of(record: CommissionRecord, recorded: Recorded, capture: str) -> Bank:
    """The bank that the record is of; Refusal where the recording has no such bank."""
    name = record.installation.bank
    for bank in recorded.site.banks:
        if bank.id == name:
            return bank
    banks = ", ".join(bank.id for bank in recorded.site.banks)
    raise Refusal(f'{capture}: expected the record\'s bank "{name}" in it, found {banks}')


def look_again(
    record: CommissionRecord,
    recorded: Recorded,
    capture: str,
    progress: Callable[[float], None] = lambda _: None,
    earlier: Sequence[Run] = (),
) -> Again:
    """One pass over the recording, after as much as was taken in of each of the `earlier` ones.
    `progress` is told the share done."""
    bank = bank_of(record, recorded, capture)
    start, end = recorded.recording.start, recorded.recording.end
    engine = Engine(recorded.site, recorded.state)
    setting = Setting(recorded.site, bank, record.installation)
    procedure = Procedure(setting, _until_then(record, earlier, setting), capture=capture)
    curve = Curve(start, end)
    inputs = _told(recorded.recording.inputs(), curve, progress)
    watched = curve.watch(inputs, engine, bank.id)
    for _ in replayed(watched, engine, procedure, record.looks):
        pass
    return Again(Charge(curve.edges, curve.bins, curve.wall_offset), procedure.record())


def _until_then(
    record: CommissionRecord, earlier: Sequence[Run], setting: Setting
) -> CommissionRecord | None:
    """The record as the last run found it."""
    kept = None
    for span, recorded in earlier:
        procedure = Procedure(setting, kept, capture=span.capture)
        procedure.looks = span.looks
        if recorded is not None and span.taken > 0:
            bank = bank_of(record, recorded, span.capture)
            procedure.setting = Setting(recorded.site, bank, record.installation)
            engine, inputs = Engine(recorded.site, recorded.state), recorded.recording.inputs()
            for _ in replayed(inputs, engine, procedure, span.looks, span.taken):
                pass
        kept = from_text(as_text(procedure.record()), span.capture)
    return kept


def replayable(record: CommissionRecord) -> bool:
    """Whether a record of several runs says enough of each to be replayed from its beginning."""
    entered = installation_digest(record.installation)
    return len(record.recordings) > 1 and all(
        each.looks in EXACT
        and each.taken >= 0
        and (each.capture != "" or each.taken == 0)
        and each.installation == entered
        for each in record.recordings
    )


def _told(
    inputs: Iterable[Input], curve: Curve, progress: Callable[[float], None]
) -> Iterator[Input]:
    for number, value in enumerate(inputs):
        if number % _EVERY == 0:
            progress((value.seconds - curve.start) / (curve.end - curve.start))
        yield value


def elsewhere(record: CommissionRecord, whole: bool = False) -> tuple[Outcome, ...]:
    """Checks that rest on another recording than the record's: begun before, gone on with; none
    where all of them were replayed."""
    if whole:
        return ()
    return tuple(
        each
        for each in record.outcomes
        if each.attempts and each.evidence.capture != record.evidence.capture
    )


def exact(record: CommissionRecord) -> bool:
    """Whether a replay by this program must come to the same to the last bit."""
    others = {each.software for each in record.recordings[:-1]}
    return record.looks in EXACT and {record.software, *others} == {software()}


def leave_words(record: CommissionRecord, whole: bool = False) -> str:
    """Why a replay may differ though nothing was changed; "" where it may not."""
    if record.looks not in EXACT:
        return (
            "the record was made by an earlier version, which looked at moments that nothing can "
            "repeat: where hands moved within ten seconds of a verdict a figure may differ though "
            "nothing was changed"
        )
    if elsewhere(record, whole):
        return (
            "the commissioning was begun in another recording and gone on with in this one: what "
            "rests on both cannot be replayed from one of them"
        )
    if not exact(record):
        made = sorted({record.software, *(each.software for each in record.recordings[:-1])})
        return (
            f"the record was made with {' and '.join(made) or 'an unknown version'}, this is "
            f"{software()}: figures that differ by little are taken as the same"
        )
    return ""


def differences(
    record: CommissionRecord, again: CommissionRecord, whole: bool = False
) -> tuple[str, ...]:
    """What the replay comes to that the record does not say, a line each; nothing: the same."""
    now = {each.key: each for each in again.outcomes}
    others = {each.key for each in elsewhere(record, whole)}
    same = _identical if exact(record) else _same
    lines: list[str] = []
    for each in record.outcomes:
        if each.key in others:
            continue
        found = now.get(each.key)
        if found is None:
            lines.append(f"{name_of(each)}: this version of the program has no such check")
            continue
        told = tuple(_outcome(each, found, same))
        if not told and same is _identical:
            told = tuple(_beside(each, found))
        lines.extend(told)
    if not others:
        lines.extend(_extremes(record.extremes, again.extremes, same))
        if record.next_service != again.next_service:
            agreed, said = record.next_service or "none", again.next_service or "none"
            lines.append(f"next service: {agreed} in the record, {said} from the recording")
    return tuple(lines)


Alike = Callable[[Figure, Figure], bool]


def _outcome(then: Outcome, now: Outcome, same: Alike) -> Iterator[str]:
    if then.verdict is not now.verdict:
        yield (
            f"{name_of(then)}: {MARK[then.verdict]} in the record, "
            f"{MARK[now.verdict]} from the recording ({now.why or 'no reason needed'})"
        )
        return
    if then.verdict in (Verdict.NOT_APPLICABLE, Verdict.NOT_DONE):
        return
    figures = {each.name: each for each in now.figures}
    for each in then.figures:
        found = figures.get(each.name)
        if found is None:
            before = f"{name_of(then)}: {each.name} {told(each)} in the record"
            yield f"{before}, none from the recording"
        elif not same(each, found):
            yield (
                f"{name_of(then)}: {each.name} {told(each)} in the record, "
                f"{told(found)} from the recording"
            )


def _beside(then: Outcome, now: Outcome) -> Iterator[str]:
    """What stands beside the figures: reasons, who, when, notes, earlier tries."""
    for name, wrote, found in (
        ("reason", then.why, now.why),
        ("note", then.note, now.note),
        ("who judged it", then.who, now.who),
        ("time", (then.seconds, then.wall), (now.seconds, now.wall)),
        ("tries", then.attempts, now.attempts),
        ("figures", then.figures, now.figures),
    ):
        if wrote != found:
            yield f"{name_of(then)}: {name} in the record is not what the recording gives"


def _identical(then: Figure, now: Figure) -> bool:
    return then == now


def _same(then: Figure, now: Figure) -> bool:
    doubt = 3.0 * math.hypot(then.uncertainty or 0.0, now.uncertainty or 0.0)
    least = _LEAST.get(then.unit, _LEAST_OTHER)
    return abs(then.figure - now.figure) <= max(doubt, _SHARE * abs(then.figure), least)


def _extremes(then: tuple[Extreme, ...], now: tuple[Extreme, ...], same: Alike) -> Iterator[str]:
    found = {each.quantity: each for each in now}
    for each in then:
        other = found.get(each.quantity)
        ends = (("lowest", each.lowest), ("highest", each.highest))
        for name, figure in ends:
            again = None if other is None else getattr(other, name)
            before = Figure(name, figure, each.unit)
            if again is None or not same(before, Figure(name, again, each.unit)):
                come = "none" if again is None else told(Figure(name, again, each.unit))
                yield (
                    f"{name} {each.quantity}: {told(before)} in the record, "
                    f"{come} from the recording"
                )
