"""Time to full and time left: the identified bank run forward, with its uncertainty.

Time to full runs the charge filter's circuit from its mean with the source at its recent capability
(`charge_run.run`), and once more along each direction of the filter's uncertainty for the
interval. Time left (`time_left.py`) drains the bank at its recent load. Both are worked out anew at
a fixed cadence of reading time and on a change of stage, and count down between. Where there is no
answer the reason is said.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, ClassVar, Final

from monitor.bank import Bank, Site, Source, compensated
from monitor.engine.assumptions import assumptions
from monitor.engine.cell import Circuit
from monitor.engine.charge_run import HORIZON_HOURS, Course, Goal, run
from monitor.engine.pace import Pace
from monitor.engine.recall import Recall
from monitor.engine.snapshot import ForecastView, Interval, Stage
from monitor.engine.time_left import time_left
from monitor.engine.unknowns import ACCEPTANCE, CAPACITY, GASSING, POLARISATION, POWER, SOC

if TYPE_CHECKING:
    from monitor.engine.charge import ChargeFilter
    from monitor.engine.signal import Signal
    from monitor.engine.stage import StageFilter

REFRESH_SECONDS: Final = 120.0
CAPABILITY_SECONDS: Final = 900.0  # what a source did in the last quarter of an hour
LOAD_SECONDS: Final = 3600.0
WIDTH: Final = 2.0  # the interval spans two standard deviations each way
MODEL_SD: Final = 0.08  # of the log of time: the circuit is not the bank
MOST_STEP: Final = 0.7  # of the log of time: beyond a factor of four nothing is known
RECALL: Final = 0.75  # how far an equal earlier charge outweighs the circuit (ours)
FIXED_FULL: Final = 0.95  # a source that holds one voltage never ends a charge: say 95 % instead

UNTIL_FULL: Final = (Stage.BULK, Stage.ABSORPTION, Stage.FIXED)


class Forecast:
    """One bank's forecast. `update` at every reading, `view` when somebody looks."""

    KEPT: ClassVar[tuple[str, ...]] = (
        "_able_amps",
        "_able_variance",
        "_assumed",
        "_began_soc",
        "_calm_amps",
        "_held_amps",
        "_held_cell",
        "_held_soc",
        "_high",
        "_last_stage",
        "_left",
        "_left_high",
        "_left_low",
        "_left_reason",
        "_load_amps",
        "_low",
        "_made_at",
        "_plateau",
        "_reached",
        "_reason",
        "_to_full",
        "_wall_offset",
        "pace",
        "recall",
    )

    def __init__(self, site: Site, bank: Bank, sources: tuple[Source, ...]) -> None:
        self.site = site
        self.bank = bank
        self.sources = sources
        #: Off where nobody will look: a run of the circuit for each answer is what takes the time.
        self.looks_ahead = True
        self._trial = Circuit(bank.chemistry)
        self._wall_offset: float | None = None
        self._able_amps: float | None = None
        self._able_variance = 0.0
        self._load_amps: float | None = None
        self._plateau: float | None = None
        self.recall = Recall()
        self.pace = Pace()
        self._began_soc = 0.0
        self._held_soc: float | None = None
        self._held_cell = 0.0
        self._reached = False
        self._held_amps: float | None = None
        self._calm_amps = 0.0
        self._last_stage = ""
        self._made_at: float | None = None
        self._to_full: float | None = None
        self._low: float | None = None
        self._high: float | None = None
        self._reason = "no reading yet"
        self._assumed: list[str] = []
        self._left: float | None = None
        self._left_low: float | None = None
        self._left_high: float | None = None
        self._left_reason = "no reading yet"

    def update(
        self, signal: Signal, stage: StageFilter, charge: ChargeFilter, wall_offset: float | None
    ) -> None:
        """Follow source and loads; work the answers out anew when they are due."""
        self._wall_offset = wall_offset
        now = stage.stage
        amps = signal.amps
        gain = 1.0 if now != self._last_stage else min(1.0, signal.elapsed / 60.0)
        self._calm_amps += gain * (amps - self._calm_amps)
        elapsed = 0.0 if signal.gap else signal.elapsed
        if now == Stage.BULK or (now == Stage.FIXED and stage.regulating < 0.5):
            if self._able_amps is None or self._last_stage not in (now, "discharge"):
                self._able_amps = amps
            else:
                share = min(1.0, elapsed / CAPABILITY_SECONDS)
                change = amps - self._able_amps
                self._able_amps += share * change
                self._able_variance += share * (change * change - self._able_variance)
        elif now in (Stage.DISCHARGE, Stage.REST):
            share = min(1.0, elapsed / LOAD_SECONDS)
            if self._load_amps is None:
                self._load_amps = -amps
            else:
                self._load_amps += share * (-amps - self._load_amps)
        self._remember(signal, stage, charge)
        due = self._made_at is None or signal.seconds - self._made_at >= REFRESH_SECONDS
        if due or now != self._last_stage:
            self._last_stage = now.value
            self._made_at = signal.seconds
            if not self.looks_ahead:
                return
            self._refresh_full(signal, stage, charge)
            self._refresh_left(charge, now)

    def _remember(self, signal: Signal, stage: StageFilter, charge: ChargeFilter) -> None:
        """Follow one charge from its start to full, for the next one's sake."""
        now = stage.stage
        fresh = now == Stage.FIXED or (now == Stage.BULK and now != self._last_stage)
        if fresh and (self._last_stage in ("rest", "discharge", "")):
            self._began_soc = charge.soc
            self._held_soc = None
            self._reached = False
            self.recall.start()
        elif now == Stage.BULK and self._last_stage == Stage.FIXED:
            # a flat stretch that looked like a hold, and was none
            self._held_soc = None
            self.recall.start()
        holding = now in (Stage.ABSORPTION, Stage.FIXED) and stage.regulating > 0.5
        if holding and not signal.gap:
            cell = signal.volts / self.bank.cells
            self.pace.note(signal.elapsed, signal.amps, self._calm_amps, cell, charge.polarisation)
        else:
            self.pace.clear()
        if self._reached:
            return
        done = charge.full_now
        if holding:
            if self._held_soc is None:
                self._held_soc = charge.soc
            self._held_cell = signal.volts / self.bank.cells
            self.recall.note(signal.seconds, signal.elapsed, self._calm_amps / self.bank.amp_hours)
            done = done or (now == Stage.FIXED and charge.soc >= FIXED_FULL)
        if done and self._held_soc is not None:
            self._reached = True
            ended = charge.full.at_seconds if charge.full_now else signal.seconds
            self.recall.finish(ended, self._held_soc - self._began_soc, self._held_cell)

    # Time to full.

    def _refresh_full(self, signal: Signal, stage: StageFilter, charge: ChargeFilter) -> None:
        self._to_full = self._low = self._high = None
        self._assumed = []
        if stage.stage not in UNTIL_FULL:
            self._reason = _WHY_NOT[stage.stage]
            return
        if stage.stage == Stage.ABSORPTION and charge.full.done:
            self._reason = "charged: the tail current was reached, the source still absorbs"
            return
        able = max(self._able_amps or 0.0, signal.amps)
        if able <= 0.0:
            self._reason = "the source gives less than the loads take"
            return
        goal, volts = self._goal(signal, stage, charge)
        guessed = self.bank.set_points.absorption is None and self._plateau is None
        self._assumed = assumptions(
            self.bank, goal, volts, able, charge.capacity_ah, stage.stage, guessed
        )
        self._held_amps = None
        if stage.stage != Stage.BULK and stage.regulating > 0.5:
            self._held_amps = self._calm_amps - charge.offset_amps
        celsius = 25.0 if signal.celsius is None else signal.celsius
        runs = self._fan(charge, volts, celsius, able, goal)
        middle = runs[0].hours
        if middle is None:
            self._reason = f"not within {HORIZON_HOURS:.0f} h at this current"
            return
        spread = MODEL_SD * MODEL_SD
        for course in runs[1:]:
            hours = HORIZON_HOURS if course.hours is None else course.hours
            step = math.log((hours + 0.05) / (middle + 0.05))
            step = min(max(step, -MOST_STEP), MOST_STEP)
            spread += step * step
        width = math.exp(WIDTH * min(math.sqrt(spread), MOST_STEP))
        if goal.hold_hours is None or middle < (runs[0].held_hours or 0.0) + goal.hold_hours:
            middle = self._paced(middle, goal, celsius, charge)
            middle = self._blend(middle, runs[0].held_hours or 0.0, signal, stage, charge)
        self._reason = ""
        self._to_full = middle * 3600.0
        self._low = middle * 3600.0 / width
        self._high = middle * 3600.0 * width + 60.0

    def _paced(self, hours: float, goal: Goal, celsius: float, charge: ChargeFilter) -> float:
        """Hours of a held charge to its end current, at the pace at which this one has fallen."""
        if self._held_amps is None or goal.end_rate is None:
            return hours
        pace = self.pace.look(
            charge.circuit,
            charge.soc,
            celsius,
            charge.offset_amps,
            goal.end_rate * charge.capacity_ah,
            self.bank.amp_hours,
            charge.capacity_ah,
        )
        return hours / pace

    def _blend(
        self,
        hours: float,
        held_hours: float,
        signal: Signal,
        stage: StageFilter,
        charge: ChargeFilter,
    ) -> float:
        """Hours to full with what earlier charges tell mixed in, as far as they can be trusted."""
        volts = signal.volts / self.bank.cells
        if stage.stage == Stage.BULK or stage.regulating < 0.5:
            held_hours = max(held_hours, 0.0)
            volts = self.recall.volts
            amps = max(self._able_amps or 0.0, signal.amps)
            depth = charge.soc - self._began_soc + held_hours * amps / charge.capacity_ah
        else:
            held_hours = 0.0
            amps = self._calm_amps
            depth = (charge.soc if self._held_soc is None else self._held_soc) - self._began_soc
        found = self.recall.look(amps / self.bank.amp_hours, depth, volts)
        if found is None:
            return hours
        seconds, trust = found
        after = max(hours - held_hours, 0.01)
        share = RECALL * trust
        recalled = max(seconds / 3600.0, 0.01)
        return held_hours + math.exp((1.0 - share) * math.log(after) + share * math.log(recalled))

    def _goal(self, signal: Signal, stage: StageFilter, charge: ChargeFilter) -> tuple[Goal, float]:
        """The criterion of full, and the volts per cell that the source will hold."""
        bank, chemistry = self.bank, self.bank.chemistry
        cells = bank.cells
        if stage.stage == Stage.FIXED:
            held = signal.volts if stage.regulating > 0.5 else 2.27 * cells
            return Goal(None, None, FIXED_FULL), held / cells
        target = bank.set_points.absorption
        if target is None:
            target = self._plateau or chemistry.absorption.typical * cells
        mv = bank.set_points.compensation_mv_per_celsius_per_cell
        if mv is None:
            mv = chemistry.compensation_mv.typical
        clamp = bank.set_points.compensation_celsius or chemistry.compensation_celsius
        target = compensated(target, signal.celsius, mv, cells, clamp)
        hours = bank.set_points.absorption_hours
        if stage.stage == Stage.ABSORPTION:
            target = signal.volts
            if hours is not None:
                hours = max(0.0, hours - (signal.seconds - stage.since) / 3600.0)
            elif charge.full.passed and charge.full.seconds_left is not None:
                hours = charge.full.seconds_left / 3600.0
            self._plateau = target - compensated(0.0, signal.celsius, mv, cells, clamp)
        end = charge.expected_end_amps() / charge.capacity_ah
        return Goal(end, hours), target / cells

    def _fan(
        self, charge: ChargeFilter, volts: float, celsius: float, able: float, goal: Goal
    ) -> list[Course]:
        """The run from the mean, then one along each direction of uncertainty."""
        mean = charge.belief.mean
        runs = [self._one(mean, volts, celsius, able, goal, charge)]
        size = charge.belief.size
        for column in charge.belief.directions():
            point = [mean[n] + column[n] for n in range(size)]
            runs.append(self._one(point, volts, celsius, able, goal, charge))
        return runs

    def _one(
        self,
        point: list[float],
        volts: float,
        celsius: float,
        able: float,
        goal: Goal,
        charge: ChargeFilter,
    ) -> Course:
        trial = self._trial
        trial.acceptance = math.exp(point[ACCEPTANCE])
        trial.power = point[POWER]
        trial.gassing = math.exp(point[GASSING])
        trial.ohmic = charge.circuit.ohmic
        capacity = self.bank.amp_hours * math.exp(point[CAPACITY])
        rate = able / capacity
        end = goal.end_rate
        if end is not None:
            end *= charge.capacity_ah / capacity
        soc = min(1.0, max(0.0, point[SOC]))
        if self._held_amps is not None:
            # every point must draw the current that is measured now
            net = self._held_amps / capacity - trial.gas(volts, celsius)
            model, _ = trial.accept(soc, volts - trial.curve.at(soc) - point[POLARISATION])
            drawn = net / (1.0 + trial.share(soc))
            if drawn > 0.0005 and model > 0.0005:
                trial.acceptance *= min(max(model / drawn, 0.5), 2.0)
        return run(
            trial,
            soc,
            point[POLARISATION],
            volts,
            celsius,
            lambda _hours: rate,
            Goal(end, goal.hold_hours, goal.soc),
        )

    # Time left.

    def _refresh_left(self, charge: ChargeFilter, now: Stage) -> None:
        found = Interval(None, None, None, "a source is charging")
        if now in (Stage.DISCHARGE, Stage.REST):
            found = time_left(self.bank, charge, self._load_amps, WIDTH)
        self._left, self._left_low = found.seconds, found.low
        self._left_high, self._left_reason = found.high, found.reason

    # Looking.

    def to_full_now(self, seconds: float) -> Interval:
        return self._count_down(self._to_full, self._low, self._high, self._reason, seconds)

    def left_now(self, seconds: float) -> Interval:
        return self._count_down(
            self._left, self._left_low, self._left_high, self._left_reason, seconds
        )

    def _count_down(
        self,
        middle: float | None,
        low: float | None,
        high: float | None,
        reason: str,
        seconds: float,
    ) -> Interval:
        if middle is None or low is None or high is None or self._made_at is None:
            return Interval(None, None, None, reason)
        past = seconds - self._made_at
        return Interval(
            max(0.0, middle - past), max(0.0, low - past), max(0.0, high - past), reason
        )

    def view(self, seconds: float) -> ForecastView:
        return ForecastView(self.to_full_now(seconds), self.left_now(seconds), tuple(self._assumed))


_WHY_NOT: Final = {
    Stage.REST: "no source is charging",
    Stage.DISCHARGE: "no source is charging",
    Stage.FLOAT: "charged: the source is in float",
    Stage.EQUALIZE: "charged: the source is equalizing",
}
