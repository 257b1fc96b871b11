"""One source seen by itself: its own stage where it has its own figures, its share, its report.

A bank shows what all its sources do together. A source with its own volts and amps gets a stage
filter of its own, and what it says of itself is held against what it is seen to do: a piece of
evidence for a person, never the truth. What lies between it and the posts is measured where both
ends are: the resistance of its leads, a joint that goes bad, and that the two are parted.
"""

from __future__ import annotations

from typing import ClassVar, Final

from monitor.bank import Bank, Source, SourceKind
from monitor.engine.align import SourceAlignment
from monitor.engine.bank_inputs import BankInputs
from monitor.engine.device import BEFORE_ALL
from monitor.engine.duration import duration
from monitor.engine.joint import Joint
from monitor.engine.lead import Lead
from monitor.engine.output import Output
from monitor.engine.posts_lead import PostsLead
from monitor.engine.signal import Signal
from monitor.engine.snapshot import Estimate, Fact, SourceView, Stage, StageView
from monitor.engine.stage import StageFilter
from monitor.engine.supply import Supply, shown

#: What a source may call itself while we see another stage, without that being a contradiction.
#: A source's "off" is the bank's rest or discharge; bulk and absorption overlap at the change; one
#: that gives nothing may be in any stage, held off by another source or by the bank itself.
AGREES: Final = {
    "off": frozenset({Stage.REST, Stage.DISCHARGE}),
    "rest": frozenset({Stage.REST, Stage.DISCHARGE}),
    "bulk": frozenset({Stage.BULK, Stage.DISCHARGE, Stage.REST}),
    "absorption": frozenset({Stage.ABSORPTION, Stage.REST}),
    "float": frozenset({Stage.FLOAT, Stage.REST}),
    "equalize": frozenset({Stage.EQUALIZE, Stage.REST}),
    "fixed": frozenset({Stage.FIXED, Stage.FLOAT, Stage.ABSORPTION, Stage.BULK, Stage.REST}),
}
SURE: Final = 0.9
#: A current below this, in C20, is no charging.
IDLE_RATE: Final = 0.005
#: A minute is steady where the current moved by less than this share of itself and this, in C20:
#: the two ends are read seconds apart, and what moved between would pass for resistance.
STEADY_SHARE: Final = 0.05
STEADY_RATE: Final = 0.005
#: A source stands this far above the posts while nothing flows: something between has opened
#: (volts per cell; twice what sensors disagree by in common practice). It stays open, whatever the
#: source does then, until current flows in again or the two have stood alike for so long: a source
#: that falls to float passes the bank's own voltage, which says nothing.
OPEN_VOLTS: Final = 0.02
SHUT_VOLTS: Final = 0.003
SHUT_SECONDS: Final = 300.0
#: ...by their difference averaged over this: meters step by 10 mV.
ABOVE_SECONDS: Final = 60.0
OPEN_RATE: Final = 0.004
#: Readings of the posts no further apart than this have a line between them.
NEIGHBOURS_SECONDS: Final = 30.0
#: A source gives nothing below this share of its rating (else of C20), whatever it is set to: a
#: charger's meter shows as much when it is off (common practice: 0.1 A of 50).
NOTHING: Final = 0.003
#: ...averaged over about a minute (meters step by 0.1 A), after so long; and a terminal below this
#: share of the bank's voltage is dead.
GIVES_SECONDS: Final = 60.0
NOTHING_SECONDS: Final = 120.0
DEAD_SHARE: Final = 0.5


