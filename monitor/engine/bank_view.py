"""One bank as a screen may see it: built from its rooms when somebody looks, changing nothing."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from monitor.engine import conditions
from monitor.engine.as_of import why_not_now
from monitor.engine.overrides import switched_off
from monitor.engine.rooms import BankRooms
from monitor.engine.snapshot import (
    BankView,
    ChargeView,
    Estimate,
    Fact,
    ForecastView,
    Glance,
    Interval,
    StageView,
)

NO_READING: Final = "no reading of volts and amps yet"
_UNKNOWN: Final = Estimate(None, None, NO_READING)


def glance(rooms: BankRooms, now: float) -> Glance:
    given = rooms.given
    volts = given.volts.number(now)
    amps = given.amps.number(now)
    celsius = given.celsius.number(now)
    if not rooms.started:
        return Glance(now, volts, amps, celsius, None, None, None, None, None, None)
    charge = rooms.charge
    to_full = rooms.forecast.to_full_now(now)
    return Glance(
        now,
        volts,
        amps,
        celsius,
        rooms.stage.stage,
        charge.soc,
        charge.soc_sd,
        to_full.seconds,
        to_full.low,
        to_full.high,
    )


def view(rooms: BankRooms, now: float) -> BankView:
    bank = rooms.bank
    given = rooms.given
    return BankView(
        id=bank.id,
        chemistry=bank.chemistry.name,
        nominal_volts=bank.nominal_volts,
        amp_hours=bank.amp_hours,
        lowest_soc=bank.lowest_soc,
        volts=given.volts.measured(now),
        amps=given.amps.measured(now),
        celsius=given.celsius.measured(now),
        load_amps=given.loads(now),
        set_points=rooms.stage.set_points_view(_celsius(rooms, now)),
        stage=_stage_view(rooms) if rooms.started else _no_stage(rooms),
        charge=rooms.charge.view() if rooms.started else _no_charge(),
        forecast=_forecast(rooms, now),
        warnings=tuple(_warnings(rooms, now)),
        learned=(*rooms.ledger.view(rooms.sources), *rooms.by_hour.view()),
    )


def _stage_view(rooms: BankRooms) -> StageView:
    """The stage; where a source was seen parted from the bank, that is its first evidence."""
    view = rooms.stage.view()
    parted = tuple(room.parted_fact(rooms.signal.volts) for room in rooms.sources if room.parted)
    if not parted:
        return view
    told = rooms.given.inputs.charge_permitted is False
    rest = tuple(fact for fact in view.evidence if told or fact.rule != "charge side open")
    return replace(view, evidence=(*parted, *rest))


def _celsius(rooms: BankRooms, now: float) -> float | None:
    return rooms.signal.celsius if rooms.given.celsius.number(now, 600.0) is not None else None


def _no_stage(rooms: BankRooms) -> StageView:
    view = rooms.stage.view()
    return StageView(
        view.stage,
        view.probability,
        view.probabilities,
        view.since_seconds,
        (Fact("no-reading", NO_READING),),
    )


def _no_charge() -> ChargeView:
    return ChargeView(_UNKNOWN, _UNKNOWN, _UNKNOWN, _UNKNOWN, _UNKNOWN, None, ())


def _forecast(rooms: BankRooms, now: float) -> ForecastView:
    """Nothing is counted down from what is not known now."""
    given = rooms.given
    unknown = why_not_now(given.volts.measured(now), given.amps.measured(now))
    if rooms.started and not unknown:
        return rooms.forecast.view(now)
    none = Interval(None, None, None, unknown if rooms.started else NO_READING)
    return ForecastView(none, none, ())


def _warnings(rooms: BankRooms, now: float) -> list[Fact]:
    """What a person should know before believing the figures."""
    facts: list[Fact] = []
    given = rooms.given
    for slot, words in ((given.volts, "voltage"), (given.amps, "current")):
        measured = slot.measured(now)
        if measured.figure is None:
            text = f"bank {words}: {measured.reason}; stage and charge are as of then"
            facts.append(Fact("stale", text))
    celsius = given.celsius.measured(now)
    if celsius.figure is None and _celsius(rooms, now) is None:
        text = f"bank temperature: {celsius.reason}; set-points are those of 25 °C"
        facts.append(Fact("no-temperature", text))
    if rooms.bank.set_points.absorption is None:
        facts.append(Fact("set-points-unknown", "set-points are not configured: learned"))
    off = switched_off(conditions.BANK, rooms.site, rooms.bank.id)
    for room in rooms.sources:
        off += switched_off(conditions.SOURCE, rooms.site, room.source.id)
    if off:
        names = ", ".join(dict.fromkeys(off))
        facts.append(Fact("switched-off", f"not judged, as the config says: {names}"))
    return facts
