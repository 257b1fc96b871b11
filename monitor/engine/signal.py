"""What the sensors say, cleaned: which readings to believe, how noisy they are, where they head.

Irregular sampling, gaps, duplicates, times out of order, single-reading glitches, coarse steps and
a missing temperature are all normal input. `Signal.update` answers False for a reading that must
not count; everything downstream is then skipped, and nothing of it stays behind in the state.
"""

from __future__ import annotations

from typing import ClassVar, Final

from adapters.reading import Quantity
from monitor.bank import Bank, Source
from monitor.engine.align import PLAUSIBLE_AMPS, plausible
from monitor.engine.bank_inputs import BankInputs
from monitor.engine.celsius_trust import CelsiusTrust
from monitor.engine.slopes import Horizon

#: A silence longer than this is not bridged: a charge can end and another begin in it
#: (common practice: devices speak every 1..60 s; three missed polls of the slowest).
GAP_SECONDS: Final = 180.0
#: A single reading that leaps further than this without the other quantity answering waits for a
#: second opinion: amps in units of C20 (a source or a pump stays below), volts per cell (a bank
#: moves so far at once only when its current does), °C (a bank's mass cannot).
LEAP_AMPS: Final = 0.5
LEAP_VOLTS: Final = 0.15
NEVER: Final = -1e18
LEAP_CELSIUS: Final = 5.0
#: Volts per cell that must at least follow a leap of one C20 (physics: half of a new bank's
#: 0.15 V per C20 and cell).
ANSWER: Final = 0.07
#: Suspects in a row after which the new level is believed, whatever it is.
PATIENCE: Final = 3
#: Seconds of the fast average, and of the lines fitted.
FAST_SECONDS: Final = 8.0
SLOW_SECONDS: Final = 40.0
MINUTE_SECONDS: Final = 60.0
LONG_SECONDS: Final = 400.0
CELSIUS_SECONDS: Final = 300.0
#: Least noise assumed, a fraction of nominal volts (a third of a 10 mV step at 12 V) and of C20.
LEAST_NOISE_VOLTS: Final = 0.0003
LEAST_NOISE_AMPS: Final = 0.0002
FIRST_NOISE_VOLTS: Final = 0.0007
FIRST_NOISE_AMPS: Final = 0.0006
#: Noise follows the upper quartile of differences of successive readings, 1.627 deviations for
#: normal noise: up three steps when above it, down one when below.
QUARTILE: Final = 1.627
NOISE_UP: Final = 1.03
NOISE_DOWN: Final = 0.99
#: A step of amps: this many noises, and at least this fraction of C20 (a small pump or lamp).
STEP_NOISES: Final = 6.0
STEP_AMPS: Final = 0.006
#: Volts that moved less than this many noises at a step were held through it: the lines go on.
STEP_HELD: Final = 2.5
#: A line has bent when the fast average leaves it by this many noises of one reading (more than
#: three deviations of the average itself); it then starts anew.
KINK_NOISES: Final = 2.0
#: Lead resistance is learned from source amps above this fraction of C20.
LEAD_AMPS: Final = 0.02
LEAD_READINGS: Final = 50.0
#: Where several sources report, the one that holds the bank's voltage counts, the highest first.
STANDING: Final = {"bulk": 1, "float": 2, "fixed": 3, "absorption": 4, "equalize": 5}


