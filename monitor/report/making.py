"""All that a report is made from, in one value: what it prints depends on nothing else."""

from __future__ import annotations

from dataclasses import dataclass

from monitor.commission.record import CommissionRecord
from monitor.report.curve import Bin
from monitor.report.seal import Seal


@dataclass(frozen=True, slots=True)
class Charge:
    """The recording at a glance: `edges` of its bins in feed seconds, one more than `bins`."""

    edges: tuple[float, ...]
    bins: tuple[Bin, ...]
    wall_offset: float | None


@dataclass(frozen=True, slots=True)
class Making:
    """`charge` None: no recording was there to look at. `changed` is what the recording, replayed
    for this report, came to that the record does not say; `whole`: with the earlier recordings of
    a commissioning that was gone on with."""

    record: CommissionRecord
    seal: Seal
    charge: Charge | None = None
    changed: tuple[str, ...] = ()
    whole: bool = False

    @property
    def zone(self) -> int:
        return self.seal.zone
