"""Conditions of the AC that feeds a source: voltage, frequency, neutral, power factor, or none.

Chargers with universal input run from 90 to 265 V and 47 to 63 Hz; what else hangs on the same
supply wants its nominal voltage. Judged wherever a device shows the AC side of a source.
"""

from __future__ import annotations

from typing import Final

from adapters.reading import Quantity
from monitor.engine.condition import Cadence, Condition, Figures
from monitor.engine.duration import duration
from monitor.engine.snapshot import Priority
from monitor.engine.source import SourceRoom

VOLTS: Final = (Quantity.AC_VOLTS,)

#: Universal-input chargers (common practice).
LOWEST_VOLTS: Final = 90.0
HIGHEST_VOLTS: Final = 265.0
LOWEST_HERTZ: Final = 47.0
HIGHEST_HERTZ: Final = 63.0
#: Motors and appliances are made for nominal volts within 10 % (IEC 60038 for 230 V; from memory
#: motors of 120 V too), so both a low and a high supply are told beyond it.
NOMINAL_SHARE: Final = 0.10
#: A supply that has been there for so long is a habit; one that went is missed for so long after,
#: then people have left (our choice: two whole days, two hours).
HABIT_SECONDS: Final = 172800.0
MISSED_SECONDS: Final = 7200.0
CAUTION_AC: Final = (
    "AC kills: leave AC wiring to a qualified electrician; open the pedestal's breaker and unplug "
    "before touching anything."
)


def _volts_detail(room: SourceRoom) -> Figures:
    return (("volts", room.supply.mean_volts or 0.0), ("nominal", room.supply.nominal))


def _high(room: SourceRoom) -> float | None:
    return room.supply.off_nominal


def _low(room: SourceRoom) -> float | None:
    off = room.supply.off_nominal
    return None if off is None else -off


def _off_hertz(room: SourceRoom) -> float | None:
    """Hertz beyond what universal-input chargers take, 0 within."""
    hertz = room.supply.hertz
    return None if hertz is None else max(0.0, LOWEST_HERTZ - hertz, hertz - HIGHEST_HERTZ)


def _hertz_detail(room: SourceRoom) -> Figures:
    return (
        ("hertz", room.supply.hertz or 0.0),
        ("lowest", LOWEST_HERTZ),
        ("highest", HIGHEST_HERTZ),
    )


def _charger_volts(room: SourceRoom) -> float | None:
    return room.supply.volts if room.supply.present else None


def _extremes_detail(room: SourceRoom) -> Figures:
    lowest, highest = room.supply.extremes
    return (("lowest", lowest), ("highest", highest), ("nominal", room.supply.nominal))


def _factor_detail(room: SourceRoom) -> Figures:
    supply = room.supply
    return (
        ("amps", (supply.volt_amperes or 0.0) / (supply.mean_volts or 1.0)),
        ("volts", supply.mean_volts or 0.0),
    )


def _lost(room: SourceRoom) -> float | None:
    """Minutes without AC where the config expects it; 0 where it does not."""
    supply = room.supply
    if supply.present is None:
        return None
    return supply.gone_seconds / 60.0 if room.source.ac_expected else 0.0


def _gone(room: SourceRoom) -> float | None:
    """Minutes without AC where it had been there for days, as long as somebody may miss it."""
    supply = room.supply
    if supply.present is None:
        return None
    habit = supply.there_seconds >= HABIT_SECONDS and not room.source.ac_expected
    return supply.gone_seconds / 60.0 if habit and supply.gone_seconds < MISSED_SECONDS else 0.0


def _stayed(room: SourceRoom) -> str:
    return f"it had been there for {duration(room.supply.there_seconds)}, so it is missed; "