class Signal:
    """The clean signal of one bank. Attributes, all as of the last accepted reading:

    `seconds`; `elapsed` since the reading before, `gap` when that was too long to bridge;
    `volts`, `amps`, `celsius` accepted raw (celsius None until one is believed, `mean_celsius`
    smoothed, `celsius_seconds` when it last came);
    `fast_volts`, `fast_amps` averaged over about 8 s, restarted by a load step;
    `slow_volts`, `slow_amps` averaged over 40 s and never restarted but by a gap;
    `minute` and `long`: lines through volts and amps (the long one restarts at load steps);
    `noise_volts`, `noise_amps` of a single reading; `load_step` with `step_volts`, `step_amps`:
    the current just jumped by so much, and the volts with it; `stirred`: when it last jumped, a
    line bent or a silence ended; `source_rise` volts by which the terminals of the highest source
    stand above the posts, averaged over 8 s where `rise_measured`, else what the leads make
    likely, None where neither is known; `lead_ohms` per source, None where
    not measured; `dropped` readings not believed so far.
    """

    KEPT: ClassVar[tuple[str, ...]] = (
        "_celsius_suspect",
        "_fast_gain",
        "_paced",
        "_slow_gain",
        "_suspect_amps",
        "_suspect_volts",
        "_suspects",
        "amps",
        "celsius",
        "celsius_seconds",
        "charge_permitted",
        "dropped",
        "elapsed",
        "fast_amps",
        "fast_volts",
        "gap",
        "lead_ohms",
        "load_step",
        "long",
        "mean_celsius",
        "minute",
        "noise_amps",
        "noise_volts",
        "reported_stage",
        "rise_measured",
        "seconds",
        "slow_amps",
        "slow_volts",
        "source_rise",
        "started",
        "step_amps",
        "trust",
        "step_volts",
        "stirred",
        "volts",
    )
    __slots__ = (
        *KEPT,
        "_cells",
        "_high_amps",
        "_high_volts",
        "_leap_amps",
        "_leap_volts",
        "_least_amps",
        "_least_step",
        "_least_volts",
        "_low_volts",
        "_per_amp",
    )

    def __init__(self, bank: Bank, sources: tuple[Source, ...]) -> None:
        span = plausible(bank)
        self._cells = bank.cells
        self._low_volts, self._high_volts = span[Quantity.BANK_VOLTS]
        self._high_amps = span[Quantity.BANK_AMPS][1]
        self._least_amps = LEAST_NOISE_AMPS * bank.amp_hours
        self._least_volts = LEAST_NOISE_VOLTS * bank.nominal_volts
        self._least_step = STEP_AMPS * bank.amp_hours
        self._leap_amps = LEAP_AMPS * bank.amp_hours
        self._leap_volts = LEAP_VOLTS * bank.cells
        self._paced = 0.0
        self._fast_gain = 0.0
        self._slow_gain = 0.0
        self._per_amp = 1.0 / bank.amp_hours
        self._celsius_suspect: float | None = None
        self._suspect_amps = 0.0
        self._suspect_volts = 0.0
        self._suspects = 0
        self.started = False
        self.seconds = 0.0
        self.stirred = 0.0
        self.elapsed = 0.0
        self.gap = False
        self.volts = 0.0
        self.amps = 0.0
        self.celsius: float | None = None
        self.celsius_seconds = NEVER
        self.mean_celsius: float | None = None
        self.trust = CelsiusTrust()
        self.fast_volts = 0.0
        self.fast_amps = 0.0
        self.slow_volts = 0.0
        self.slow_amps = 0.0
        self.minute = Horizon(MINUTE_SECONDS)
        self.long = Horizon(LONG_SECONDS)
        self.noise_volts = FIRST_NOISE_VOLTS * bank.nominal_volts
        self.noise_amps = FIRST_NOISE_AMPS * bank.amp_hours
        self.load_step = False
        self.step_volts = 0.0
        self.step_amps = 0.0
        self.source_rise: float | None = None
        self.rise_measured = False
        self.lead_ohms: list[float | None] = [None] * len(sources)
        self.charge_permitted: bool | None = None
        self.reported_stage: str | None = None
        self.dropped = 0

    def update(self, inputs: BankInputs) -> bool:
        """Take what the devices show now; False where it must not count."""
        volts = inputs.volts
        amps = inputs.amps
        if volts is None or amps is None or (inputs.volts_age > 0.0 and inputs.amps_age > 0.0):
            return False
        seconds = inputs.seconds
        elapsed = seconds - self.seconds
        if (self.started and elapsed <= 0.0) or seconds - seconds != 0.0:
            return False
        # written so that not-a-number fails too
        if not (
            self._low_volts <= volts <= self._high_volts
            and -self._high_amps <= amps <= self._high_amps
        ):
            self.dropped += 1
            return False
        if not self.started:
            self._start(seconds, volts, amps)
        elif elapsed > GAP_SECONDS:
            self._suspects = 0
            self.seconds = seconds
            self.elapsed = elapsed
            self.gap = True
            self._after_gap(volts, amps)
        else:
            more_volts = volts - self.volts
            more_amps = amps - self.amps
            if not (
                -self._leap_amps < more_amps < self._leap_amps
                and -self._leap_volts < more_volts < self._leap_volts
            ) and self._glitch(volts, amps):
                self.dropped += 1
                return False
            self._suspects = 0
            self.seconds = seconds
            self.elapsed = elapsed
            self.gap = False
            self._follow(elapsed, volts, amps, more_volts, more_amps)
        self.volts = volts
        self.amps = amps
        if inputs.celsius is not None:
            self._temperature(inputs.celsius)
        self.charge_permitted = inputs.charge_permitted
        if inputs.source_volts:
            self._sources(inputs)
        return True

    def _start(self, seconds: float, volts: float, amps: float) -> None:
        self.started = True
        self.seconds = seconds
        self.volts = volts
        self.amps = amps
        self._after_gap(volts, amps)

    def _after_gap(self, volts: float, amps: float) -> None:
        self.fast_volts = volts
        self.fast_amps = amps
        self.slow_volts = volts
        self.slow_amps = amps
        self.minute.clear(volts, amps)
        self.minute.update(0.0, volts, amps)
        self.long.clear(volts, amps)
        self.long.update(0.0, volts, amps)
        self.load_step = False
        self.stirred = self.seconds

    def _glitch(self, volts: float, amps: float) -> bool:
        """A lone leap waits for the next reading; two that agree, or a third, are believed."""
        leap_amps = (amps - self.amps) * self._per_amp
        leap_volts = (volts - self.volts) / self._cells
        if -LEAP_AMPS < leap_amps < LEAP_AMPS:
            if -LEAP_VOLTS < leap_volts < LEAP_VOLTS or abs(leap_amps) > 0.1 * LEAP_AMPS:
                return False
        elif leap_volts * leap_amps > ANSWER * leap_amps * leap_amps:
            return False
        agrees = (
            self._suspects > 0
            and abs(amps - self._suspect_amps) * self._per_amp < 0.2 * LEAP_AMPS
            and abs(volts - self._suspect_volts) / self._cells < 0.5 * LEAP_VOLTS
        )
        self._suspects += 1
        self._suspect_amps = amps
        self._suspect_volts = volts
        return not agrees and self._suspects <= PATIENCE

    def _follow(
        self, elapsed: float, volts: float, amps: float, more_volts: float, more_amps: float
    ) -> None:
        """A reading `elapsed` after the last one, which it stands above by `more_*`."""
        if elapsed != self._paced:  # devices speak evenly: the gains are mostly those of before
            self._paced = elapsed
            self._fast_gain = elapsed / (elapsed + FAST_SECONDS)
            self._slow_gain = elapsed / (elapsed + SLOW_SECONDS)
        off = amps - self.fast_amps
        size = off if off >= 0.0 else -off
        noise_amps = self.noise_amps
        noise_volts = self.noise_volts
        if size > STEP_NOISES * noise_amps and size > self._least_step:
            self._step(volts, amps, off)
        else:
            self.load_step = False
            self.fast_volts += self._fast_gain * (volts - self.fast_volts)
            self.fast_amps += self._fast_gain * off
            if self._left(self.minute):
                self._kink(volts, amps)
        self.slow_volts += self._slow_gain * (volts - self.slow_volts)
        self.slow_amps += self._slow_gain * (amps - self.slow_amps)

        # noise: the upper quartile of successive differences; loads that switch do not move it
        size = more_volts if more_volts >= 0.0 else -more_volts
        noise_volts *= NOISE_UP if size > QUARTILE * noise_volts else NOISE_DOWN
        self.noise_volts = noise_volts if noise_volts > self._least_volts else self._least_volts
        size = more_amps if more_amps >= 0.0 else -more_amps
        noise_amps *= NOISE_UP if size > QUARTILE * noise_amps else NOISE_DOWN
        self.noise_amps = noise_amps if noise_amps > self._least_amps else self._least_amps

        self.minute.update(elapsed, volts, amps)
        self.long.update(elapsed, volts, amps)

    def _step(self, volts: float, amps: float, off: float) -> None:
        """The current jumped by `off`: start the averages anew, and the lines where volts moved."""
        # leaps one after another the same way are a slope, which the lines should show
        ramp = self.load_step and off * self.step_amps > 0.0
        self.load_step = True
        self.stirred = self.seconds
        self.step_volts = volts - self.fast_volts
        self.step_amps = off
        self.fast_volts = volts
        self.fast_amps = amps
        if ramp:
            return
        if -STEP_HELD * self.noise_volts < self.step_volts < STEP_HELD * self.noise_volts:
            self.minute.step(off)
            self.long.step(off)
        else:
            self.minute.clear(volts, amps)
            self.long.clear(volts, amps)

    def _left(self, line: Horizon) -> bool:
        """Has the fast average left a line, as that was last fitted?"""
        off = self.fast_volts - line.ends_volts
        far = KINK_NOISES * self.noise_volts
        if off > far or off < -far:
            return True
        off = self.fast_amps - line.ends_amps
        far = KINK_NOISES * self.noise_amps
        return off > far or off < -far

    def _kink(self, volts: float, amps: float) -> None:
        """A line that no longer leads to where the fast average is has bent: let it start anew."""
        self.minute.fit()
        if not self._left(self.minute):
            return
        self.stirred = self.seconds
        self.minute.clear(volts, amps)
        self.long.fit()
        if self._left(self.long):
            self.long.clear(volts, amps)

    def _temperature(self, celsius: float) -> None:
        last = self.celsius
        leapt = False
        if celsius != last:
            if not -39.0 <= celsius <= 90.0:
                return
            if last is not None and not -LEAP_CELSIUS <= celsius - last <= LEAP_CELSIUS:
                suspect = self._celsius_suspect
                self._celsius_suspect = celsius
                if suspect is None or abs(celsius - suspect) > LEAP_CELSIUS:
                    return
                leapt = True
        self._celsius_suspect = None
        if not self.trust.look(self.seconds, celsius):
            return
        self.celsius = celsius
        self.celsius_seconds = self.seconds
        mean = self.mean_celsius
        if mean is None or self.gap or leapt:
            self.mean_celsius = celsius
        elif mean != celsius:
            elapsed = self.elapsed
            self.mean_celsius = mean + elapsed / (elapsed + CELSIUS_SECONDS) * (celsius - mean)

    def _sources(self, inputs: BankInputs) -> None:
        best: float | None = None
        self.reported_stage = None
        standing = 0
        for index, volts in enumerate(inputs.source_volts):
            if volts is not None and 0.0 < volts <= self._high_volts:
                if best is None or volts > best:
                    best = volts
                amps = inputs.source_amps[index]
                if amps is not None and LEAD_AMPS < amps * self._per_amp < PLAUSIBLE_AMPS:
                    ohms = (volts - self.volts) / amps
                    known = self.lead_ohms[index]
                    if known is None:
                        known = ohms if ohms > 0.0 else 0.0
                    self.lead_ohms[index] = known + (max(ohms, 0.0) - known) / LEAD_READINGS
            reported = inputs.reported_stages[index]
            if reported is not None:
                rank = STANDING.get(reported, 0)
                if rank >= standing:
                    standing = rank
                    self.reported_stage = reported
        if best is None:
            if self.rise_measured:
                self.rise_measured = False
                self.source_rise = None
        elif self.source_rise is None or not self.rise_measured or self.gap or self.load_step:
            self.rise_measured = True
            self.source_rise = best - self.volts
        else:
            gain = self.elapsed / (self.elapsed + FAST_SECONDS)
            self.source_rise += gain * (best - self.volts - self.source_rise)