class SourceRoom:
    """One source: `update` at its own readings, `add` at its bank's, `look` once a minute."""

    KEPT: ClassVar[tuple[str, ...]] = (
        "signal",
        "filter",
        "joint",
        "lead",
        "supply",
        "output",
        "seen",
        "amps",
        "rise",
        "idle",
        "parted",
        "dead",
        "silent_seconds",
        "silent_since",
        "reported",
        "contrary_seconds",
        "inferred_name",
        "_above",
        "_alike_seconds",
        "_gives",
        "_heard",
        "_moment",
        "_volts",
        "_volts_at",
        "_sum_rise",
        "_rises",
        "_sum_amps",
        "_amps",
        "_sum_net",
        "_low",
        "_high",
    )

    def __init__(
        self, source: Source, bank: Bank, alone: bool, posts: PostsLead | None = None
    ) -> None:
        self.source = source
        #: What the posts alone tell of its leads, where it is the only source.
        self.posts = posts if alone else None
        self.bank = bank
        #: The bank's only source: then its net current is this one's, less the loads.
        self.alone = alone
        self.signal = Signal(bank, (source,))
        self.filter = StageFilter(bank, (source,))
        self.joint = Joint(bank)
        self.lead = Lead(bank)
        self.supply = Supply(source)
        self.output = Output(source)
        #: True once the source's own stage has been worked out.
        self.seen = False
        self.amps: float | None = None
        #: Volts at the source above those at the posts; None while not measured.
        self.rise: float | None = None
        self.idle = False
        #: The source stands above the posts and nothing flows: something between them has opened.
        self.parted = False
        #: Its terminals are without voltage: a controller at night, a charger that is off.
        self.dead = False
        #: How long the source has given nothing by its own amps, and since when that is a stage.
        self.silent_seconds = 0.0
        self.silent_since: float | None = None
        self.reported: str | None = None
        self.contrary_seconds = 0.0
        #: The stage it is seen in, where that is sure; plain text for the saved state.
        self.inferred_name: str | None = None
        self._above = 0.0
        self._alike_seconds = 0.0
        self._gives = 0.0
        self._heard: float | None = None
        self._moment = BEFORE_ALL
        self._volts = 0.0
        self._volts_at = BEFORE_ALL
        self._sum_rise = 0.0
        self._rises = 0
        self._sum_amps = 0.0
        self._amps = 0
        self._sum_net = 0.0
        self._low = 0.0
        self._high = 0.0

    # Its own readings.

    def update(self, inputs: BankInputs, soc: float, soc_sd: float) -> bool:
        """Step on the source's own volts and amps; True where its stage changed."""
        before = self.stage
        self._listen(inputs)
        if self.signal.update(inputs):
            if self.filter.due(self.signal):
                self.filter.update(self.signal, soc, soc_sd)
            self.seen = True
        return self.stage is not before

    def _listen(self, inputs: BankInputs) -> None:
        """Does it give anything at all?"""
        volts, amps = inputs.volts, inputs.amps
        self.reported = inputs.reported_stages[0]
        if volts is None or amps is None:
            return
        least = NOTHING * (self.source.rated_amps or self.bank.amp_hours)
        self.dead = self._is_dead(volts)
        now = inputs.seconds
        if self._heard is None:
            self._gives = amps
        else:
            elapsed = now - self._heard
            self._gives += (amps - self._gives) * elapsed / (elapsed + GIVES_SECONDS)
        self._heard = now
        held_by_it = self.alone and not self.dead and self.filter.regulating > 0.5
        if self._gives > least or held_by_it:
            self.silent_seconds = 0.0
            self.silent_since = None
            return
        if self.silent_since is None:
            self.silent_since = now
        self.silent_seconds = now - self.silent_since

    def _is_dead(self, volts: float) -> bool:
        return volts < DEAD_SHARE * self.bank.nominal_volts

    @property
    def silent(self) -> bool:
        """It has given nothing for a while, so that a voltage which is held is not seen as its own.

        A float level is left to it even so, unless it says that it is off: a full bank takes
        next to nothing, and where several float it, some give nothing at all.
        """
        if self.silent_seconds < NOTHING_SECONDS:
            return False
        floats = self.seen and self.filter.stage is Stage.FLOAT
        return self.dead or not floats or self.reported in ("off", "rest")

    @property
    def stage(self) -> Stage | None:
        """Its stage by its own figures; None while it has none."""
        if self.silent and self.filter.stage is not Stage.REST:
            return Stage.REST
        return self.filter.stage if self.seen else None

    def stage_view(self) -> StageView | None:
        """Its stage with the evidence, for whoever looks."""
        stage = self.stage
        if stage is None:
            return None
        view = self.filter.view()
        if stage is view.stage:
            return view
        chances = tuple(1.0 if each is Stage.REST else 0.0 for each in Stage)
        since = view.since_seconds if self.silent_since is None else self.silent_since
        words = "it gives nothing; what it is set to cannot be seen while it does not"
        return StageView(Stage.REST, 1.0, chances, since, (Fact("gives nothing", words),))

    def forget_set_points(self) -> None:
        """The owner changed what the source is set to."""
        self.filter = StageFilter(self.bank, (self.source,))
        self.seen = False

    # Its bank's readings.

    def add(self, inputs: BankInputs, place: int, volts: float, net: float) -> None:
        """One reading of the bank: how far this source stands above it, and what flows.

        Only a source read since the last time tells how far: one read before the bank moved would
        show what the bank did, not what lies between.
        """
        source_volts = inputs.source_volts[place]
        source_amps = inputs.source_amps[place]
        amps = net if source_amps is None else source_amps
        if self._amps == 0 and self._rises == 0:
            self._low = self._high = amps
        elif amps < self._low:
            self._low = amps
        elif amps > self._high:
            self._high = amps
        if net > OPEN_RATE * self.bank.amp_hours or source_volts is None:
            self.parted = False
        if source_volts is not None and not self._is_dead(source_volts):
            moment = inputs.source_seconds[place]
            if moment > self._moment:
                self._sum_rise += source_volts - self._posts_at(moment, inputs.seconds, volts)
                self._sum_net += net
                self._rises += 1
                # read between two readings of the bank, which may have fallen meanwhile
                rise = source_volts - max(volts, self._volts)
                if source_amps is not None and source_amps > 0.0:
                    rise -= self.lead.ohms * source_amps  # what it gives to loads alone
                self._part(rise, net, moment)
                self._moment = moment
        self._volts = volts
        self._volts_at = inputs.seconds
        if source_amps is not None:
            self._sum_amps += source_amps
            self._amps += 1

    def _posts_at(self, moment: float, now: float, volts: float) -> float:
        """Volts at the posts when the source was read, between their last two readings."""
        before = self._volts_at
        if not before < moment < now or now - before > NEIGHBOURS_SECONDS:
            return volts
        return self._volts + (volts - self._volts) * (moment - before) / (now - before)

    def _part(self, rise: float, net: float, moment: float) -> None:
        """Are source and bank parted? Only a source read while nothing flows can tell."""
        least = OPEN_RATE * self.bank.amp_hours
        if not -least < net < least:
            return
        above = (rise - self.lead.meters_volts) / self.bank.cells
        if not self.parted:
            if above > OPEN_VOLTS:
                self.parted = True
                self._above = above
                self._alike_seconds = 0.0
            return
        elapsed = min(moment - self._moment, ABOVE_SECONDS)
        self._above += (above - self._above) * elapsed / (elapsed + ABOVE_SECONDS)
        if -SHUT_VOLTS < self._above < SHUT_VOLTS:
            self._alike_seconds += elapsed
            self.parted = self._alike_seconds < SHUT_SECONDS
        else:
            self._alike_seconds = 0.0

    def parted_fact(self, volts: float) -> Fact:
        """Where both ends stand, with the bank's own volts as they are now."""
        ends = volts + self._above * self.bank.cells
        words = (
            f"{self.source.id} stands at {ends:.2f} V, the posts at {volts:.2f} V, and no current "
            "flows: the battery's protection has opened its charge side, or a fuse is open"
        )
        return Fact("source parted from bank", words, (("source_volts", ends), ("volts", volts)))

    def look(self, seconds: float, elapsed: float, bank_stage: StageFilter) -> None:
        """Once a minute: means, resistance, and whether the source does what it says."""
        self.amps = self._sum_amps / self._amps if self._amps else None
        if self._rises:
            self.rise = self._sum_rise / self._rises
            net = self._sum_net / self._rises
            amps = self.amps if self.amps is not None else net
            self.idle = abs(amps) < IDLE_RATE * self.bank.amp_hours
            own = self.amps is not None
            steady = STEADY_SHARE * abs(amps) + STEADY_RATE * self.bank.amp_hours
            if (own or self.alone) and not self.parted and self._high - self._low < steady:
                self.joint.add(seconds, self.rise, amps, own)
                self.lead.add(seconds, self.rise, amps, own)
        else:
            self.rise = None
        self._sum_rise = self._sum_net = self._sum_amps = 0.0
        self._rises = self._amps = 0
        self._compare(elapsed, bank_stage)
        seen = self.filter if self.seen else bank_stage
        self.output.look(self.amps, seen.regulating, self.reported)

    def _compare(self, elapsed: float, bank_stage: StageFilter) -> None:
        agrees = AGREES.get(self.reported or "")
        inferred = self.inferred(bank_stage)
        self.inferred_name = None if inferred is None else inferred.value
        # below what another source holds, one in bulk sees a held voltage at its own terminals too
        below = self.reported == "bulk" and not self.alone
        # a regulator keeps its stage through clouds and mornings in which the sun cannot hold it
        below = below or (self.source.kind is SourceKind.SOLAR and inferred is Stage.BULK)
        if agrees is None or inferred is None or inferred in agrees or below:
            self.contrary_seconds = 0.0
        else:
            self.contrary_seconds += elapsed

    def inferred(self, bank_stage: StageFilter) -> Stage | None:
        """The source's stage where it is seen surely: by itself, or through its bank if alone."""
        if self.silent:
            return Stage.REST
        stage_filter = self.filter if self.seen else bank_stage if self.alone else None
        if stage_filter is None or max(stage_filter.probabilities) < SURE:
            return None
        return stage_filter.stage

    @property
    def contrary(self) -> Fact | None:
        """Both stages, in words, while it says one and is seen in another."""
        if self.contrary_seconds <= 0.0:
            return None
        minutes = self.contrary_seconds / 60.0
        seen = duration(self.contrary_seconds)
        words = f"it says {self.reported}, but is seen in {self.inferred_name} for {seen}"
        return Fact("says another stage", words, (("minutes", minutes),))

    def lead_estimate(self) -> Estimate:
        """Milliohm between it and the posts: by both ends, else from the posts alone."""
        both = self.lead.estimate()
        if both.figure is not None or self.posts is None:
            return both
        return self.posts.estimate()

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
            stage=self.stage_view(),
            lead_milliohms=self.lead_estimate(),
            contrary=self.contrary,
            supply=shown(given.supply, now),
        )
