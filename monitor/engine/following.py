"""A minute of a bank put together from its rooms, and given to everything that follows it."""

from __future__ import annotations

from collections.abc import Sequence

from adapters.reading import Quantity
from monitor.engine.align import BankAlignment
from monitor.engine.charge import ChargeFilter
from monitor.engine.minute import Minute, SourceMinute
from monitor.engine.source import SourceRoom
from monitor.engine.stage import StageFilter
from monitor.engine.watch import SURE, BankWatch


def follow(
    watch: BankWatch,
    given: BankAlignment,
    stage: StageFilter,
    charge: ChargeFilter,
    sources: Sequence[SourceRoom],
    elapsed: float,
    load_watts: float | None,
) -> None:
    """`elapsed` judged seconds since the minute before."""
    bank, seconds = watch.bank, watch.seconds
    if seconds is None:
        return
    minute = Minute(
        seconds=seconds,
        elapsed=elapsed,
        volts=watch.minute_volts,
        amps=watch.minute_amps,
        celsius=watch.celsius,
        stage=stage.stage.value,
        sure=watch.probability >= SURE,
        soc=charge.soc,
        soc_sd=charge.soc_sd,
        capacity=charge.capacity_ah / bank.amp_hours,
        capacity_sd=charge.capacity_ah_sd / bank.amp_hours,
        offset=charge.offset_amps,
        offset_sd=charge.offset_amps_sd,
        last_full=charge.last_full,
        load_watts=load_watts,
        sources=tuple(
            SourceMinute(
                id=room.source.id,
                kind=room.source.kind,
                rated_amps=room.source.rated_amps,
                amps=room.amps,
                reported=room.reported,
                silent=room.silent,
                ac_volts=view.supply[Quantity.AC_VOLTS].number(seconds),
            )
            for room, view in zip(sources, given.sources, strict=True)
        ),
    )
    followed = watch.followed
    celsius = watch.could_be if watch.celsius is None else watch.celsius
    followed.look(minute, minute.volts / bank.cells - stage.set_points.shift(celsius))
    followed.disagreement.look(given, seconds, minute.amps)
    slots = given.slots
    followed.balance.look_at_halves(
        elapsed,
        slots[Quantity.LOWER_HALF_VOLTS].number(seconds),
        slots[Quantity.UPPER_HALF_VOLTS].number(seconds),
    )
    followed.balance.look_at_cells(elapsed, watch.cell.lowest_volts, watch.cell.highest_volts)
