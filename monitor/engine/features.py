"""What the signal means for a bank of any size: per cell, at 25 °C, in units of its capacity.

Everything that the stage filter weighs is worked out here once a reading: where the volts stand,
whether they are flat, whether they follow the amps (a source at its limit, or none) or are held
whatever the amps do (a source that regulates), and whether the amps wander as only the sun's do.
"""

from __future__ import annotations

from typing import ClassVar, Final

from monitor.bank import Bank
from monitor.engine.setpoints import SetPoints
from monitor.engine.signal import Signal

#: Share of one reading's variance that is left in the fast average (8 s at 5 s sampling).
FAST_SHARE: Final = 0.35
#: Volts per cell of error that no averaging removes (compensation steps, quantised readings).
FLOOR_VOLTS: Final = 0.001
#: Volts per cell by which a bank answers a step of one C20 at once. Common practice: a new 100 Ah
#: block has 3..6 milliohm with its leads, an old one three times that. Learned from load steps.
STEP_OHM: Final = 0.3
LEAST_STEP_OHM: Final = 0.05
MOST_STEP_OHM: Final = 2.0
STEP_OHM_ERROR: Final = 0.4
STEP_OHM_AMPS: Final = 0.02
#: Lead resistance from source to posts in the same unit: 2 to 15 milliohm is common, and a 12 V
#: bank of 200 Ah makes 10 milliohm 0.33 V per C20 and cell.
LEAD: Final = 0.03
LEAD_SD: Final = 0.06
#: No source regulates perfectly: what it may let the volts follow of the bank's own answer to the
#: amps and still count as holding them (from memory: overshoot and droop of simple regulators).
DROOP: Final = 0.2
#: Noise of the fast average against the slow one, in noises of one reading.
COMPARED: Final = 0.7
#: The most that one comparison of held against following may say, in nats.
FOLLOW_CAP: Final = 4.0
#: A source stands this far above the posts of an LFP bank without current: its protection has
#: opened (volts per cell; more than leads of 6 milliohm drop with a load of 25 A at 12 V).
OPEN_VOLTS: Final = 0.04
OPEN_AMPS: Final = 0.004
#: While a voltage is held the current falls at least as fast as with this time constant, in
#: seconds, lead and LFP (from memory: a lead bank's taper takes one to three hours per factor e,
#: an LFP bank's minutes), until only gas is left, in C20 (a flooded bank at its last, 2 %).
SLOWEST_TAPER: Final = {True: 18000.0, False: 3600.0}
GAS_AMPS: Final = 0.02
#: The sun wanders: amps whose slope over minutes is this many deviations; remembered for so long.
WANDER_SIGMAS: Final = 4.0
WANDER_SECONDS: Final = 1800.0
#: Amps zero of the sensor before it was ever seen, in C20 (from memory: a shunt monitor zeroed when
#: it was fitted keeps to 0.1 A on a bank of 200 Ah). A steady draw beyond that is a load's, until
#: float shows otherwise: something is always on in a coach.
ZERO_SD: Final = 0.0005


