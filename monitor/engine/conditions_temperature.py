"""Conditions of temperature: too warm, too cold, and the sensor that says so."""

from __future__ import annotations

from typing import Final

from adapters.reading import Quantity
from monitor.engine.condition import (
    CAUTION_GAS,
    CAUTION_POSTS,
    LEAD,
    LFP,
    Cadence,
    Condition,
    Figures,
)
from monitor.engine.snapshot import Priority
from monitor.engine.watch import IDLE_RATE, BankWatch

CELSIUS: Final = (Quantity.BANK_CELSIUS,)
CHARGING_WARM: Final = (Quantity.BANK_CELSIUS, Quantity.BANK_AMPS, Quantity.BANK_VOLTS)

#: °C at which the electrolyte freezes, by state of charge (BCI, secondary copies).
FREEZES: Final = ((0.0, -23.0), (0.25, -27.0), (0.5, -37.0), (0.75, -48.0), (1.0, -59.0))
#: The doubt in the state of charge that counts towards freezing, at most.
MOST_DOUBT: Final = 0.1
#: Runaway needs a bank this warm or a gain over air this large (common practice: 10 °C over
#: ambient); 35 °C where air is not measured: ten above the 25 °C of every set-point.
RUNAWAY_CELSIUS: Final = 35.0
RUNAWAY_OVER_AMBIENT: Final = 10.0
#: Warming since the current was lowest that a sensor of half-degree steps shows surely.
RUNAWAY_WARMING: Final = 1.0
#: Share of the lowest current that the rise must be at least.
RUNAWAY_SHARE: Final = 0.1
#: LFP may be discharged down to here (common practice by cell data sheets).
LFP_COLDEST: Final = -20.0
#: A bank that is heated against frost is kept around ten degrees, not above this (our choice).
HEATED_CELSIUS: Final = 25.0
#: A sensor that has not moved for so long although the bank took so much charge is stuck: that
#: much warms any bank by more than a coarse step (0.2 C at 80 % is a degree or two; our choice).
STUCK_HOURS: Final = 12.0
STUCK_CHARGED: Final = 0.2


def _cold_charge(watch: BankWatch) -> float | None:
    """Degrees below the coldest allowed for charging, 0 while nothing charges."""
    celsius = watch.coldest
    if celsius is None:
        return None
    if watch.rate <= 5.0 * IDLE_RATE:
        return 0.0
    return max(0.0, watch.bank.chemistry.charge_celsius[0] - celsius)


def _rate_detail(watch: BankWatch) -> Figures:
    return (("amps", watch.amps), ("celsius", watch.coldest or 0.0))


def _runaway(watch: BankWatch) -> float | None:
    """Rise of the current at held voltage, in units of C20; 0 where the rest does not fit."""
    hold = watch.hold
    celsius = hold.celsius
    if celsius is None:
        return None
    warm = celsius >= RUNAWAY_CELSIUS or (
        watch.ambient is not None and celsius >= watch.ambient + RUNAWAY_OVER_AMBIENT
    )
    rise = hold.rise_rate
    grows = rise * watch.bank.amp_hours > RUNAWAY_SHARE * hold.low_amps
    fits = warm and grows and hold.warming >= RUNAWAY_WARMING and hold.low_amps > 0.0
    return rise if fits else 0.0


def _runaway_detail(watch: BankWatch) -> Figures:
    hold = watch.hold
    return (
        ("low_amps", hold.low_amps),
        ("amps", hold.amps),
        ("volts", hold.volts),
        ("low_celsius", hold.low_celsius or 0.0),
        ("celsius", hold.celsius or 0.0),
    )


def _above_freezing(watch: BankWatch) -> float | None:
    """Degrees above the freezing point of the electrolyte, as empty as it may well be.

    By one standard deviation emptier than estimated, but not by more than a tenth: what is not
    known at all is no reason to cry.
    """
    if watch.celsius is None or watch.soc is None:
        return None
    if watch.celsius >= 0.0:  # the quick way: as far above the highest freezing point at least
        return watch.celsius - FREEZES[0][1]
    less = min(watch.soc_sd or 0.0, MOST_DOUBT)
    soc = min(1.0, max(0.0, watch.soc - less))
    place = min(3, int(soc * 4.0))
    (low_soc, low), (high_soc, high) = FREEZES[place], FREEZES[place + 1]
    return watch.celsius - (low + (soc - low_soc) / (high_soc - low_soc) * (high - low))


def _too_cold(watch: BankWatch) -> float:
    return watch.bank.chemistry.charge_celsius[0] if watch.bank.chemistry.lead else LFP_COLDEST


def _leap(watch: BankWatch) -> float | None:
    return None if watch.leap is None else abs(watch.leap)


def _leap_detail(watch: BankWatch) -> Figures:
    return (("celsius", watch.read_celsius or 0.0), ("could_be", watch.could_be or 0.0))


def _off_air(watch: BankWatch) -> float | None:
    """°C away from the air's long mean; a heated bank in frost is warm, but never hot."""
    off, celsius = watch.warmth.off_air, watch.read_celsius
    if off is None or celsius is None:
        return None
    return abs(off) if off < 0.0 or celsius > HEATED_CELSIUS else 0.0


