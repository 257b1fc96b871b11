"""Which condition must name each fault of the simulated coach, how soon, and what else it explains.

One table for each group; the whole is gathered where the faults are played to the engine.
"""

from __future__ import annotations

from typing import Final, NamedTuple

NOTHING: Final[frozenset[str]] = frozenset()


class Expected(NamedTuple):
    """`row` names the fault within `seconds` of its onset, or of when it shows.

    `also` are conditions of high priority that the fault itself brings. `shows_hours` after the
    onset the physics has come so far that anybody could see it: frost takes its time to reach a
    bank. `hours` after the onset the run ends. `config` is what its owner says beside, put after
    a line of the config.
    """

    row: str
    seconds: float
    also: frozenset[str] = NOTHING
    shows_hours: float = 0.0
    hours: float = 1.0
    config: tuple[str, str] = ("", "")


#: Voltage, current, temperature.
LIMITS: Final[dict[str, Expected]] = {
    # 25 °C + 28: warm after four hours, by the simulated bank's own inertia
    "bank_hot": Expected("bank-warm", 1200.0, shows_hours=4.2, hours=6.0),
    "bank_cold": Expected("bank-cold", 7200.0, shows_hours=13.0, hours=16.0),
    "may_freeze": Expected(
        "electrolyte-may-freeze",
        14400.0,
        frozenset({"under-voltage"}),
        shows_hours=8.5,
        hours=13.0,
    ),
    "charged_below_zero": Expected("charging-frozen", 3600.0, shows_hours=1.3, hours=2.5),
    "temperature_implausible": Expected("temperature-leapt", 180.0),
    "over_voltage": Expected("over-voltage", 60.0),
    # from when the charger is switched on
    "charge_too_fast": Expected("charge-current-high", 400.0, shows_hours=0.5),
    # it has given its best for six minutes only
    "charger_derated": Expected("source-gives-less", 1500.0),
    "inverter_sag": Expected("discharge-current-high", 400.0),
}

PROTECTION: Final[dict[str, Expected]] = {
    "charge_side_opens": Expected("charge-side-open", 60.0, hours=3.0),
    "discharge_side_opens": Expected("discharge-side-open", 60.0, hours=2.0),
}

SUPPLY: Final[dict[str, Expected]] = {
    "ac_low": Expected("ac-low", 240.0),
    "ac_high": Expected("ac-high", 180.0),
    "ac_hertz_off": Expected("ac-frequency-off", 240.0),
    # a quarter of an hour high before it is low
    "lost_neutral": Expected("lost-neutral", 180.0, shows_hours=0.25),
    "power_factor_low": Expected("power-factor-low", 780.0),
    "ac_lost": Expected("ac-lost", 300.0, config=("[sources.shore]", "ac_expected = true")),
}
