"""The whole chain behind one bank's figures at one moment: what each room holds, as plain data.

What the snapshot already tells (the evidence of the stage, intervals, alarms) is not told again:
these are the figures between the devices' words and the snapshot's. Nothing is formatted here.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any, Final

from adapters.reading import QUANTITIES
from monitor.engine.as_of import why_not_now
from monitor.engine.by_hour import HOURS
from monitor.engine.duration import duration
from monitor.engine.parts import CHANCE, Item, Part
from monitor.engine.snapshot import Stage
from monitor.engine.stage_order import STAGES
from monitor.engine.stored import stored
from monitor.engine.unknowns import (
    ACCEPTANCE,
    CAPACITY,
    GASSING,
    POLARISATION,
    POWER,
    SAG,
    SOC,
)

if TYPE_CHECKING:
    from monitor.engine.charge import ChargeFilter
    from monitor.engine.engine import Engine
    from monitor.engine.panel import Panel
    from monitor.engine.rooms import BankRooms
    from monitor.engine.setpoints import Level
    from monitor.engine.signal import Signal
    from monitor.engine.slopes import Horizon

HOUR_SECONDS: Final = 3600.0
#: A slope of the current this many deviations from nothing lets volts be held against it.
MOVED: Final = 2.0
STAGE_WORDS: Final = "what the source is doing; weights are natural logarithms, 2.3 is ten to one"


def chain(engine: Engine, bank_id: str) -> tuple[Part, ...]:
    """The rooms of one bank in the order of the data; KeyError if there is no such bank."""
    for rooms in engine.banks:
        if rooms.bank.id == bank_id:
            break
    else:
        raise KeyError(bank_id)
    now = engine.seconds or 0.0
    volts, amps = rooms.given.volts.measured(now), rooms.given.amps.measured(now)
    unread = why_not_now(volts, amps)
    then = f"; as of then: {unread}" if unread else ""
    said = Part("said", "what each device said last", tuple(_said(engine, rooms, now)))
    if not rooms.started:
        return (said,)
    return (
        said,
        Part("signal", "readings cleaned, and where they head" + then, tuple(_signal(rooms))),
        Part("stage", STAGE_WORDS + then, tuple(_stage(rooms))),
        Part("set-points", "levels that sources hold, at 25 °C", tuple(_set_points(rooms))),
        Part(
            "charge",
            "what the charge filter believes of the bank" + then,
            tuple(_charge(rooms, now)),
        ),
        Part("forecast", "the same circuit run forward", tuple(_forecast(rooms, now, unread))),
        _by_hour(rooms),
        Part("conditions", "what is judged abnormal, or about to be", tuple(_conditions(rooms))),
    )


def _said(engine: Engine, rooms: BankRooms, now: float) -> Iterator[Item]:
    owners = {rooms.bank.id, *(room.source.id for room in rooms.sources)}
    for device in engine.alignment.devices.values():
        for channel, given in device.given.items():
            owner = channel.owner.partition("#")[0]
            if given is None or not given.heard or owner not in owners:
                continue
            properties = QUANTITIES[channel.quantity]
            yield Item(
                f"{device.name}: {channel.owner} {properties.words}",
                given.figure,
                "" if properties.unit == "text" else properties.unit,
                age_seconds=max(0.0, now - given.seconds),
            )


def _signal(rooms: BankRooms) -> Iterator[Item]:
    signal, f = rooms.signal, rooms.stage.features
    cells, amp_hours = rooms.bank.cells, rooms.bank.amp_hours
    yield Item("volts over 8 s", signal.fast_volts, "V", words="started anew by a load step")
    yield Item("current over 8 s", signal.fast_amps, "A")
    yield Item("noise of one reading", signal.noise_volts, "V")
    yield Item("noise of one reading", signal.noise_amps, "A")
    for name, line in (("a minute", signal.minute), ("ten minutes", signal.long)):
        yield _slope(f"slope of volts over {name}", line.slope_volts, line, signal.noise_volts, "V")
        yield _slope(f"slope of current over {name}", line.slope_amps, line, signal.noise_amps, "A")
    yield _volts_by_amps(signal)
    ohms = f.step_ohm * cells / amp_hours
    yield Item("dV/dI that the bank itself would show", 1e3 * ohms, "mohm")
    words = "above nothing: they were held; below: they followed the current"
    yield Item("volts held or followed", f.keeps, words=words)
    yield Item("current wandered, as the sun's does", f.wanders, words="0 to 1")
    if signal.source_rise is not None:
        yield Item("source above the posts", signal.source_rise, "V")
    yield Item(
        "current that the sensor shows for none", f.zero * amp_hours, "A", f.zero_sd * amp_hours
    )
    yield Item("readings not believed", float(signal.dropped))


def _slope(name: str, slope: float, line: Horizon, noise: float, unit: str) -> Item:
    sd = math.sqrt(line.spread) * noise * HOUR_SECONDS
    if line.weight < 2.0 or not math.isfinite(sd) or line.spread >= line.UNKNOWN:
        return Item(name, None, f"{unit}/h", words="just begun")
    return Item(name, slope * HOUR_SECONDS, f"{unit}/h", sd)


def _volts_by_amps(signal: Signal) -> Item:
    """The slope of volts against current over the last ten minutes."""
    line = signal.long
    name = "dV/dI over ten minutes"
    sd_amps = math.sqrt(line.spread) * signal.noise_amps
    if abs(line.slope_amps) < MOVED * sd_amps:
        return Item(name, None, "mohm", words="the current did not move enough to tell")
    ratio = line.slope_volts / line.slope_amps
    sd = math.hypot(math.sqrt(line.spread) * signal.noise_volts, ratio * sd_amps)
    return Item(name, 1e3 * ratio, "mohm", 1e3 * sd / abs(line.slope_amps))


def _stage(rooms: BankRooms) -> Iterator[Item]:
    stage, memory = rooms.stage, rooms.stage.memory
    for each, chance, nats in zip(Stage, stage.probabilities, stage.scores.now, strict=True):
        yield Item(each.value, chance, CHANCE, words=f"weight of the last look {nats:+.1f}")
    yield Item("a source holds a voltage", stage.regulating, CHANCE)
    if memory.held >= 0:
        held = STAGES[memory.held].value
        yield Item(f"last seen held: {held}", memory.seconds, "s", words="flat for so long")
        yield Item("since then not held", memory.idle, "s")
    yield Item("taken out since nearly full", memory.lost * rooms.bank.amp_hours, "Ah")
    yield Item("a source of one voltage only", memory.fixed_belief, CHANCE)
    if stage.taper_seconds is not None:
        yield Item("time constant of the taper", stage.taper_seconds, "s")
    if stage.taper_floor is not None:
        yield Item("current that the taper heads for", stage.taper_floor, "A")


def _set_points(rooms: BankRooms) -> Iterator[Item]:
    points = rooms.stage.set_points
    for name, level in (
        ("absorption", points.absorption),
        ("float", points.float_),
        ("low hold", points.low_hold),
        ("equalize", points.equalize),
        ("fixed", points.fixed),
    ):
        if level.start_sd > 0.0 or level.seen > 0.0:
            yield _level(name, level, points.cells)
    shift = rooms.stage.features.shift * points.cells
    yield Item("compensation adds now", shift, "V")


def _level(name: str, level: Level, cells: int) -> Item:
    came = "as configured" if level.given is not None else "usual for the chemistry"
    seen = f"seen held for {level.seen / HOUR_SECONDS:.1f} h" if level.seen else "never seen held"
    return Item(name, level.mean * cells, "V", level.sd * cells, f"{came}; {seen}")


def _charge(rooms: BankRooms, now: float) -> Iterator[Item]:
    charge, cells = rooms.charge, rooms.bank.cells
    belief = charge.belief
    mean, sd = belief.mean, belief.sd
    yield Item("fraction of charge", charge.soc, "", sd(SOC))
    yield Item("slow polarisation", mean[POLARISATION] * cells, "V", sd(POLARISATION) * cells)
    yield _log("usable capacity", charge.capacity_ah, "Ah", sd(CAPACITY))
    in_it = stored(belief, charge.soc, charge.capacity_ah)
    yield Item("charge times capacity", in_it.figure, "Ah", in_it.sd)
    words = "taken off before counting"
    yield Item(
        "offset of the current sensor", charge.offset_amps, "A", charge.offset_amps_sd, words
    )
    per_rate = cells / charge.capacity_ah
    ohmic = 1e3 * charge.circuit.ohmic * per_rate
    yield Item("resistance of the circuit", ohmic, "mohm", words="by chemistry or learned")
    ohms = charge.resistance.view()
    yield Item("resistance by load steps at 25 °C", ohms.figure, "mohm", ohms.sd, ohms.reason)
    acceptance = 1e3 * math.exp(mean[ACCEPTANCE]) * per_rate
    yield _log("what missing charge puts in the way", acceptance, "mohm", sd(ACCEPTANCE))
    yield Item("power of the missing charge in that", mean[POWER], "", sd(POWER))
    gassing = math.exp(mean[GASSING]) * charge.capacity_ah
    if rooms.bank.chemistry.lead:
        yield _log("current that makes gas at 2.40 V a cell", gassing, "A", sd(GASSING))
    yield _log("slow sag over the usual", math.exp(mean[SAG]), "", sd(SAG))
    yield Item("net current that ends a charge", charge.expected_end_amps(), "A")
    yield _last_full(charge, now)


def _log(name: str, figure: float, unit: str, sd: float) -> Item:
    """A figure whose logarithm is believed."""
    return Item(name, figure, unit, figure * sd)


def _last_full(charge: ChargeFilter, now: float) -> Item:
    if charge.last_full is None:
        return Item("last full", None, "s", words="not seen yet")
    words = "" if charge.full_amps is None else f"ago, at {charge.full_amps:.1f} A"
    return Item("last full", now - charge.last_full, "s", words=words)


def _forecast(rooms: BankRooms, now: float, unread: str) -> Iterator[Item]:
    if unread:
        yield from (Item(name, None, "h", words=unread) for name in ("to full", "left"))
        return
    view = rooms.forecast.view(now)
    for name, interval in (("to full", view.to_full), ("left", view.left)):
        if interval.seconds is None:
            yield Item(name, None, "s", words=interval.reason)
            continue
        low, high = interval.low, interval.high
        between = ""
        if low is not None and high is not None:
            between = f"{duration(low)} to {duration(high)}"
        yield Item(name, interval.seconds, "s", words=between)
    recall = rooms.forecast.recall
    words = "remembered, so that its own taper is looked up" if recall.charges else "seen to full"
    yield Item("earlier charges", float(recall.charges), words=words)
    for words in view.assumptions:
        yield Item("assumed", words)


def _by_hour(rooms: BankRooms) -> Part:
    by_hour = rooms.by_hour
    tracks = (("load", by_hour.loads()), ("sun", by_hour.suns()))
    items = tuple(
        Item(f"{name} by hour", None, "W", words="no whole hour seen yet")
        for name, hourly in tracks
        if hourly is None
    )
    clock = "" if by_hour.dated else ", counted from the start: the clock is not known"
    return Part(
        "by hour",
        f"what is usual at each of the {HOURS} hours of a day{clock}",
        items,
        tuple((name, hourly) for name, hourly in tracks if hourly is not None),
    )


def _conditions(rooms: BankRooms) -> Iterator[Item]:
    judged = 0
    panels: list[Panel[Any]] = [rooms.panel, *rooms.source_panels]
    for panel in panels:
        for alarm in panel.alarms:
            judged += 1
            if not (alarm.present or alarm.pending or alarm.listed):
                continue
            figure = alarm.figure_of(panel.watch)
            delay = alarm.condition.off_delay if alarm.present else alarm.condition.on_delay
            words = f"limit {alarm.limit_of(panel.watch):.4g}, {alarm.state}"
            if alarm.pending:
                words += f", for {alarm.pending:.0f} of {delay:.0f} s"
            yield Item(alarm.key, figure, words=words)
    yield Item("conditions judged", float(judged))