def _air_detail(watch: BankWatch) -> Figures:
    return (("celsius", watch.read_celsius or 0.0), ("air", watch.warmth.air or 0.0))


def _float_detail(watch: BankWatch) -> Figures:
    return (("celsius", watch.celsius or 0.0), ("amps", watch.amps))


def _stuck_hours(watch: BankWatch) -> float | None:
    if watch.read_celsius is None:
        return None
    return watch.celsius_same / 3600.0 if watch.charged_since_same >= STUCK_CHARGED else 0.0


def _stuck_detail(watch: BankWatch) -> Figures:
    return (
        ("celsius", watch.read_celsius or 0.0),
        ("charged", watch.charged_since_same * watch.bank.amp_hours),
    )


CONDITIONS: Final[tuple[Condition[BankWatch], ...]] = (
    Condition(
        name="bank-hot",
        words="The bank is too hot to be charged.",
        causes=(
            "overcharge, or thermal runaway beginning",
            "a shorted cell",
            "heat from an engine or from the sun",
        ),
        first="Stop charging and let it cool; ventilate.",
        caution=CAUTION_GAS,
        priority=Priority.HIGH,
        figure=lambda watch: watch.warmest,
        limit=lambda watch: watch.bank.chemistry.charge_celsius[1],
        says="{figure:.1f} °C, charging allowed up to {limit:.0f} °C",
        source="common practice: lead-acid 50 °C, LFP 60 °C by cell sheets",
        inputs=CELSIUS,
        deadband=2.0,
        on_delay=60.0,
        off_delay=300.0,
        unit="celsius",
        possible=(20.0, 90.0),
    ),
    Condition(
        name="bank-warm",
        words="The bank is warm: it ages twice as fast for every 10 °C.",
        causes=(
            "high current for long",
            "overcharge",
            "a compartment without ventilation, in the sun or beside an engine",
        ),
        first="Look for the reason; ventilate, and lower the charging current if it goes on.",
        priority=Priority.LOW,
        figure=lambda watch: watch.warmest,
        limit=lambda _: 45.0,
        says="{figure:.1f} °C, good up to {limit:.0f} °C",
        source="common practice: best below 45 °C; equalizing stops at 46 °C",
        inputs=CELSIUS,
        deadband=2.0,
        on_delay=600.0,
        off_delay=600.0,
        unit="celsius",
        possible=(20.0, 90.0),
    ),
    Condition(
        name="bank-cold",
        words="The bank is so cold that it gives little, takes little, and may be harmed by use.",
        causes=("frost in an unheated compartment", "a sensor that hangs in the air"),
        first="Warm its compartment before you ask much of it or charge it hard.",
        priority=Priority.LOW,
        figure=lambda watch: watch.coldest,
        limit=_too_cold,
        below=True,
        says="{figure:.1f} °C, in use down to {limit:.0f} °C",
        source="common practice: lead-acid charged from -10 °C, LFP in use from -20 °C",
        inputs=CELSIUS,
        deadband=2.0,
        on_delay=1800.0,
        off_delay=1800.0,
        unit="celsius",
        possible=(-39.0, 20.0),
    ),
    Condition(
        name="warming-in-float",
        words="The bank grows warm in float: it turns the float current into heat.",
        causes=(
            "float voltage too high for its temperature",
            "dried-out or shorted cells, thermal runaway beginning",
            "heat from outside",
        ),
        first="Compare float voltage with the set-point; stop the source if it goes on warming.",
        caution=CAUTION_GAS,
        priority=Priority.MEDIUM,
        figure=lambda watch: watch.warmth.float_excess,
        limit=lambda _: 10.0,
        says="{celsius:.1f} °C and rising in float, {figure:.0f} °C above its air, at {amps:.1f} A",
        source="common practice: 10 °C over ambient; taken as 32 °C where nobody measures it",
        inputs=CHARGING_WARM,
        deadband=2.0,
        on_delay=1800.0,
        off_delay=1800.0,
        detail=_float_detail,
        unit="degrees",
        possible=(2.0, 40.0),
    ),
    Condition(
        name="charging-frozen",
        words="The bank is charged below freezing: lithium plates out and the cells are ruined.",
        causes=("no low-temperature cut-off in source or battery", "a sensor at the wrong place"),
        first="Stop charging until the bank is above 0 °C; warm it first.",
        priority=Priority.HIGH,
        figure=_cold_charge,
        limit=lambda _: 0.0,
        says="{amps:.1f} A flows in at {celsius:.1f} °C",
        source="common practice: cell sheets allow charging from 0 °C",
        inputs=CHARGING_WARM,
        on_delay=30.0,
        off_delay=1800.0,
        detail=_rate_detail,
        cadence=Cadence.FAST,
        chemistries=LFP,
        unit="degrees",
        possible=(0.0, 20.0),
    ),
    Condition(
        name="electrolyte-may-freeze",
        words="The bank is so cold and so empty that its electrolyte may freeze and burst it.",
        causes=("a deeply discharged bank in frost",),
        first="Warm the bank or charge it gently; never charge one that is frozen.",
        priority=Priority.HIGH,
        figure=_above_freezing,
        limit=lambda _: 5.0,
        below=True,
        says="{figure:.0f} °C above its freezing point, at least {limit:.0f} °C wanted",
        source="BCI freezing points (secondary copies), 5 °C margin (our choice)",
        inputs=CELSIUS,
        deadband=2.0,
        on_delay=600.0,
        off_delay=600.0,
        chemistries=LEAD,
        unit="degrees",
        possible=(0.0, 40.0),
    ),
    Condition(
        name="thermal-runaway",
        words=(
            "Current is rising while the voltage is held constant, and the bank is getting "
            "hotter: thermal runaway."
        ),
        causes=(
            "charging voltage too high for the temperature, compensation missing",
            "dried-out or shorted cells",
            "a bank that cannot lose its heat",
        ),
        first=(
            "Stop charging now by opening the charger's circuit; ventilate; do not touch the bank."
        ),
        caution=CAUTION_GAS,
        priority=Priority.HIGH,
        figure=_runaway,
        limit=lambda _: 0.0025,
        says=(
            "at a held {volts:.2f} V the current rose {low_amps:.1f} -> {amps:.1f} A "
            "and the bank went from {low_celsius:.1f} to {celsius:.1f} °C"
        ),
        source="common practice: current rising at constant voltage, 10 °C over ambient",
        inputs=CHARGING_WARM,
        deadband=0.001,
        on_delay=120.0,
        off_delay=600.0,
        detail=_runaway_detail,
        unit="amps_per_amp_hour",
        possible=(0.0005, 0.1),
    ),
    Condition(
        name="temperature-stuck",
        words=(
            "The bank's temperature has not moved at all for many hours, through charging: "
            "the temperature sensor is stuck. Compensation and temperature alarms cannot be "
            "trusted."
        ),
        causes=("a dead sensor or a broken lead", "a device that repeats its last figure"),
        first="Warm the sensor by hand: its figure must move; renew it if not.",
        caution=CAUTION_POSTS,
        priority=Priority.MEDIUM,
        figure=_stuck_hours,
        limit=lambda _: STUCK_HOURS,
        says=(
            "exactly {celsius:.1f} °C for {lasted} (suspect after {allowed}) "
            "while {charged:.0f} Ah went in"
        ),
        source="our choice: a fifth of the capacity warms any bank by more than one step",
        inputs=CHARGING_WARM,
        detail=_stuck_detail,
        unit="hours",
        possible=(1.0, 240.0),
    ),
    Condition(
        name="temperature-leapt",
        words=(
            "The bank's temperature moved faster than any bank can warm or cool: the sensor came "
            "off, or it is read wrongly. Compensation and temperature alarms cannot be trusted."
        ),
        causes=(
            "a sensor that came off the battery",
            "a sensor or connector that fails",
            "scale or unit wrong in the device description, if it was changed just now",
        ),
        first="See that the sensor sits on a battery, then compare it with a thermometer.",
        caution=CAUTION_POSTS,
        priority=Priority.MEDIUM,
        figure=_leap,
        limit=lambda _: 10.0,
        says="{celsius:.1f} °C where about {could_be:.0f} °C could be",
        source="physics: tens of kilograms; 30 °C an hour is more than any heater makes",
        inputs=CELSIUS,
        deadband=3.0,
        on_delay=60.0,
        off_delay=300.0,
        detail=_leap_detail,
        unit="degrees",
        possible=(3.0, 60.0),
    ),
    Condition(
        name="temperature-off-air",
        words=(
            "The bank's temperature is far from that of the air it stands in: one of the two "
            "sensors is wrong. Compensation and temperature alarms cannot be trusted."
        ),
        causes=(
            "a sensor of the wrong type, or read with the wrong scale",
            "a sensor that is not on the battery",
            "the air sensor in the sun or outdoors",
        ),
        first="Compare both sensors with a thermometer.",
        priority=Priority.MEDIUM,
        figure=_off_air,
        limit=lambda _: 25.0,
        says="{celsius:.1f} °C in air of {air:.1f} °C over the last hours",
        source="our choice: a bank follows its air within hours; runaway begins at 10 °C over it",
        inputs=(Quantity.BANK_CELSIUS, Quantity.AMBIENT_CELSIUS),
        deadband=5.0,
        on_delay=3600.0,
        off_delay=3600.0,
        detail=_air_detail,
        unit="degrees",
        possible=(5.0, 80.0),
    ),
    Condition(
        name="temperature-missing",
        words=(
            "The bank's temperature is not measured any more: set-points cannot be compensated "
            "and a hot bank would not be noticed."
        ),
        causes=("a sensor unplugged or broken", "its device silent"),
        first="Check the sensor's plug and lead.",
        priority=Priority.LOW,
        figure=lambda watch: watch.celsius_missing,
        limit=lambda _: 300.0,
        says="no temperature for {lasted} beyond the time the last one may be used",
        source="our choice: fifteen minutes in all, a bank moves by half a degree in it",
        inputs=(),
        off_delay=60.0,
        unit="seconds",
        possible=(0.0, 86400.0),
    ),
)
