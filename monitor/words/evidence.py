"""Why each figure is what it is: the evidence of a snapshot as sections of text."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from monitor.engine.snapshot import (
    BankView,
    Estimate,
    Fact,
    LinkView,
    Measured,
    Snapshot,
    SourceView,
    Stage,
)
from monitor.with_doubt import with_doubt
from monitor.words.figures import (
    Clock,
    ago,
    amps,
    answer,
    percent,
    probability,
    signed_amps,
    temperature,
    volts,
)
from monitor.words.sentences import (
    OPENED,
    STAGE_WORD,
    about,
    bank_name,
    certainty,
    how_full,
    link_words,
    past,
    past_words,
    since,
    stage_words,
    unheard,
)
from monitor.words.sources import RATING_NOT_TOLD, SOURCE_KIND, loads_note, source_says
from monitor.words.texts import Section

#: Before what was seen while the bank was still read, and what was in it then.
UNTIL_THEN: Final = "until then, "
WAS_IN_IT: Final = "was in it"


def _facts(facts: Iterable[Fact]) -> list[str]:
    return [f"{fact.rule}: {fact.words}" if fact.rule else fact.words for fact in facts]


def _plus_minus(estimate: Estimate, unit: str, digits: int) -> str:
    """A figure with twice its standard deviation, or why there is none."""
    if estimate.figure is None:
        return estimate.reason or "not known yet"
    if not estimate.sd:
        return f"{estimate.figure:.{digits}f} {unit}"
    figure, doubt = with_doubt(estimate.figure, 2.0 * estimate.sd, digits)
    return f"{figure} {unit}, give or take {doubt}"


def _measured(name: str, measured: Measured, text: str) -> str:
    known = measured.figure is not None and measured.age_seconds is not None
    age = f", read {ago(measured.age_seconds or 0.0)}" if known else ""
    reason = f", {measured.reason}" if measured.reason else ""
    return f"{name}: {text}{age}{reason}"


def _stage(snapshot: Snapshot, bank: BankView, clock: Clock) -> Section:
    view = bank.stage
    if past(bank):
        lines = [stage_words(bank), past_words(bank)]
        if unheard(bank):
            return Section("Stage", tuple(lines))
    else:
        lines = [
            f"{STAGE_WORD[view.stage]}, {certainty(view)}, "
            f"{since(view.since_seconds, snapshot.seconds, clock)}"
        ]
    then = UNTIL_THEN if past(bank) else ""
    lines += [f"{then}{fact}" for fact in _facts(view.evidence)]
    chances = sorted(zip(view.probabilities, Stage, strict=False), reverse=True)
    listed = [
        f"{STAGE_WORD[stage]} {probability(chance)}" for chance, stage in chances if chance > 0.005
    ]
    lines.append(f"{then}all stages: " + ", ".join(listed))
    return Section("Stage", tuple(lines))


def _last_full(seconds: float | None, now: float, clock: Clock) -> str:
    if seconds is None:
        return "not seen yet"
    moment, gone = clock.at(seconds, now), ago(now - seconds)
    return f"{moment}, {gone}" if moment else gone


def _charge(snapshot: Snapshot, bank: BankView, clock: Clock) -> Section:
    charge = bank.charge
    lines = [how_full(bank)]
    lines += _facts(charge.evidence)
    # What the evidence itself tells is not told twice.
    told = {fact.rule for fact in charge.evidence}
    lines += [
        f"{name}: {words}"
        for name, words in (
            ("last full", _last_full(charge.last_full_seconds, snapshot.seconds, clock)),
            (WAS_IN_IT if past(bank) else "in it", _plus_minus(charge.stored_amp_hours, "Ah", 0)),
            ("usable capacity", _plus_minus(charge.capacity_amp_hours, "Ah", 0)),
            ("resistance at 25 °C", _plus_minus(charge.milliohms, "mΩ", 1)),
            ("offset of the current sensor", _plus_minus(charge.sensor_offset_amps, "A", 2)),
        )
        if name not in told
    ]
    return Section("State of charge", tuple(lines))


def _forecast(snapshot: Snapshot, bank: BankView, clock: Clock) -> Section:
    lines = []
    left = "time left" if bank.lowest_soc is None else f"time left above {percent(bank.lowest_soc)}"
    for name, interval in (("time to full", bank.forecast.to_full), (left, bank.forecast.left)):
        reply = answer(interval)
        parts = [reply.text, reply.between, about(reply, snapshot.seconds, clock), reply.reason]
        lines.append(f"{name}: " + ", ".join(part for part in parts if part))
    lines += [f"assumed: {words}" for words in bank.forecast.assumptions]
    return Section("How long", tuple(lines))


def _readings(bank: BankView, fahrenheit: bool) -> Section:
    points = bank.set_points
    at = "" if points.celsius is None else f" at {temperature(points.celsius, fahrenheit)}"
    lines = [
        _measured("volts", bank.volts, volts(bank.volts.figure)),
        _measured("current", bank.amps, signed_amps(bank.amps.figure)),
        _measured("temperature", bank.celsius, temperature(bank.celsius.figure, fahrenheit)),
        f"loads: {amps(bank.load_amps.figure)}, {loads_note(bank)}",
    ]
    for name, estimate in (
        ("absorption", points.absorption),
        ("float", points.float_),
        ("equalize", points.equalize),
    ):
        lines.append(f"{name} set-point{at}: {_plus_minus(estimate, 'V', 2)}")
    return Section("Readings and set-points", tuple(lines))


def _source(source: SourceView, snapshot: Snapshot, clock: Clock) -> list[str]:
    kind = SOURCE_KIND.get(source.kind, source.kind)
    rated = RATING_NOT_TOLD if source.rated_amps is None else f"rated {amps(source.rated_amps)}"
    lines = [f"{source.id}: " + ", ".join(part for part in (kind, rated) if part)]
    lines.append(_measured("  current", source.amps, amps(source.amps.figure)))
    if source.volts.figure is not None:
        lines.append(_measured("  volts", source.volts, volts(source.volts.figure)))
    if says := source_says(source):
        lines.append(f"  {says}")
    if source.stage is not None:
        when = since(source.stage.since_seconds, snapshot.seconds, clock)
        lines.append(f"  does {STAGE_WORD[source.stage.stage]}, {certainty(source.stage)}, {when}")
        lines += [f"  {line}" for line in _facts(source.stage.evidence)]
    return lines


def _link(link: LinkView, now: float, clock: Clock) -> str:
    if not link.up:
        return link_words(link, now, clock)
    if link.age_seconds is None:
        return f"{link.device}: {link.reason or 'not heard yet'}"
    heard = f"{link.device}: answers, last reading {ago(link.age_seconds)}"
    return f"{heard}, {since(link.since_seconds, now, clock)}" + (
        f"; {link.reason}" if link.reason not in ("", OPENED) else ""
    )


def evidence(
    snapshot: Snapshot, bank: BankView, clock: Clock, *, fahrenheit: bool = False
) -> list[Section]:
    """Everything the snapshot can say about why one bank's figures are what they are."""
    own = [source for source in snapshot.sources if source.bank == bank.id]
    sections = [
        Section(bank_name(bank), ()),
        _stage(snapshot, bank, clock),
        _charge(snapshot, bank, clock),
        _forecast(snapshot, bank, clock),
        _readings(bank, fahrenheit),
    ]
    if bank.warnings:
        sections.append(Section("Worth knowing", tuple(_facts(bank.warnings))))
    if own:
        lines = [line for source in own for line in _source(source, snapshot, clock)]
        sections.append(Section("Sources", tuple(lines)))
    links = tuple(_link(link, snapshot.seconds, clock) for link in snapshot.links)
    return [*sections, Section("Devices", links)] if links else sections