CONDITIONS: Final[tuple[Condition[SourceRoom], ...]] = (
    Condition(
        name="ac-above-charger-range",
        words="The AC voltage is above what any universal-input charger bears.",
        causes=(
            "wired to two phases instead of one",
            "a lost neutral",
            "a generator out of control",
        ),
        first="Unplug from the supply at once.",
        caution=CAUTION_AC,
        priority=Priority.HIGH,
        figure=_charger_volts,
        limit=lambda _: HIGHEST_VOLTS,
        says="{figure:.0f} V, at most {limit:.0f} V",
        source="common practice: universal input is 90 to 265 V",
        inputs=VOLTS,
        deadband=5.0,
        on_delay=10.0,
        off_delay=60.0,
        cadence=Cadence.FAST,
        unit="volts",
        possible=(100.0, 300.0),
    ),
    Condition(
        name="ac-below-charger-range",
        words="The AC voltage is below what a universal-input charger needs: it stops or derates.",
        causes=("a weak or overloaded pedestal", "a long thin cord", "an overloaded generator"),
        first="Switch other AC loads off, or find a better supply.",
        priority=Priority.MEDIUM,
        figure=lambda room: room.supply.mean_volts,
        limit=lambda _: LOWEST_VOLTS,
        below=True,
        says="{figure:.0f} V, at least {limit:.0f} V",
        source="common practice: universal input is 90 to 265 V",
        inputs=VOLTS,
        deadband=3.0,
        on_delay=120.0,
        off_delay=60.0,
        unit="volts",
        possible=(60.0, 230.0),
    ),
    Condition(
        name="ac-frequency-off",
        words="The AC frequency is outside what chargers are made for.",
        causes=("a generator whose speed is wrong", "a generator that is overloaded"),
        first="Have the generator's speed set; unload it first.",
        priority=Priority.MEDIUM,
        figure=_off_hertz,
        limit=lambda _: 0.0,
        says="{hertz:.1f} Hz, {lowest:.0f} to {highest:.0f} Hz wanted",
        source="common practice: universal input is 47 to 63 Hz",
        inputs=(Quantity.AC_HERTZ,),
        on_delay=120.0,
        off_delay=60.0,
        detail=_hertz_detail,
        unit="hertz",
        possible=(0.0, 20.0),
    ),
    Condition(
        name="lost-neutral",
        words=(
            "The AC voltage swings far to both sides of nominal: the neutral of a split supply "
            "seems to be open. What is switched on decides who gets too much."
        ),
        causes=("an open neutral at the pedestal", "a burnt contact in plug or cord"),
        first="Open the pedestal's breaker and unplug; use another pedestal.",
        caution=CAUTION_AC,
        priority=Priority.HIGH,
        figure=lambda room: room.supply.both_sides,
        limit=lambda _: NOMINAL_SHARE,
        says="{lowest:.0f} and {highest:.0f} V within half an hour, nominal {nominal:.0f} V",
        source="physics: two legs in series share 240 V by their loads; 10 % to both sides",
        inputs=VOLTS,
        deadband=0.03,
        on_delay=60.0,
        off_delay=60.0,
        detail=_extremes_detail,
        unit="fraction",
        possible=(0.05, 0.5),
    ),
    Condition(
        name="ac-high",
        words="The AC voltage is too high for what else is plugged in.",
        causes=(
            "a pedestal with its transformer set high",
            "a lost neutral on a split supply",
            "a generator without load",
        ),
        first="Unplug what is sensitive; tell whoever keeps the supply.",
        caution=CAUTION_AC,
        priority=Priority.MEDIUM,
        figure=_high,
        limit=lambda _: NOMINAL_SHARE,
        says="{volts:.0f} V on a {nominal:.0f} V supply",
        source="10 % above nominal: IEC 60038; 120 V from memory alike",
        inputs=VOLTS,
        deadband=0.02,
        on_delay=60.0,
        off_delay=1800.0,
        detail=_volts_detail,
        unit="fraction",
        possible=(0.03, 0.5),
    ),
    Condition(
        name="ac-low",
        words="The AC voltage is too low for what else is plugged in: motors overheat.",
        causes=("a weak or overloaded pedestal", "a long thin cord", "an overloaded generator"),
        first="Switch the air conditioner and other large loads off.",
        priority=Priority.MEDIUM,
        figure=_low,
        limit=lambda _: NOMINAL_SHARE,
        says="{volts:.0f} V on a {nominal:.0f} V supply",
        source="10 % below nominal: IEC 60038; 120 V from memory alike",
        inputs=VOLTS,
        deadband=0.02,
        on_delay=120.0,
        off_delay=1800.0,
        detail=_volts_detail,
        unit="fraction",
        possible=(0.03, 0.5),
    ),
    Condition(
        name="power-factor-low",
        words=(
            "The charger takes its AC current in short gulps: more amps than its watts need, "
            "and breakers and generators feel them."
        ),
        causes=("a charger without correction of its power factor", "its input stage failing"),
        first="Limit the charger's current where breaker or generator is small.",
        priority=Priority.LOW,
        figure=lambda room: room.supply.power_factor,
        limit=lambda _: 0.70,
        below=True,
        says="power factor {figure:.2f} at {amps:.1f} A of {volts:.0f} V",
        source="at 0.70 a 60 A charger breaks the 12 A that a 15 A circuit may carry for hours",
        inputs=(Quantity.AC_VOLTS, Quantity.AC_AMPS),
        deadband=0.03,
        on_delay=600.0,
        off_delay=600.0,
        detail=_factor_detail,
        unit="fraction",
        possible=(0.1, 0.99),
    ),
    Condition(
        name="ac-lost",
        words="There is no AC although it should always be there.",
        causes=("a tripped breaker", "a power cut", "a cord that came out"),
        first="Look at the breaker and at the cord; see how long the bank will last.",
        priority=Priority.MEDIUM,
        figure=_lost,
        limit=lambda _: 2.0,
        says="none for {lasted}; the config says that it is expected",
        source="the config, ac_expected; our choice: two minutes pass most changes of supply",
        inputs=VOLTS,
        off_delay=60.0,
        unit="minutes",
        possible=(0.0, 1440.0),
    ),
    Condition(
        name="ac-gone",
        words="The AC that had been there for days is gone.",
        causes=("somebody unplugged to leave", "a tripped breaker", "a power cut"),
        first="Nothing, if you are leaving; else look at the breaker and at the cord.",
        priority=Priority.LOW,
        figure=_gone,
        limit=lambda _: 10.0,
        adds=_stayed,
        says="none for {lasted}",
        source="our choice: there for two days it is a habit, missed for two hours",
        inputs=VOLTS,
        unit="minutes",
        possible=(0.0, 120.0),
    ),
)
