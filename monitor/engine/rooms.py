"""One bank's rooms, in the order of the data: signal, stage, charge, forecast, conditions."""

from __future__ import annotations

from typing import ClassVar, Final

from adapters.reading import Quantity
from monitor.bank import Bank, Site, Source
from monitor.engine import conditions
from monitor.engine.align import BankAlignment
from monitor.engine.by_hour import ByHour
from monitor.engine.catch import caught, low_holds, lower_float
from monitor.engine.charge import ChargeFilter
from monitor.engine.flows import flows, is_dark
from monitor.engine.following import follow
from monitor.engine.forecast import Forecast
from monitor.engine.grouping import Group
from monitor.engine.journal import MOVED, Journal
from monitor.engine.learned import OF_THE_BANK, Ledger
from monitor.engine.overrides import adjusted
from monitor.engine.panel import Panel
from monitor.engine.posts_lead import PostsLead
from monitor.engine.setpoints import Level
from monitor.engine.signal import Signal
from monitor.engine.snapshot import (
    EventKind,
    Stage,
)
from monitor.engine.source import SourceRoom
from monitor.engine.stage import StageFilter
from monitor.engine.stage_order import ABSORPTION
from monitor.engine.unknowns import OFFSET
from monitor.engine.watch import BankWatch, neighbours

#: A bank is being replaced for so long after a person said so (our choice).
REPLACING_SECONDS: Final = 180.0
#: Absorption is surely held above this chance.
SURE: Final = 0.9
#: Stages in which current goes in at more than a trickle.
CHARGING: Final = frozenset({Stage.BULK, Stage.ABSORPTION, Stage.FIXED})


