"""State of charge, and what this bank is: a Kalman filter over the cell's circuit.

The unknowns are the fraction of charge, the slow polarisation, and the bank's own figures:
acceptance and its power, gassing, the offset of the current sensor and the usable capacity (all but
the first two start from priors and are learned). Currents are counted all the time; once a minute
the voltage is asked what it says: while a source charges, what current this voltage should draw;
otherwise, what voltage a cell this full should stand at.

Charge is counted as charge. What Peukert's law takes away at a high rate is not lost, it comes back
when the rate falls (Doerffel and Sharkh, J. Power Sources 155, 2006, 395), so Peukert belongs to
time left (`forecast.py`), not here.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, ClassVar, Final

from monitor.bank import REFERENCE_CELSIUS, Bank
from monitor.engine.belief_limits import believed, hold, hold_capacity
from monitor.engine.cell import Circuit
from monitor.engine.charge_counting import Block, count
from monitor.engine.charge_evidence import (
    UNKNOWN_GAS,
    charging_current,
    first_charge,
    lithium_knee,
    standing_voltage,
)
from monitor.engine.falling_current import LEAST_PUSH, FallingCurrent
from monitor.engine.full import FullWatch, expected_end_amps
from monitor.engine.plateau import STEP_SD, STEP_SOC, Plateau
from monitor.engine.resistance import Resistance
from monitor.engine.snapshot import ChargeView, Estimate, Fact, Stage
from monitor.engine.stored import stored
from monitor.engine.unknowns import (
    ACCEPTANCE,
    CAPACITY,
    GASSING,
    OFFSET,
    POLARISATION,
    POWER,
    SOC,
    prior_belief,
)

if TYPE_CHECKING:
    from monitor.engine.signal import Signal
    from monitor.engine.stage import StageFilter

CHARGING: Final = frozenset(
    {Stage.BULK, Stage.ABSORPTION, Stage.FLOAT, Stage.EQUALIZE, Stage.FIXED}
)
# Errors without a source are our own judgement, chosen on more than one generator of truth; none
# belongs to one capture.
BLOCK_SECONDS: Final = 60.0  # voltage is asked once a minute
ERROR_HOURS: Final = 0.5  # how long an error of the circuit lasts before it is another one
REST_HOURS: Final = 4.0  # the same at rest (common practice: rest 4 to 8 h before reading)
FLOAT_ERROR: Final = 0.3  # of a float current: age, gas and history change it (from memory)
FRESH_HOURS: Final = 0.2  # just begun to charge: the circuit leaves the fast part out
LEAST_VOLTS_SD: Final = 0.001  # volts per cell: no meter aboard is better
TAPER_VOLTS: Final = 0.008  # volts per cell: a hold that wanders further is none
SETTLING_HOURS: Final = 0.15  # the fast polarisation that the circuit leaves out
UNSETTLED: Final = 0.8  # how much of what has not settled may be error
GATE: Final = 3.0  # standard deviations


class ChargeFilter:
    """One bank's charge. `update` at every reading; figures as attributes at any time."""

    KEPT: ClassVar[tuple[str, ...]] = (
        "_amp_seconds",
        "belief",
        "_block_seconds",
        "_celsius",
        "_charged_hours",
        "_deepest",
        "_floating",
        "_high_amps",
        "_low_amps",
        "_rested_hours",
        "_slow_volts",
        "_started",
        "_without_celsius",
        "_volt_seconds",
        "_was_charging",
        "circuit",
        "falling",
        "full",
        "full_amps",
        "last_full",
        "plateau",
        "resistance",
    )

    def __init__(self, bank: Bank) -> None:
        self.bank = bank
        self.circuit = Circuit(bank.chemistry)
        self._label = bank.amp_hours
        self._cells = bank.cells
        self.replaced()

    def replaced(self) -> None:
        """A new bank: forget everything learned."""
        self.belief = prior_belief(self.circuit, self._label)
        self.full_amps: float | None = None
        self.last_full: float | None = None
        self.full_now = False
        self._started = False
        self._slow_volts = 0.0
        self._celsius = REFERENCE_CELSIUS
        self._without_celsius = 0.0  # seconds without a temperature
        self._charged_hours = 0.0
        self._deepest = 0.0
        self._rested_hours = 0.0
        self._was_charging = False
        self._floating = False
        self.plateau = Plateau()
        self.falling = FallingCurrent()
        self.full = FullWatch(self.bank)
        self.resistance = Resistance(self.bank)
        self._clear_block()
        self._learn()

    def _clear_block(self) -> None:
        self._block_seconds = 0.0
        self._amp_seconds = 0.0
        self._volt_seconds = 0.0
        self._low_amps = 0.0
        self._high_amps = 0.0

    def _learn(self) -> None:
        """Hand the belief's means to the circuit."""
        mean = self.belief.mean
        self.circuit.acceptance = math.exp(mean[ACCEPTANCE])
        self.circuit.power = mean[POWER]
        self.circuit.gassing = math.exp(mean[GASSING])

    @property
    def soc(self) -> float:
        """Fraction of the present usable capacity, counted up to the last reading."""
        amps = self._amp_seconds - self.offset_amps * self._block_seconds
        moved = amps / 3600.0 / self.capacity_ah
        if moved > 0.0:
            moved /= 1.0 + self.circuit.share(self.belief.mean[SOC])
        return min(1.0, max(0.0, self.belief.mean[SOC] + moved))

    @property
    def soc_sd(self) -> float:
        return self.belief.sd(SOC)

    @property
    def polarisation(self) -> float:
        return self.belief.mean[POLARISATION]

    @property
    def capacity_ah(self) -> float:
        return self._label * math.exp(self.belief.mean[CAPACITY])

    @property
    def capacity_ah_sd(self) -> float:
        return self.capacity_ah * self.belief.sd(CAPACITY)

    @property
    def offset_amps(self) -> float:
        return self.belief.mean[OFFSET] * self._label

    @property
    def offset_amps_sd(self) -> float:
        return self.belief.sd(OFFSET) * self._label

    def update(self, signal: Signal, stage: StageFilter) -> bool:
        """Take one reading in; True at the moment full is decided."""
        seconds = signal.elapsed
        volts, amps = signal.volts, signal.amps
        if signal.celsius is not None:
            self._celsius = signal.celsius
        self._without_celsius = signal.seconds - signal.celsius_seconds
        if not self._started:
            self.belief.spread(GASSING, UNKNOWN_GAS if signal.celsius is None else 0.0)
            self._start(volts / self._cells, amps / self._label)
            return False
        if seconds <= 0.0:
            return False
        if signal.gap:
            self._end_block()
            self._bridge(seconds / 3600.0, amps)
            return False
        if self._block_seconds == 0.0:
            self._low_amps = self._high_amps = amps
        elif amps < self._low_amps:
            self._low_amps = amps
        elif amps > self._high_amps:
            self._high_amps = amps
        self._block_seconds += seconds
        self._amp_seconds += amps * seconds
        self._volt_seconds += volts * seconds
        charging = stage.stage in CHARGING
        self._floating = stage.stage == Stage.FLOAT
        if signal.load_step and max(amps, amps - signal.step_amps) < 0.0 and not charging:
            self.resistance.step(
                signal.step_volts, signal.step_amps, signal.noise_volts, self._celsius
            )
        if self._block_seconds >= BLOCK_SECONDS or charging != self._was_charging:
            if charging != self._was_charging:
                self._was_charging = charging
                self.belief.spread(POLARISATION, 0.02**2)
            self._end_block()
        return self._full(signal, stage)

    def _start(self, volts: float, rate: float) -> None:
        """The first reading: what its voltage alone can say."""
        self._started = True
        self._slow_volts = volts
        self.belief.forget(SOC, *first_charge(self.circuit, volts, rate))

    # One block: carry the belief along, then ask the voltage.

    def _end_block(self) -> None:
        if self._block_seconds <= 0.0:
            return
        hours = self._block_seconds / 3600.0
        amps = self._amp_seconds / self._block_seconds
        volts = self._volt_seconds / self._block_seconds / self._cells
        swing = (self._high_amps - self._low_amps) / self._label
        self._clear_block()
        self._carry(hours, amps, volts)
        self._slow_volts += min(1.0, hours / SETTLING_HOURS) * (volts - self._slow_volts)
        unsettled = UNSETTLED * abs(volts - self._slow_volts)
        steady = swing < 0.02 + 0.1 * abs(amps) / self._label
        if not (self._was_charging and steady and abs(volts - self._slow_volts) < TAPER_VOLTS):
            self.falling.disturb()
        if steady:
            if not self.circuit.lead:
                self._ask_lithium(hours, amps, volts)
            elif self._was_charging:
                if volts > self.circuit.curve.at(self.belief.mean[SOC]) + LEAST_PUSH:
                    self._ask_current(hours, amps, volts, unsettled)
                    self._ask_taper(hours, amps, volts)
            elif amps <= 0.005 * self._label:
                self._ask_voltage(hours, amps, volts, unsettled)
        self._learn()

    def _rest_volts(self) -> float:
        mean = self.belief.mean
        return self.circuit.curve.at(mean[SOC]) + mean[POLARISATION]

    def _carry(self, hours: float, amps: float, volts: float) -> None:
        """Count a block's charge, and the hours since charging began or ended."""
        without, charging = self._without_celsius, self._was_charging
        block = Block(hours, amps, volts, self._celsius, without, charging)
        count(self.belief, self.circuit, self.bank, block)
        deep = 1.0 - self.belief.mean[SOC] - 2.0 * self.belief.sd(SOC)
        self._deepest = max(self._deepest, deep)
        if charging:
            self._charged_hours += hours
            self._rested_hours = 0.0
        else:
            self._rested_hours += hours
            self._charged_hours = 0.0

    def _bridge(self, hours: float, amps: float) -> None:
        """A gap: half of the present current may have flowed, or none, or twice as much."""
        likely = abs(amps) / self._label
        self._carry(hours, 0.5 * amps, self._rest_volts())
        possible = max(likely, 0.02) * min(hours, 12.0)
        self.belief.spread(SOC, (0.5 * possible) ** 2)
        self.belief.spread(POLARISATION, 0.03**2)

    def _ask_current(self, hours: float, amps: float, volts: float, unsettled: float) -> None:
        """While a source charges: the current that this voltage should draw."""
        belief = self.belief
        rate = amps / self._label * math.exp(-belief.mean[CAPACITY])
        row, residual, error = charging_current(
            belief.mean, self.circuit, rate, volts, self._celsius, unsettled
        )
        if self._charged_hours < FRESH_HOURS:
            error *= 3.0
        error += FLOAT_ERROR * max(rate, 0.0) if self._floating else 0.0
        variance = error * error * max(1.0, ERROR_HOURS / hours)
        self._teach(row, residual, error, variance)

    def _ask_taper(self, hours: float, amps: float, volts: float) -> None:
        """While a voltage is held: how fast the current falls tells how little is missing."""
        belief = self.belief
        news = self.falling.look(
            hours, amps, volts, self._stored, belief.mean, self.circuit, self._celsius
        )
        if news is None:
            return
        row, residual, error = news
        self._teach(row, residual, error, error * error)

    def _teach(self, row: list[float], residual: float, error: float, variance: float) -> None:
        """Take what a held current says; of the capacity as far as it can know."""
        belief, before = self.belief, self.belief.mean[SOC]
        share = believed(self._deepest)
        belief.correct(row, self._believable(row, residual, error), variance, CAPACITY, share)
        hold(belief, before)

    def _stored(self, amps: float, volts: float) -> float:
        """The stored rate at a net current while a source holds `volts`."""
        mean = self.belief.mean
        rate = (amps / self._label - mean[OFFSET]) * math.exp(-mean[CAPACITY])
        gas = self.circuit.gas(volts, self._celsius)
        return (rate - gas) / (1.0 + self.circuit.share(mean[SOC]))

    def _believable(self, row: list[float], residual: float, error: float) -> float:
        """A residual held to what belief and error allow: one block must not overturn it."""
        limit = GATE * math.sqrt(self.belief.variance(row) + error * error)
        return min(max(residual, -limit), limit)

    def _ask_voltage(self, hours: float, amps: float, volts: float, unsettled: float) -> None:
        """At rest or under a load: the voltage at which a cell this full should stand."""
        belief = self.belief
        mean = belief.mean
        row, residual, error = standing_voltage(
            mean, self.circuit, amps / self._label, volts, unsettled
        )
        variance = error * error * max(1.0, REST_HOURS / hours) + LEAST_VOLTS_SD**2
        belief.correct(row, self._believable(row, residual, error), variance)
        mean[SOC] = min(1.0, max(0.0, mean[SOC]))
        hold_capacity(belief)

    def _ask_lithium(self, hours: float, amps: float, volts: float) -> None:
        """LFP tells its charge only at the knees: never between 20 and 90 percent."""
        circuit, belief = self.circuit, self.belief
        rate = amps / self._label
        rested = volts - rate * circuit.ohmic
        if self.plateau.look(rate, hours, rested) and belief.sd(SOC) > 0.05:
            belief.see(SOC, STEP_SOC, STEP_SD * STEP_SD)
            return
        found = lithium_knee(rested, rate)
        if found is None:
            return
        target, sd = found
        if target > 0.5 and belief.mean[SOC] > target:
            return
        belief.see(SOC, target, sd * sd * max(1.0, 0.2 / hours))

    # Full.

    def expected_end_amps(self) -> float:
        """The net current at which this bank's charges end: told, else seen, else a fair guess."""
        full = self.full
        return expected_end_amps(self.bank, None if full.passed else full.source_amps)

    def _full(self, signal: Signal, stage: StageFilter) -> bool:
        """Tail current for a minute while absorption is held, or the source's own end of it."""
        self.full_now = self.full.look(signal, stage.stage, self.offset_amps)
        if self.full_now:
            self.full_amps = self.full.at_amps
            self.last_full = self.full.at_seconds
            self._end_block()
            self._anchor()
        return self.full_now

    def _anchor(self) -> None:
        """Full was reached: by the usual end a percent or so short, by an early end more.

        What the circuit says is still missing at the current that flowed last moves the anchor and
        widens it by half: a source that floats by a timer or a large current leaves charge to go.
        """
        full, belief = self.circuit.traits.full, self.belief
        rate = (self.full_amps or 0.0) / self.capacity_ah
        held = self.full.at_volts / self._cells
        push = held - self.circuit.curve.at(1.0) - belief.mean[POLARISATION]
        left = self.circuit.missing_at(rate, push)
        target, sd = min(full.figure, 1.0 - left), full.sd + 0.5 * left
        row = [1.0] + [0.0] * (belief.size - 1)
        residual = self._believable(row, target - belief.mean[SOC], sd)
        belief.correct(row, residual, sd * sd)
        belief.mean[SOC] = min(1.0, belief.mean[SOC])
        self._deepest = 0.0
        self._learn()

    def view(self) -> ChargeView:
        return ChargeView(
            soc=Estimate(self.soc, self.soc_sd),
            capacity_amp_hours=Estimate(self.capacity_ah, self.capacity_ah_sd),
            stored_amp_hours=stored(self.belief, self.soc, self.capacity_ah),
            sensor_offset_amps=Estimate(self.offset_amps, self.offset_amps_sd),
            milliohms=self.resistance.view(),
            last_full_seconds=self.last_full,
            evidence=self._evidence(),
        )

    def _evidence(self) -> tuple[Fact, ...]:
        worn = math.exp(self.belief.mean[CAPACITY])
        return (
            Fact(
                "share of the label",
                f"{100.0 * worn:.0f} % of it is usable",
                (("share", worn), ("sd", self.belief.sd(CAPACITY))),
            ),
        )
