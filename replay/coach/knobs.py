"""What a fault does: small functions that turn the plant's knobs, and makers of such functions.

Each is given the plant and the hours since the fault began, again and again. The figures are
chosen to be seen without being absurd (common practice where not said). The table of faults that
uses them is `replay.coach.faults`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace

from replay.coach.lead import LeadBank
from replay.coach.lfp import LithiumBank
from replay.coach.plant import Plant
from replay.coach.sensors import Sensor
from replay.coach.sources import Source

Apply = Callable[[Plant, float], None]


def sensors(plant: Plant, quantity: str) -> Iterable[Sensor]:
    return [sensor for device in plant.devices for sensor in device.sensor(quantity)]


def grown(hours: float, over_hours: float, start: float, end: float) -> float:
    """Straight from `start` to `end` over so many hours, then constant."""
    return start + (end - start) * min(max(hours / over_hours, 0.0), 1.0)


def twelves(plant: Plant) -> float:
    return plant.scenario.bank.nominal_volts / 12.0


def rate(plant: Plant, share: float) -> float:
    """Amps that are this share of the label's amp-hours."""
    return share * plant.scenario.bank.amp_hours


def watts(plant: Plant, amps: float) -> float:
    return amps * 12.6 * twelves(plant)


def once(plant: Plant, name: str) -> bool:
    """True the first time only."""
    if name in plant.done:
        return False
    plant.done.add(name)
    return True


# -- what the instruments say -------------------------------------------------------------------


def scaled(quantity: str, factor: float) -> Apply:
    def apply(plant: Plant, hours: float) -> None:
        del hours
        for sensor in sensors(plant, quantity):
            sensor.scale = sensor.model.scale * factor

    return apply


def shifted(quantity: str, by: Callable[[Plant], float]) -> Apply:
    def apply(plant: Plant, hours: float) -> None:
        del hours
        for sensor in sensors(plant, quantity):
            sensor.offset = sensor.model.offset + by(plant)

    return apply


def marked(quantity: str, knob: str) -> Apply:
    def apply(plant: Plant, hours: float) -> None:
        del hours
        for sensor in sensors(plant, quantity):
            setattr(sensor, knob, True)

    return apply


def device(position: int, knob: str, value: float) -> Apply:
    def apply(plant: Plant, hours: float) -> None:
        del hours
        setattr(plant.devices[position], knob, value)

    return apply


def silent_for_hours(plant: Plant, hours: float) -> None:
    plant.devices[0].silent = hours < 3.0


def clock_jumps(plant: Plant, hours: float) -> None:
    del hours
    if once(plant, "clock"):
        plant.wall_offsets.append(plant.scenario.start_unix + 5400.0)


# -- the sources --------------------------------------------------------------------------------


def source(change: Callable[[Plant, Source, float], None], position: int = 0) -> Apply:
    def apply(plant: Plant, hours: float) -> None:
        change(plant, plant.sources[position], hours)

    return apply


def knob(name: str, value: object, position: int = 0) -> Apply:
    return source(lambda _, source, __: setattr(source, name, value), position)


def moved_per_12(volts: float, position: int = 0) -> Apply:
    def change(plant: Plant, source: Source, hours: float) -> None:
        del hours
        source.trim_volts = volts * twelves(plant)

    return source(change, position)


def limited(share_of_rating: float) -> Apply:
    def change(plant: Plant, source: Source, hours: float) -> None:
        del plant, hours
        source.limit = source.model.rated_amps * share_of_rating

    return source(change)


def joint(plant: Plant, source: Source, hours: float) -> None:
    del plant
    source.milliohms = source.model.milliohms + grown(hours, 12.0, 0.0, 14.0)


def float_moved(volts: float) -> Apply:
    def change(plant: Plant, source: Source, hours: float) -> None:
        del hours
        usual = source.model.settings
        if usual.float_ is not None:
            source.settings = replace(usual, float_=usual.float_ + volts * twelves(plant))

    return source(change)


def becomes_fixed(plant: Plant, source: Source, hours: float) -> None:
    del hours
    volts = 14.4 * twelves(plant)
    source.settings = replace(source.model.settings, absorption=volts, fixed=True)
    if source.on:
        source.stage = "fixed"


def no_compensation(plant: Plant, source: Source, hours: float) -> None:
    del plant, hours
    source.compensation_mv = 0.0


def wrong_slope(plant: Plant, source: Source, hours: float) -> None:
    del plant, hours
    source.compensation_mv = -source.model.settings.compensation_mv


def equalizes(endless: bool) -> Callable[[Plant, Source, float], None]:
    def change(plant: Plant, source: Source, hours: float) -> None:
        del hours
        source.settings = replace(
            source.model.settings,
            equalize=15.6 * twelves(plant),
            equalize_amps=rate(plant, 0.05),
        )
        source.never_ends = endless
        if source.stage in ("absorption", "float") and once(plant, "equalize"):
            source.equalize_now()

    return change


def comes_and_goes(plant: Plant, source: Source, hours: float) -> None:
    del plant
    source.dead = hours % 1.5 < 0.75