class BankRooms:
    """Everything the engine works out for one bank."""

    KEPT: ClassVar[tuple[str, ...]] = (
        "signal",
        "low_hold_volts",
        "stage",
        "posts_lead",
        "charge",
        "forecast",
        "watch",
        "panel",
        "sources",
        "source_panels",
        "started",
        "forget_again",
        "ledger",
        "by_hour",
    )

    def __init__(self, site: Site, bank: Bank, given: BankAlignment, journal: Journal) -> None:
        sources: tuple[Source, ...] = tuple(view.source for view in given.sources)
        self.site = site
        self.bank = bank
        self.given = given
        self.journal = journal
        self.signal = Signal(bank, sources)
        self.stage = StageFilter(bank, sources)
        self._low_holds = low_holds(bank)
        self.posts_lead = PostsLead(bank)
        self._low_hold_volts: float | None = None
        self.charge = ChargeFilter(bank)
        self.forecast = Forecast(site, bank, sources)
        self.watch = BankWatch(bank)
        table = [row for row in conditions.BANK if bank.chemistry.name in row.chemistries]
        self.panel = Panel(bank.id, self.watch, adjusted(table, site, bank.id), journal)
        alone = len(sources) == 1
        self.sources = [SourceRoom(source, bank, alone, self.posts_lead) for source in sources]
        self.source_panels = [
            Panel(room.source.id, room, adjusted(conditions.SOURCE, site, room.source.id), journal)
            for room in self.sources
        ]
        Group(bank.id, [self.panel, *self.source_panels])
        #: True once a first pair of volts and amps was believed.
        self.started = False
        #: When a replaced bank is forgotten for the second time; None where nothing is pending.
        self.forget_again: float | None = None
        self.ledger = Ledger()
        self.by_hour = ByHour()
        #: As of the latest input; not kept, since every input brings it.
        self.wall_offset: float | None = None

    def step(self, wall_offset: float | None) -> None:
        """Take the bank's new inputs through all rooms."""
        self.wall_offset = wall_offset
        inputs = self.given.inputs
        signal = self.signal
        if not signal.update(inputs):
            return
        if self.forget_again is not None and signal.seconds >= self.forget_again:
            self.replaced(signal.seconds)
            self.forget_again = None
        charge = self.charge
        stage = self.stage
        for place, room in enumerate(self.sources):
            room.add(inputs, place, signal.volts, signal.amps)
            if room.parted:
                signal.charge_permitted = False
        if stage.due(signal):
            self._look(signal)
        if charge.update(signal, stage):
            self._tell_full()
        self.forecast.update(signal, stage, charge, wall_offset)
        # while somebody has his hands on the posts nothing is judged
        if self.forget_again is None and self.watch.add(signal.seconds, signal.volts, signal.amps):
            self._watch()

    def _look(self, signal: Signal) -> None:
        """Weigh what the signal shows since the last look."""
        charge = self.charge
        stage = self.stage
        elapsed = 0.0 if stage.looked is None else signal.seconds - stage.looked
        if not signal.rise_measured:
            points, f = stage.set_points, stage.features
            levels = (points.absorption.mean, points.float_.mean)
            cell = signal.fast_volts / self.bank.cells - points.shift(signal.mean_celsius)
            amps = signal.fast_amps / self.bank.amp_hours - f.zero
            rise = self.posts_lead.rise(cell, amps, levels)
            signal.source_rise = None if rise is None else rise * self.bank.cells
        before = stage.stage
        changed = stage.update(signal, charge.soc, charge.soc_sd)
        if len(self.sources) <= 1 and not self.sources_measured:
            self.posts_lead.add(
                stage.features,
                stage.set_points.absorption,
                elapsed,
                signal.load_step,
                stage.stage in CHARGING,
                stage.probabilities[ABSORPTION] > SURE,
            )
        if self._low_hold_volts is None and stage.set_points.low_hold.given is None:
            self.low_hold_volts = caught(stage.features, stage.memory, self._low_holds)
            if self.low_hold_volts is None:
                self.low_hold_volts = lower_float(stage.set_points)
        if changed or not self.started:
            self._tell_stage(str(before) if self.started else "")
        self.started = True

    @property
    def sources_measured(self) -> bool:
        """Whether volts are measured at the source's end too."""
        return any(room.rise is not None for room in self.sources)

    @property
    def low_hold_volts(self) -> float | None:
        """A low hold that nobody told of, as first caught: volts per cell at 25 °C."""
        return self._low_hold_volts

    @low_hold_volts.setter
    def low_hold_volts(self, volts: float | None) -> None:
        self._low_hold_volts = volts
        if volts is not None:
            self.stage.set_points.low_hold = Level(volts, None)

    def step_source(self, place: int, bank_celsius: float | None) -> None:
        """Take one source's own new volts and amps through its stage filter."""
        room = self.sources[place]
        inputs = self.given.sources[place].inputs
        inputs.celsius = bank_celsius
        charge = self.charge
        before = room.stage
        if not room.update(inputs, charge.soc, charge.soc_sd):
            return
        view = room.stage_view()
        if view is not None:
            self.journal.note(
                inputs.seconds,
                EventKind.STAGE,
                str(view.stage),
                room.source.id,
                f"{before}{MOVED}{view.stage}" if before else f"first seen: {view.stage}",
                view.evidence,
            )

    def _watch(self) -> None:
        """Ten seconds of readings are full: work out the means, judge the conditions."""
        watch = self.watch
        inputs = self.given.inputs
        seconds = self.signal.seconds
        watch.take_celsius(seconds, inputs.celsius, self.signal.celsius, self.signal.trust)
        watch.charge_permitted = inputs.charge_permitted
        watch.discharge_permitted = inputs.discharge_permitted
        period = self.given.pair.period(seconds)
        elapsed = watch.close(seconds, period)
        watch.cell.look(self.given, seconds)
        self._look_at_sides(seconds)
        panel = self.panel
        if watch.minute_due():
            self._minute(seconds)
        panel.judge(panel.fast, seconds, elapsed)
        for room, source_panel, given in zip(
            self.sources, self.source_panels, self.given.sources, strict=True
        ):
            # what a source must be judged by so often is its AC side
            if room.supply.look(given.supply, seconds, neighbours(period)):
                source_panel.judge(source_panel.fast, seconds, elapsed)

    def _look_at_sides(self, seconds: float) -> None:
        """A side of the battery's protection that closed again is told, once."""
        watch = self.watch
        charge, discharge = watch.charge_permitted, watch.discharge_permitted
        told = self.given.charge_permitted.givens, self.given.discharge_permitted.givens
        if self.bank.chemistry.lead and not (told[0] or told[1]):
            return  # what parts a lead-acid bank from its source is a fuse
        parted = None if told[0] else any(room.parted for room in self.sources)
        cut = None if told[1] else watch.cut.open
        for name, words in watch.sides.look(
            seconds,
            parted if charge is None else not charge,
            cut if discharge is None else not discharge,
        ):
            self.journal.note(seconds, EventKind.CONDITION, name, self.bank.id, words)

    def _minute(self, seconds: float) -> None:
        """A minute of readings is full: what changes slowly, and the sources."""
        watch = self.watch
        charge = self.charge
        stage = self.stage
        watch.stage = stage.stage.value
        watch.probability = max(stage.probabilities)
        watch.soc = charge.soc
        watch.soc_sd = charge.soc_sd
        watch.ambient = self.given.slots[Quantity.AMBIENT_CELSIUS].number(seconds, 600.0)
        rises = [room.rise for room in self.sources if room.rise is not None]
        watch.rise = max(rises) if rises else None
        judged = watch.minute(seconds)
        self.panel.judge(self.panel.slow, seconds, judged)
        given = self.given
        for room, source_panel, aligned, reported in zip(
            self.sources,
            self.source_panels,
            given.sources,
            given.inputs.reported_stages,
            strict=True,
        ):
            room.reported = reported
            room.look(seconds, judged, stage)
            room.supply.minute(aligned.supply, seconds)
            source_panel.judge(source_panel.slow, seconds, judged)
        self.ledger.look(stage, charge, self.sources, seconds, self.wall_offset)
        offset = self.wall_offset
        dark = is_dark(self.site, seconds, offset)
        now = flows(self.given, self.signal, stage, charge, self.by_hour, dark)
        self.by_hour.look(seconds, offset, now.load_watts, now.sun_watts, now.held)
        follow(watch, self.given, stage, charge, self.sources, judged, now.load_watts)

    def _tell_stage(self, before: str) -> None:
        view = self.stage.view()
        self.journal.note(
            self.signal.seconds,
            EventKind.STAGE,
            str(view.stage),
            self.bank.id,
            f"{before}{MOVED}{view.stage}" if before else f"first seen: {view.stage}",
            view.evidence,
        )

    def _tell_full(self) -> None:
        self.watch.full()
        view = self.charge.view()
        soc = view.soc.figure or 0.0
        self.journal.note(
            self.signal.seconds,
            EventKind.LEARNED,
            "full",
            self.bank.id,
            f"full, {100.0 * soc:.0f} % charged",
            view.evidence,
        )

    def replaced(self, seconds: float) -> None:
        """A new bank in the old one's place: nothing learned of the old one is the new one's.

        What belongs to the installation stays: the current sensor's offset, the sources' set-points
        and habits, their leads. Forgotten once more a little later, since nobody tells to the
        second when the old posts were let go.
        """
        self.forget_again = seconds + REPLACING_SECONDS
        charge, stage = self.charge, self.stage
        offset, offset_sd = charge.belief.mean[OFFSET], charge.belief.sd(OFFSET)
        charge.replaced()
        charge.belief.forget(OFFSET, offset, offset_sd)
        self.stage = StageFilter(self.bank, self.forecast.sources)
        self.stage.set_points = stage.set_points
        self.stage.memory.fixed_odds = stage.memory.fixed_odds
        self.stage.features.zero = stage.features.zero
        self.stage.features.zero_sd = stage.features.zero_sd
        looks_ahead = self.forecast.looks_ahead
        self.forecast = Forecast(self.site, self.bank, self.forecast.sources)
        self.forecast.looks_ahead = looks_ahead
        self.watch = BankWatch(self.bank)
        self.panel.watch = self.watch

    def tell_replaced(self, seconds: float) -> None:
        """A person said that the bank was replaced: forget, and say what is kept."""
        self.replaced(seconds)
        self.ledger.forget(OF_THE_BANK)
        offset, sd = self.charge.offset_amps, self.charge.offset_amps_sd
        self.journal.note(
            seconds,
            EventKind.LEARNED,
            "forgotten",
            self.bank.id,
            "charge, capacity, resistance, taper and last full of the old bank are forgotten; "
            f"kept: the current sensor's offset ({offset:+.2f} A, give or take {sd:.2f}), "
            "set-points and leads",
        )

    def forget_set_points(self) -> None:
        """The owner changed what the sources are set to: learn their holds anew."""
        self.stage = StageFilter(self.bank, self.forecast.sources)
        self.low_hold_volts = None
        for room in self.sources:
            room.forget_set_points()
