"""Everything that can be made to go wrong, by name: one table.

A fault turns knobs of the plant (`replay.coach.knobs`) from its onset on. `apply(plant, hours)` is
called again and again with the hours since the onset, so a fault may grow, come and go, or just
set the same knob each time. Adding one is adding a row: name, plain words, what it does, where it
shows.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from adapters.reading import Quantity
from replay.coach import knobs


@dataclass(frozen=True, slots=True)
class Fault:
    """`story` is a coach it suits, `onset_hours` a fair beginning there, `shows` the quantity in
    which it is seen first ("link" or "clock" where that is none of the figures)."""

    name: str
    words: str
    apply: knobs.Apply
    shows: Quantity | str
    story: str = "bench"
    onset_hours: float = 2.0


_Q = Quantity

FAULTS: Final[dict[str, Fault]] = {
    fault.name: fault
    for fault in (
        # instruments
        Fault("shunt_reversed", "the shunt is wired backwards: charging reads as discharge",
              knobs.scaled("bank_amps", -1.0), _Q.BANK_AMPS, onset_hours=0.0),
        Fault("shunt_scale", "the shunt is configured for half its size: amps read half",
              knobs.scaled("bank_amps", 0.5), _Q.BANK_AMPS, onset_hours=0.0),
        Fault("shunt_offset", "the shunt reads too much by half a percent of the amp-hours",
              knobs.shifted("bank_amps", lambda plant: knobs.rate(plant, 0.005)), _Q.BANK_AMPS),
        Fault("temperature_stuck", "the bank's temperature sensor no longer moves",
              knobs.marked("bank_celsius", "stuck"), _Q.BANK_CELSIUS),
        Fault("temperature_missing", "the bank's temperature sensor gives nothing",
              knobs.marked("bank_celsius", "missing"), _Q.BANK_CELSIUS),
        Fault("temperature_implausible", "the temperature sensor reads 35 °C too much",
              knobs.shifted("bank_celsius", lambda _: 35.0), _Q.BANK_CELSIUS),
        Fault("volts_missing", "the shunt's voltage wire has come off",
              knobs.marked("bank_volts", "missing"), _Q.BANK_VOLTS),
        Fault("device_silent", "the shunt does not answer for three hours",
              knobs.silent_for_hours, "link"),
        Fault("poll_gaps", "every third poll of the shunt is lost",
              knobs.device(0, "gaps", 0.35), _Q.BANK_VOLTS),
        Fault("glitches", "now and then the shunt reads nonsense for one poll",
              knobs.device(0, "glitches", 0.03), _Q.BANK_VOLTS),
        Fault("clock_jump", "the wall clock jumps by an hour and a half",
              knobs.clock_jumps, "clock"),
        # wiring
        Fault("joint_resistance", "a joint between charger and bank goes bad over twelve hours",
              knobs.source(knobs.joint), _Q.SOURCE_VOLTS, "pinewater", 0.2),
        Fault("lead_drop", "the leads between charger and bank are far too thin",
              knobs.knob("milliohms", 22.0), _Q.SOURCE_VOLTS, onset_hours=0.0),
        Fault("draw_around_shunt", "something draws from the posts without passing the shunt",
              knobs.around_the_shunt, _Q.BANK_VOLTS),
        Fault("source_around_shunt", "a charger feeds the posts without passing the shunt",
              knobs.source(knobs.bypasses), _Q.BANK_AMPS, onset_hours=0.0),
        Fault("standing_draw", "something new draws all the time",
              knobs.standing(0.012), _Q.BANK_AMPS, "barnstand"),
        Fault("load_left_on", "something large was left on",
              knobs.standing(0.08), _Q.BANK_AMPS, "barnstand"),
        Fault("inverter_sag", "the inverter is asked for more than the bank can hold up",
              knobs.heavy_inverter, _Q.BANK_VOLTS),
        # charging
        Fault("absorption_never_ends", "the charger stays in absorption for ever",
              knobs.knob("never_ends", True), _Q.REPORTED_STAGE, "pinewater", 0.0),
        Fault("never_reaches_absorption", "the charger is too small for what is drawn",
              knobs.source(knobs.too_small), _Q.SOURCE_AMPS, onset_hours=0.0),
        Fault("float_missing", "the charger switches off after absorption instead of floating",
              knobs.knob("stops_when_full", True), _Q.REPORTED_STAGE, onset_hours=0.0),
        Fault("absorption_short", "absorption ends after minutes, day after day",
              knobs.source(knobs.short_absorption), _Q.REPORTED_STAGE, onset_hours=0.0),
        Fault("absorption_high", "the absorption set-point is 0.6 V too high (per 12 V)",
              knobs.moved_per_12(0.6), _Q.BANK_VOLTS, onset_hours=0.0),
        Fault("absorption_low", "all set-points are 0.7 V too low (per 12 V)",
              knobs.moved_per_12(-0.7), _Q.BANK_VOLTS, onset_hours=0.0),
        Fault("float_high", "float is 0.6 V too high (per 12 V)",
              knobs.float_moved(0.6), _Q.BANK_VOLTS, onset_hours=0.0),
        Fault("float_low", "float is 0.6 V too low (per 12 V)",
              knobs.float_moved(-0.6), _Q.BANK_VOLTS, onset_hours=0.0),
        Fault("over_voltage", "the charger's regulator has failed: volts go far too high",
              knobs.moved_per_12(1.6), _Q.BANK_VOLTS, onset_hours=4.0),
        Fault("fixed_overcharge", "the charger only ever holds 14.4 V (per 12 V)",
              knobs.source(knobs.becomes_fixed), _Q.REPORTED_STAGE, onset_hours=0.0),
        Fault("compensation_missing", "the charger no longer follows the bank's temperature",
              knobs.source(knobs.no_compensation), _Q.BANK_VOLTS, "highfell", 1.5),
        Fault("compensation_wrong", "the charger moves its volts the wrong way with temperature",
              knobs.source(knobs.wrong_slope), _Q.BANK_VOLTS, "highfell", 1.5),
        Fault("charger_derated", "the charger is hot and gives two fifths of its rating",
              knobs.limited(0.4), _Q.SOURCE_AMPS, onset_hours=0.6),
        Fault("charge_too_fast", "the charger gives three times its rating",
              knobs.limited(3.0), _Q.SOURCE_AMPS, onset_hours=0.0),
        Fault("charge_interrupted", "the charger stops and starts again and again",
              knobs.source(knobs.comes_and_goes), _Q.SOURCE_AMPS, onset_hours=0.75),
        Fault("equalize_forbidden", "the charger equalizes a bank that must not be",
              knobs.source(knobs.equalizes(False)), _Q.REPORTED_STAGE, onset_hours=6.0),
        Fault("equalize_never_ends", "equalize goes on and on",
              knobs.source(knobs.equalizes(True)), _Q.REPORTED_STAGE, "pinewater", 5.0),
        Fault("report_disagrees", "the charger says float, whatever it does",
              knobs.knob("claims", "float"), _Q.REPORTED_STAGE, onset_hours=0.0),
        Fault("uneven_sharing", "of two sources on one bank, one does nearly all the work",
              knobs.moved_per_12(-0.5, 1), _Q.SOURCE_AMPS, "twofold", 0.0),
        Fault("sun_blocked", "the panels are covered",
              knobs.dim_sun, _Q.SOURCE_AMPS, "saltmarsh", 2.0),
        # the bank
        Fault("thermal_runaway", "the bank heats itself: more current, more heat, more current",
              knobs.runaway, _Q.BANK_CELSIUS, onset_hours=4.0),
        Fault("shorted_cell", "one cell has shorted",
              knobs.shorted, _Q.BANK_VOLTS, onset_hours=8.0),
        Fault("sulfated", "the bank has lost half its capacity: full soon, empty soon",
              knobs.sulfated, _Q.BANK_VOLTS, onset_hours=0.0),
        Fault("halves_drift", "one half of the bank falls behind the other",
              knobs.halves_drift, _Q.UPPER_HALF_VOLTS, "highfell", 1.0),
        Fault("cells_drift", "the cells are no longer equally full",
              knobs.cells_drift, _Q.HIGHEST_CELL_VOLTS, "saltmarsh", 3.0),
        Fault("self_discharge", "the bank loses its charge by itself",
              knobs.self_discharge, _Q.BANK_AMPS),
        # temperature
        Fault("bank_hot", "the bank's box is far too warm", knobs.weather(28.0), _Q.BANK_CELSIUS),
        Fault("bank_cold", "a hard frost", knobs.weather(-30.0), _Q.BANK_CELSIUS),
        Fault("may_freeze", "a deep frost and a nearly empty bank",
              knobs.cold_and_empty, _Q.BANK_CELSIUS),
        Fault("charged_below_zero", "LFP is charged below 0 °C and nothing stops it",
              knobs.cold_charge, _Q.BANK_CELSIUS, "saltmarsh", 2.0),
        Fault("kept_full_and_warm", "LFP is held full, in the heat",
              knobs.kept_full, _Q.BANK_CELSIUS, "saltmarsh", 2.0),
        # protection
        Fault("charge_side_opens", "the protection opens its charge side for two hours",
              knobs.side_open("force_charge_open", 2.0), _Q.CHARGE_PERMITTED, "saltmarsh", 4.5),
        Fault("discharge_side_opens", "the protection opens its discharge side for an hour",
              knobs.side_open("force_discharge_open", 1.0),
              _Q.DISCHARGE_PERMITTED, "saltmarsh", 0.3),
        # the AC side
        Fault("ac_low", "the pedestal gives a fifth too little", knobs.supply_volts(0.80),
              _Q.AC_VOLTS, "pinewater"),
        Fault("ac_high", "the pedestal gives a sixth too much", knobs.supply_volts(1.16),
              _Q.AC_VOLTS, "pinewater"),
        Fault("ac_lost", "shore power is gone",
              knobs.supply("lost", True), _Q.AC_VOLTS, "pinewater"),
        Fault("ac_hertz_off", "the generator runs too fast", knobs.supply("source_hertz", 66.5),
              _Q.AC_HERTZ, "pinewater"),
        Fault("lost_neutral", "the neutral of a split supply is open", knobs.lost_neutral,
              _Q.AC_VOLTS, "pinewater"),
        Fault("power_factor_low", "the charger takes its current in short gulps",
              knobs.supply("power_factor", 0.60), _Q.AC_POWER_FACTOR, "pinewater", 0.5),
    )
}  # fmt: skip
