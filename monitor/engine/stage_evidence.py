"""Why a stage was chosen, as facts a person can read and check with a meter."""

from __future__ import annotations

from typing import Final

from monitor.engine.duration import duration
from monitor.engine.features import Features
from monitor.engine.hold import Memory
from monitor.engine.setpoints import Level, SetPoints
from monitor.engine.snapshot import Fact, Stage

#: A source that holds this much else than it was said to, volts per cell, is reported (common
#: practice: 50 mV on a 12 V bank is within the sensors' errors, 100 mV is not).
MISSET: Final = 0.015
#: Volts between source and posts that are worth a word.
LEADS_SHOWN: Final = 0.03
#: Log odds from which it is said that a source holds one voltage, and deviations from which volts
#: are said to rise or fall.
ODDS_LIKELY: Final = 2.0
STEEP_SIGMAS: Final = 3.0


def explain(
    stage: Stage,
    since: float,
    f: Features,
    points: SetPoints,
    memory: Memory,
    amp_hours: float,
    probabilities: list[float],
) -> tuple[Fact, ...]:
    """The facts behind the chosen stage, the most telling first."""
    facts: list[Fact] = []
    level = _level(stage, points)
    volts = (f.cell + f.shift) * points.cells
    amps = (f.amps + f.zero) * amp_hours
    if f.opened:
        facts.append(_opened(f, volts, points.cells))
    if level is not None:
        target = (level.mean + f.shift) * points.cells
        facts.append(_held(stage, f, target, points.cells, since, memory, amp_hours))
        facts.extend(_misset(stage, level, points.cells))
    else:
        facts.append(_free(stage, volts, amps, f))
    if memory.fixed_odds > ODDS_LIKELY and stage is Stage.FIXED:
        facts.append(
            Fact("source of one voltage", "it has held this one level before and gone no higher")
        )
    elif stage in (Stage.BULK, Stage.FIXED) and min(probabilities[2], probabilities[6]) > 0.05:
        facts.append(
            Fact(
                "bulk or fixed",
                "below its voltage a source that never stages looks just like bulk",
                (("bulk", probabilities[2]), ("fixed", probabilities[6])),
            )
        )
    if abs(f.zero) > 2.0 * f.zero_sd:
        zero = f.zero * amp_hours
        facts.append(
            Fact("sensor zero", f"current reads {zero:+.2f} A when none flows", (("amps", zero),))
        )
    if f.reported is not None:
        facts.append(Fact("reported stage", f"the source says {f.reported} of itself"))
    return tuple(facts)


def _level(stage: Stage, points: SetPoints) -> Level | None:
    match stage:
        case Stage.ABSORPTION:
            return points.absorption
        case Stage.FLOAT:
            return points.float_
        case Stage.FIXED:
            return points.fixed
        case _:
            return None


def _opened(f: Features, volts: float, cells: int) -> Fact:
    if f.permitted is False:
        return Fact("charge side open", "the bank's protection says its charge side is open")
    ends = volts + (f.held - f.cell) * cells
    return Fact(
        "source parted from bank",
        f"the source stands at {ends:.2f} V, the posts at {volts:.2f} V, and no current flows",
        (("source_volts", ends), ("volts", volts)),
    )


def _held(
    stage: Stage, f: Features, target: float, cells: int, since: float, memory: Memory, amps: float
) -> Fact:
    volts = (f.cell + f.shift) * cells
    now = (f.amps + f.zero) * amps
    ends = (f.held + f.shift) * cells
    figures: tuple[tuple[str, float], ...]
    figures = (("volts", volts), ("amps", now), ("set_point_volts", target))
    aim = f"compensated {stage.value} set-point {target:.2f} V"
    at_source = ""
    if f.measured and ends - volts > LEADS_SHOWN:
        at_source = f" ({ends:.2f} V at the source)"
        figures = (*figures, ("source_volts", ends))
    if memory.seconds > 0.0 and memory.idle == 0.0:
        words = (
            f"held {volts:.2f} V{at_source} for {duration(min(memory.seconds, f.seconds - since))} "
            f"while current went {memory.start_amps * amps:.1f} -> {now:.1f} A; {aim}"
        )
    elif volts > target:
        words = f"{volts:.2f} V, {now:.1f} A, on the way down to {target:.2f} V; {aim}"
    else:
        words = f"{volts:.2f} V{at_source}, {now:.1f} A; {aim}"
    return Fact("held voltage", words, figures)


def _misset(stage: Stage, level: Level, cells: int) -> list[Fact]:
    if level.given is None or abs(level.mean - level.given) < MISSET:
        return []
    seen = level.mean * cells
    given = level.given * cells
    return [
        Fact(
            "set-point differs",
            f"{stage.value} is held at {seen:.2f} V (25 °C), configured {given:.2f} V",
            (("seen_volts", seen), ("configured_volts", given)),
        )
    ]


def _free(stage: Stage, volts: float, amps: float, f: Features) -> Fact:
    if f.drift_sigmas > STEEP_SIGMAS:
        trend = "rising"
    elif f.drift_sigmas < -STEEP_SIGMAS:
        trend = "falling"
    else:
        trend = "steady"
    words = {
        Stage.REST: f"no current beyond the sensor's error, {volts:.2f} V {trend}",
        Stage.DISCHARGE: f"{amps:.1f} A net, {volts:.2f} V {trend}: nothing holds the voltage",
        Stage.BULK: f"{amps:.1f} A at {volts:.2f} V {trend}, below any level a source holds",
        Stage.EQUALIZE: f"{amps:.1f} A at {volts:.2f} V {trend}, above absorption",
    }.get(stage, f"{amps:.1f} A at {volts:.2f} V")
    return Fact("no level held", words, (("volts", volts), ("amps", amps)))
