"""Sites and readings of our own invention, for the engine's tests."""

from __future__ import annotations

from adapters.reading import Channel, Quantity, Reading
from monitor.bank import Bank, Link, SetPoints, Site, Source, SourceKind
from monitor.chemistries import CHEMISTRIES

VOLTS = Channel("house", Quantity.BANK_VOLTS)
AMPS = Channel("house", Quantity.BANK_AMPS)
CELSIUS = Channel("house", Quantity.BANK_CELSIUS)
SHORE_VOLTS = Channel("shore", Quantity.SOURCE_VOLTS)
SHORE_AMPS = Channel("shore", Quantity.SOURCE_AMPS)
SHORE_STAGE = Channel("shore", Quantity.REPORTED_STAGE)


def bank(
    chemistry: str = "agm",
    nominal_volts: int = 12,
    amp_hours: float = 200.0,
    lowest_soc: float | None = 0.5,
    set_points: SetPoints | None = None,
) -> Bank:
    if set_points is None:
        set_points = SetPoints(
            absorption=14.4, float_=13.6, compensation_mv_per_celsius_per_cell=-4.0
        )
    return Bank(
        "house",
        CHEMISTRIES[chemistry],
        nominal_volts,
        amp_hours,
        lowest_soc=lowest_soc,
        set_points=set_points,
    )


def site(
    *,
    house: Bank | None = None,
    sources: tuple[str, ...] = (),
    links: tuple[tuple[str, float], ...] = (("shunt", 1.0),),
    rated_amps: float | None = None,
) -> Site:
    return Site(
        (house or bank(),),
        tuple(Source(name, "house", SourceKind.AC_CHARGER, rated_amps) for name in sources),
        tuple(Link(device, period) for device, period in links),
    )


def reading(
    seconds: float,
    volts: float | None = 12.6,
    amps: float | None = 0.0,
    celsius: float | None = 20.0,
    device: str = "shunt",
    more: tuple[tuple[Channel, float | str], ...] = (),
) -> Reading:
    """One poll; what is None is left out, as a device leaves it out."""
    figures = ((VOLTS, volts), (AMPS, amps), (CELSIUS, celsius))
    values = tuple((channel, figure) for channel, figure in figures if figure is not None)
    return Reading(seconds, device, (*values, *more))
