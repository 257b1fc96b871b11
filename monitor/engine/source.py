"""One source seen by itself: its own stage where it has its own figures, its share, its report.

A bank shows what all its sources do together. A source with its own volts and amps gets a stage
filter of its own, and what it says of itself is held against what it is seen to do: a piece of
evidence for a person, never the truth.
"""

from __future__ import annotations

from typing import ClassVar, Final

from monitor.bank import Bank, Source
from monitor.engine.align import BankInputs, SourceAlignment
from monitor.engine.joint import Joint
from monitor.engine.signal import Signal
from monitor.engine.snapshot import SourceView, Stage
from monitor.engine.stage import StageFilter

#: What a source may call itself while we see another stage, without that being a contradiction.
#: A source's "off" is the bank's rest or discharge; bulk and absorption overlap at the change.
AGREES: Final = {
    "off": frozenset({Stage.REST, Stage.DISCHARGE}),
    "rest": frozenset({Stage.REST, Stage.DISCHARGE}),
    "bulk": frozenset({Stage.BULK, Stage.DISCHARGE}),
    "absorption": frozenset({Stage.ABSORPTION}),
    "float": frozenset({Stage.FLOAT, Stage.REST}),
    "equalize": frozenset({Stage.EQUALIZE}),
    "fixed": frozenset({Stage.FIXED, Stage.FLOAT, Stage.ABSORPTION, Stage.BULK}),
}
SURE: Final = 0.9


class SourceRoom:
    """One source: `update` at its own readings, `look` once a minute with its bank's means."""

    KEPT: ClassVar[tuple[str, ...]] = (
        "signal",
        "filter",
        "joint",
        "seen",
        "amps",
        "rise",
        "idle",
        "reported",
        "contrary_seconds",
        "_sum_rise",
        "_rises",
        "_sum_amps",
        "_amps",
        "_sum_net",
    )

    def __init__(self, source: Source, bank: Bank, alone: bool) -> None:
        self.source = source
        self.bank = bank
        #: The bank's only source: then its net current is this one's, less the loads.
        self.alone = alone
        self.signal = Signal(bank, (source,))
        self.filter = StageFilter(bank, (source,))
        self.joint = Joint(bank)
        #: True once the source's own stage has been worked out.
        self.seen = False
        self.amps: float | None = None
        #: Volts at the source above those at the posts; None while not measured.
        self.rise: float | None = None
        self.idle = False
        self.reported: str | None = None
        self.contrary_seconds = 0.0
        self._sum_rise = 0.0
        self._rises = 0
        self._sum_amps = 0.0
        self._amps = 0
        self._sum_net = 0.0

    def update(self, inputs: BankInputs, soc: float, soc_sd: float) -> bool:
        """Step on the source's own volts and amps; True where its stage changed."""
        if not self.signal.update(inputs):
            return False
        changed = self.filter.update(self.signal, soc, soc_sd) or not self.seen
        self.seen = True
        return changed

    def forget_set_points(self) -> None:
        """The owner changed what the source is set to."""
        self.filter = StageFilter(self.bank, (self.source,))
        self.seen = False

    def add(self, rise: float | None, amps: float | None, net: float) -> None:
        """One reading of the bank: how far this source stands above it, and what flows."""
        if rise is not None:
            self._sum_rise += rise
            self._sum_net += net
            self._rises += 1
        if amps is not None:
            self._sum_amps += amps
            self._amps += 1

    def look(self, seconds: float, elapsed: float, bank_stage: StageFilter) -> None:
        """Once a minute: means, resistance, and whether the source does what it says."""
        self.amps = self._sum_amps / self._amps if self._amps else None
        if self._rises:
            self.rise = self._sum_rise / self._rises
            net = self._sum_net / self._rises
            amps = self.amps if self.amps is not None else net
            self.idle = abs(amps) < 0.005 * self.bank.amp_hours
            if self.amps is not None or self.alone:
                self.joint.add(seconds, self.rise, amps, self.amps is not None)
        else:
            self.rise = None
        self._sum_rise = self._sum_net = self._sum_amps = 0.0
        self._rises = self._amps = 0
        self._compare(elapsed, bank_stage)

    def _compare(self, elapsed: float, bank_stage: StageFilter) -> None:
        agrees = AGREES.get(self.reported or "")
        inferred = self.inferred(bank_stage)
        if agrees is None or inferred is None or inferred in agrees:
            self.contrary_seconds = 0.0
        else:
            self.contrary_seconds += elapsed

    def inferred(self, bank_stage: StageFilter) -> Stage | None:
        """The source's stage where it is seen surely: by itself, or through its bank if alone."""
        stage_filter = self.filter if self.seen else bank_stage if self.alone else None
        if stage_filter is None or max(stage_filter.probabilities) < SURE:
            return None
        return stage_filter.stage

    def view(self, given: SourceAlignment, now: float) -> SourceView:
        source = self.source
        amps = given.amps.measured(now)
        share = None
        if amps.figure is not None and source.rated_amps:
            share = amps.figure / source.rated_amps
        reported = given.reported_stage.best(now)
        return SourceView(
            id=source.id,
            bank=source.bank,
            kind=str(source.kind),
            rated_amps=source.rated_amps,
            volts=given.volts.measured(now),
            amps=amps,
            share=share,
            reported_stage=None if reported is None else str(reported.figure),
            stage=self.filter.view() if self.seen else None,
        )