def short_absorption(plant: Plant, source: Source, hours: float) -> None:
    del plant, hours
    source.settings = replace(source.model.settings, absorption_hours=0.1, end_amps=None)


def too_small(plant: Plant, source: Source, hours: float) -> None:
    del hours
    source.limit = rate(plant, 0.03)
    plant.loads.standing_watts = watts(plant, rate(plant, 0.02))


def bypasses(plant: Plant, source: Source, hours: float) -> None:
    del hours
    plant.bypassing.add(source.id)


# -- loads and weather --------------------------------------------------------------------------


def standing(share: float) -> Apply:
    def apply(plant: Plant, hours: float) -> None:
        del hours
        plant.loads.standing_watts = watts(plant, rate(plant, share))

    return apply


def around_the_shunt(plant: Plant, hours: float) -> None:
    del hours
    if once(plant, "hidden"):
        plant.loads.hidden_watts += watts(plant, rate(plant, 0.04))


def heavy_inverter(plant: Plant, hours: float) -> None:
    on = hours % 4.0 < 0.2
    plant.loads.standing_watts = watts(plant, rate(plant, 1.2)) if on else 0.0


def weather(celsius: float, cooling: float = 3.0) -> Apply:
    def apply(plant: Plant, hours: float) -> None:
        plant.sky.warmer = grown(hours, 2.0, 0.0, celsius)
        plant.bank.cooling = cooling

    return apply


def cold_and_empty(plant: Plant, hours: float) -> None:
    plant.sky.warmer = grown(hours, 3.0, 0.0, -45.0)
    plant.bank.cooling = 3.0
    for source in plant.sources:
        source.dead = True
    plant.loads.standing_watts = watts(plant, rate(plant, 0.04))


def cold_charge(plant: Plant, hours: float) -> None:
    plant.sky.warmer = grown(hours, 1.0, 0.0, -30.0)
    plant.bank.cooling = 4.0
    if plant.protection is not None:
        plant.protection.blind = True


def dim_sun(plant: Plant, hours: float) -> None:
    del hours
    plant.sky.dimmed = 0.12


# -- the bank -----------------------------------------------------------------------------------


def runaway(plant: Plant, hours: float) -> None:
    """A dried-out bank in a closed box: gas recombines as heat faster than it can leave.

    At 70 °C somebody opens the charger's circuit, as one must.
    """
    bank = plant.bank
    if isinstance(bank, LeadBank):
        bank.gas = plant.scenario.bank.gas * grown(hours, 6.0, 1.0, 12.0)
    bank.cooling = grown(hours, 2.0, 1.0, 0.3)
    plant.sky.warmer = grown(hours, 3.0, 0.0, 14.0)
    for source in plant.sources:
        source.compensation_mv = 0.0
        source.never_ends = True
        source.dead = source.dead or bank.celsius > 70.0


def shorted(plant: Plant, hours: float) -> None:
    del hours
    if once(plant, "short"):
        plant.bank.short_a_cell()


def sulfated(plant: Plant, hours: float) -> None:
    del hours
    bank, model = plant.bank, plant.scenario.bank
    bank.capacity, bank.resistance = 0.55 * model.capacity, 2.5 * model.resistance
    if isinstance(bank, LeadBank):
        bank.acceptance = 1.8 * model.acceptance


def halves_drift(plant: Plant, hours: float) -> None:
    plant.half_difference = grown(hours, 10.0, 0.0, 0.25) * twelves(plant)


def cells_drift(plant: Plant, hours: float) -> None:
    if isinstance(plant.bank, LithiumBank):
        plant.bank.lead = plant.bank.lag = grown(hours, 4.0, 0.0, 0.05)


def self_discharge(plant: Plant, hours: float) -> None:
    del hours
    plant.bank.losing = 150.0


def side_open(knob: str, for_hours: float) -> Apply:
    def apply(plant: Plant, hours: float) -> None:
        if plant.protection is not None:
            setattr(plant.protection, knob, hours < for_hours)

    return apply


def kept_full(plant: Plant, hours: float) -> None:
    plant.sky.warmer = grown(hours, 2.0, 0.0, 18.0)
    for source in plant.sources:
        source.settings = replace(source.settings, float_=source.settings.absorption)


# -- the AC side --------------------------------------------------------------------------------


def supply(knob: str, value: float) -> Apply:
    def apply(plant: Plant, hours: float) -> None:
        del hours
        if plant.supply is not None:
            setattr(plant.supply, knob, value)

    return apply


def supply_volts(share: float) -> Apply:
    def apply(plant: Plant, hours: float) -> None:
        del hours
        if plant.supply is not None:
            plant.supply.source_volts = plant.supply.model.volts * share

    return apply


def lost_neutral(plant: Plant, hours: float) -> None:
    """The two legs share by what is switched on: this one swings far to both sides."""
    if plant.supply is not None:
        high = int(hours * 4.0) % 2 == 0
        plant.supply.source_volts = plant.supply.model.volts * (1.28 if high else 0.80)
