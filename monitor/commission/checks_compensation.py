"""Check of temperature compensation: the regulated voltage follows the charger's own probe."""

from __future__ import annotations

from typing import Final

from monitor.commission.check import Ask, Check, Result, Watch, asking, judged, not_done
from monitor.commission.checks_charging import at_any_time, in_bulk, regulated_volts
from monitor.commission.checks_temperature import compensates
from monitor.commission.memory import steady
from monitor.commission.record import Figure, Limit
from monitor.commission.setting import Setting

#: The change asked for on the probe (handbook of checks: at least 15 °C), and how long a
#: regulator may take to follow it.
_LEAST_CELSIUS: Final = 15.0
_FOLLOW_SECONDS: Final = 300.0
_GIVE_UP_SECONDS: Final = 1200.0


def _compensation_limits(setting: Setting, target: str) -> tuple[Limit, ...]:
    slope = setting.given(target, "compensation") or 0.0
    source = "the slope as set, a third to either side (our choice: probes and water are uneven)"
    low, high = sorted((slope * 0.67, slope * 1.33))
    return (Limit("slope", "mV", round(low, 2), round(high, 2), source, "mV per °C and cell"),)


def _compensation(watch: Watch) -> Result | None:
    volts, seconds, memory = regulated_volts(watch), watch.look.seconds, watch.memory
    if volts is None:
        return None
    bank = 0.03 * watch.setting.twelves
    now = steady(memory, "volts", volts, seconds, bank)
    before, after = watch.figure("before"), watch.figure("after")
    if in_bulk(watch) and watch.setting.given(watch.target, "float") is None:
        return None
    if before is None:
        return None
    if "was" not in memory:
        if now.seconds < 60.0:
            return None
        memory["was"], memory["was_sd"] = now.mean, now.sd
    if after is None:
        return None
    change = after - before
    if abs(change) < _LEAST_CELSIUS:
        return not_done(f"the probe changed by {change:+.0f} °C only: at least 15 °C are needed")
    since = seconds - memory.setdefault("since", seconds)
    still = now.seconds >= 120.0 and since >= _FOLLOW_SECONDS
    moved = abs(now.mean - memory["was"]) > bank
    if not still or (not moved and since < _GIVE_UP_SECONDS):
        return None
    cells = watch.setting.bank.cells
    slope = 1000.0 * (now.mean - memory["was"]) / change / cells
    doubt = abs(slope) * 1.5 * 1.41 / abs(change) + 1000.0 * 0.01 / abs(change) / cells
    why = "" if moved else "the regulated voltage does not follow the probe"
    return judged(
        watch.limits,
        (
            Figure("change on the probe", change, "°C", 2.1),
            Figure("volts before", memory["was"], "V", 0.01),
            Figure("volts after", now.mean, "V", 0.01),
            Figure("slope", slope, "mV", doubt),
        ),
        why,
    )


CHECKS: Final = (
    Check(
        id="compensation",
        group="the charge",
        title="The charger follows its probe",
        purpose="Without it the bank is undercharged in winter and gassed in summer.",
        caution="Water near posts: probe in a bag or off the post, cup on the floor. Never leave a "
        "warmed or cooled probe behind.",
        hands="While a voltage is held: enter the probe's temperature. Put it into ice water (a "
        "regulator raises its volts at once; falling takes the bank's time). Enter the new "
        "temperature, wait some minutes. Put the probe back. A probe colder than 17 °C: let it "
        "settle in hand-warm water first, and begin with that.",
        watches="the regulated voltage before and after",
        shows="source_volts",
        targets=at_any_time,
        needless=compensates,
        asks=asking(
            Ask("before", "Temperature of the probe before", "°C", -40.0, 80.0),
            Ask("after", "Temperature of the probe in the water", "°C", -40.0, 80.0),
        ),
        limits=_compensation_limits,
        watch=_compensation,
    ),
)