class Features:
    """Features of the latest reading; names end in what they are per: cell volts, C20 amps.

    `cell` volts per cell at the posts, moved to 25 °C; `held` the same at the end where a source
    would hold them, with `lead_sd` its error; `amps` less the sensor's zero, `amps_sd`, and
    `sigmas` = amps / amps_sd; `rise_sigmas` slope of volts within the last minute, `drift` and
    `drift_sigmas` within the last ten, less what leads explain; `steepest` what it surely is
    below; `taper_sigmas` and `wander_sigmas` the same
    for amps; `keeps`: nats by which volts were held (> 0) rather than followed the amps (< 0);
    `untapered`: deviations by which the current fell too little for a held voltage; `wanders`
    0..1: the amps moved as the sun's do while nothing was held (`unheld`, said from outside);
    `opened`: source and bank are parted. `shift` is what compensation adds now; `measured`: the
    source's own volts are known; `seconds`, `permitted`, `reported` as the devices gave them.
    """

    KEPT: ClassVar[tuple[str, ...]] = (
        "_lead",
        "amps",
        "amps_sd",
        "cell",
        "drift",
        "drift_sd",
        "drift_sigmas",
        "held",
        "keeps",
        "lead_sd",
        "measured",
        "noise_amps",
        "opened",
        "permitted",
        "reported",
        "rise_sigmas",
        "seconds",
        "shift",
        "sigmas",
        "steepest",
        "step_ohm",
        "taper_sigmas",
        "unheld",
        "untapered",
        "volts_variance",
        "wander_sigmas",
        "wanders",
        "zero",
        "zero_sd",
    )
    __slots__ = (*KEPT, "_cells", "_per_amp", "_protected", "_slowest")

    def __init__(self, bank: Bank) -> None:
        self._cells = 1.0 / bank.cells
        self._per_amp = 1.0 / bank.amp_hours
        self._protected = not bank.chemistry.lead
        self._slowest = SLOWEST_TAPER[bank.chemistry.lead]
        self._lead = LEAD
        self.amps = 0.0
        self.amps_sd = ZERO_SD
        self.cell = 0.0
        self.drift = 0.0
        self.drift_sd = 1.0
        self.drift_sigmas = 0.0
        self.held = 0.0
        self.keeps = 0.0
        self.lead_sd = LEAD_SD
        self.noise_amps = 0.0
        self.measured = False
        self.opened = False
        self.permitted: bool | None = None
        self.reported: str | None = None
        self.seconds = 0.0
        self.shift = 0.0
        self.rise_sigmas = 0.0
        self.sigmas = 0.0
        self.steepest = 1.0
        self.step_ohm = STEP_OHM
        self.taper_sigmas = 0.0
        self.unheld = True
        self.untapered = 0.0
        self.volts_variance = FLOOR_VOLTS * FLOOR_VOLTS
        self.wander_sigmas = 0.0
        self.wanders = 0.0
        self.zero = 0.0
        self.zero_sd = ZERO_SD

    def update(self, signal: Signal, points: SetPoints, elapsed: float) -> None:
        per_cell = self._cells
        per_amp = self._per_amp
        minute = signal.minute
        wide = signal.long
        minute.fit()
        wide.fit()
        self.shift = shift = points.shift(signal.mean_celsius)
        cell = signal.fast_volts * per_cell - shift
        amps = signal.fast_amps * per_amp - self.zero
        noise_amps = signal.noise_amps * per_amp
        noise_volts = signal.noise_volts * per_cell
        self.seconds = signal.seconds
        self.reported = signal.reported_stage
        self.cell = cell
        self.amps = amps
        self.noise_amps = noise_amps
        self.amps_sd = sd = (
            FAST_SHARE * noise_amps * noise_amps + self.zero_sd * self.zero_sd
        ) ** 0.5
        self.sigmas = amps / sd
        self.volts_variance = FAST_SHARE * noise_volts * noise_volts + FLOOR_VOLTS * FLOOR_VOLTS
        self._ends(signal.source_rise, signal.charge_permitted)

        root = minute.spread**0.5
        rise = minute.slope_volts * per_cell
        taper = minute.slope_amps * per_amp
        rise_sd = root * noise_volts
        if signal.source_rise is None and taper < 0.0 < rise:
            # leads without sense wires: the posts rise while the current tapers
            rise += (LEAD + LEAD_SD) * taper
            if rise < 0.0:
                rise = 0.0
        droop = DROOP * self.step_ohm * taper
        self.rise_sigmas = rise / (rise_sd + (droop if droop > 0.0 else -droop))
        taper_sd = root * noise_amps
        self.taper_sigmas = taper / taper_sd
        root = wide.spread**0.5
        drift = wide.slope_volts * per_cell
        wide_sd = root * noise_amps
        wide_taper = wide.slope_amps * per_amp
        if signal.source_rise is None and wide_taper < 0.0 < drift:
            drift += (LEAD + LEAD_SD) * wide_taper
            if drift < 0.0:
                drift = 0.0
        self.drift_sd = drift_sd = root * noise_volts
        self.drift = drift
        droop = DROOP * self.step_ohm * wide_taper
        self.drift_sigmas = drift / (drift_sd + (droop if droop > 0.0 else -droop))
        self.steepest = (drift if drift > 0.0 else -drift) + 2.0 * drift_sd
        self.wander_sigmas = wide_taper / wide_sd
        if amps > GAS_AMPS:
            # a held voltage lets the current fall; a source at its limit does not
            missing = (amps - GAS_AMPS) / self._slowest
            short = (wide_taper + missing) / wide_sd
            also = (taper + missing) / taper_sd
            if also < short:
                short = also
            # a current that climbs is no limit either: the posts recover from a load
            self.untapered = short if short > 0.0 and wide_taper < missing else 0.0
        else:
            self.untapered = 0.0
        wandering = (
            1.0
            if self.unheld
            and (self.wander_sigmas > WANDER_SIGMAS or self.wander_sigmas < -WANDER_SIGMAS)
            else 0.0
        )
        self.wanders += (wandering - self.wanders) * elapsed / (elapsed + WANDER_SECONDS)

        # what the amps did within the last minute should have moved the volts by `answer`
        answer = self.step_ohm * (amps + self.zero - signal.slow_amps * per_amp)
        seen = (signal.fast_volts - signal.slow_volts) * per_cell
        sd = COMPARED * noise_volts
        if -2.0 * sd < answer < 2.0 * sd:
            answer = self.step_ohm * wide_taper
            seen = wide.slope_volts * per_cell
            sd = drift_sd
        if answer > 2.0 * sd or answer < -2.0 * sd:
            self.keeps = self._compare(seen, answer, sd)
        else:
            self.keeps = 0.0

    def _ends(self, source_rise: float | None, permitted: bool | None) -> None:
        self.permitted = permitted
        self.opened = permitted is False
        self.measured = source_rise is not None
        if source_rise is None:
            amps = self.amps if self.amps > 0.0 else 0.0
            self.held = self.cell + self._lead * amps
            self.lead_sd = LEAD_SD * amps
            return
        rise = source_rise * self._cells
        # a source that stands below the posts holds nothing of the bank's
        self.held = self.cell + rise if rise > 0.0 else self.cell
        self.lead_sd = 0.0
        if self._protected and rise > OPEN_VOLTS and -OPEN_AMPS < self.amps < OPEN_AMPS:
            self.opened = True

    @staticmethod
    def _compare(seen: float, answer: float, sd: float) -> float:
        """Nats for volts that stayed over volts that gave the answer expected of the bank."""
        if seen * answer < 0.0:
            return 0.0  # the other way: charge going in or out, which tells nothing
        error = STEP_OHM_ERROR * answer
        miss = seen - answer
        nats = 0.5 * (miss * miss - seen * seen) / (sd * sd + error * error)
        return min(max(nats, -FOLLOW_CAP), FOLLOW_CAP)

    def learn_ohm(self, signal: Signal) -> None:
        """A step while no source regulated: the bank itself answered."""
        amps = signal.step_amps * self._per_amp
        if signal.load_step and (amps > STEP_OHM_AMPS or amps < -STEP_OHM_AMPS):
            ohm = signal.step_volts * self._cells / amps
            if LEAST_STEP_OHM < ohm < MOST_STEP_OHM:
                self.step_ohm += 0.1 * (ohm - self.step_ohm)

    def learn_zero(self, amps: float, seconds: float, least_sd: float) -> None:
        """The sensor showed `amps` (C20, zero not taken off) for `seconds` when none flowed."""
        gain = seconds / (seconds + 1800.0)
        self.zero += gain * (amps - self.zero)
        variance = (1.0 - gain) * self.zero_sd * self.zero_sd
        self.zero_sd = variance**0.5 if variance > least_sd * least_sd else least_sd
