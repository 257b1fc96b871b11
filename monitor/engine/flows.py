"""What the loads draw and the sun gives right now, in watts, as far as the devices can tell.

Loads are what a device says they are, else sources less bank. A source that nothing measures counts
as giving nothing while the bank discharges or rests, unless it is a panel and the sun is up: then
neither figure is known, and None says so. Nor is the load where more flows into the bank than all
sources give.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, NamedTuple

from adapters.reading import Quantity
from monitor.bank import Site, SourceKind
from monitor.engine import daylight
from monitor.engine.snapshot import Stage
from monitor.engine.unmeasured import unmeasured_amps

if TYPE_CHECKING:
    from monitor.engine.align import BankAlignment
    from monitor.engine.by_hour import ByHour
    from monitor.engine.charge import ChargeFilter
    from monitor.engine.signal import Signal
    from monitor.engine.stage import StageFilter

#: No source that nothing measures gives anything in these.
IDLE: Final = (Stage.DISCHARGE, Stage.REST)


class Flows(NamedTuple):
    """`held`: a source holds its voltage, so the sun may give less than it could."""

    load_watts: float | None
    sun_watts: float | None
    held: bool


class _Given(NamedTuple):
    """Amps of the sources: the sum of those known, and whether any is not; of panels alike."""

    amps: float
    unknown: bool
    sun_amps: float
    sun_unknown: bool
    panels: bool
    only_panels: bool


def flows(
    given: BankAlignment,
    signal: Signal,
    stage: StageFilter,
    charge: ChargeFilter,
    by_hour: ByHour,
    dark: bool | None,
) -> Flows:
    """As of the last reading; `dark` None where nobody knows whether the sun is up."""
    volts = signal.slow_volts
    net = signal.slow_amps - charge.offset_amps
    idle = stage.stage in IDLE
    sources = _sources(given)
    load: float | None = given.slots[Quantity.LOAD_AMPS].number(signal.seconds)
    if load is None and (not sources.unknown or (idle and not (sources.sun_unknown and not dark))):
        load = None if _more_than_measured(given, net) else sources.amps - net
    sun: float | None = None
    if sources.panels and not sources.sun_unknown:
        sun = sources.sun_amps
    elif sources.panels and dark:
        sun = 0.0
    elif sources.panels and sources.only_panels and not idle:
        usual = by_hour.usual_watts(signal.seconds)
        if usual is not None:
            sun = net + usual / volts
    return Flows(
        None if load is None else load * volts,
        None if sun is None else sun * volts,
        stage.regulating > 0.5,
    )


def _more_than_measured(given: BankAlignment, net: float) -> bool:
    """Something gives that nobody measures: so say the last figures, and the slow ones too, so that
    a source that comes or goes is not taken for it."""
    inputs, label = given.inputs, given.bank.amp_hours
    known = [amps for amps in inputs.source_amps if amps is not None]
    return bool(
        inputs.amps is not None
        and unmeasured_amps(known, inputs.amps, label)
        and unmeasured_amps(known, net, label)
    )


def _sources(given: BankAlignment) -> _Given:
    amps = sun_amps = 0.0
    unknown = sun_unknown = panels = False
    only_panels = bool(given.sources)
    for source, figure in zip(given.sources, given.inputs.source_amps, strict=True):
        solar = source.source.kind is SourceKind.SOLAR
        panels = panels or solar
        only_panels = only_panels and solar
        if figure is None:
            unknown = True
            sun_unknown = sun_unknown or solar
        else:
            amps += figure
            sun_amps += figure if solar else 0.0
    # without any source told of, whatever charges is one that nothing measures
    return _Given(amps, unknown or not given.sources, sun_amps, sun_unknown, panels, only_panels)


def is_dark(site: Site, seconds: float, wall_offset: float | None) -> bool | None:
    """Whether the sun is down, None where place or clock are not known."""
    if site.latitude is None or site.longitude is None or wall_offset is None:
        return None
    return not daylight.up(daylight.Place(site.latitude, site.longitude), seconds + wall_offset)
