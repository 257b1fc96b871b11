"""Conditions of current and of the installation: too much of it, the wrong way round, lost."""

from __future__ import annotations

from typing import Final

from adapters.reading import Quantity
from monitor.engine.condition import (
    CAUTION_ACID,
    CAUTION_POSTS,
    Cadence,
    Condition,
    Figures,
)
from monitor.engine.snapshot import Priority
from monitor.engine.source import SourceRoom
from monitor.engine.watch import BankWatch

#: What LFP takes near freezing, (°C, share of C20), straight between: published operating sheets
#: allow 0.1 C from 0 °C, 0.2 C from 5 °C and the full current from 10 °C or a little above.
LFP_COLD: Final = ((0.0, 0.10), (5.0, 0.20), (10.0, 0.50))
#: The most that a bank should give for longer than minutes, in C20 (common practice).
MOST_DRAWN: Final = 1.0
#: A shunt or a charger's meter may show so much too much before a cable is called overloaded, and
#: a fuse carries a tenth more for hours (common practice for both).
CABLE_METER: Final = 1.05
FUSE_CARRIES: Final = 1.10
PAIR: Final = (Quantity.BANK_VOLTS, Quantity.BANK_AMPS)


def charge_rate(watch: BankWatch) -> float:
    """The highest current that may go in, in C20: less into LFP that is near freezing."""
    most = watch.bank.chemistry.charge_amps
    celsius = watch.coldest
    if celsius is None or watch.bank.chemistry.lead or celsius >= LFP_COLD[-1][0]:
        return most
    low, low_rate = LFP_COLD[0]
    for high, high_rate in LFP_COLD[1:]:
        if celsius <= high:
            share = max(0.0, (celsius - low) / (high - low))
            return min(most, low_rate + share * (high_rate - low_rate))
        low, low_rate = high, high_rate
    return most


def _charge_limit(watch: BankWatch) -> float:
    return charge_rate(watch) * 1.1


def _amps_detail(watch: BankWatch) -> Figures:
    return (("amps", watch.amps), ("most_amps", charge_rate(watch) * watch.bank.amp_hours))


def _drawn_detail(watch: BankWatch) -> Figures:
    most = MOST_DRAWN * watch.bank.amp_hours
    return (("amps", -watch.amps), ("volts", watch.volts), ("most_amps", most))


def _share(amps: float, rated: float | None) -> float | None:
    return None if not rated else abs(amps) / rated


def _cable_detail(watch: BankWatch) -> Figures:
    return (("amps", abs(watch.amps)), ("rated", watch.bank.cable_amps or 0.0))


def _fuse_detail(watch: BankWatch) -> Figures:
    return (("amps", abs(watch.amps)), ("rated", watch.bank.fuse_amps or 0.0))


def _source_cable_detail(room: SourceRoom) -> Figures:
    return (("amps", room.amps or 0.0), ("rated", room.source.cable_amps or 0.0))


def _source_fuse_detail(room: SourceRoom) -> Figures:
    return (("amps", room.amps or 0.0), ("rated", room.source.fuse_amps or 0.0))


def _dead_cell(watch: BankWatch) -> float:
    return 1.0 if watch.votes.dead_cell else 0.0


def _dead_cell_detail(watch: BankWatch) -> Figures:
    votes = watch.votes
    return (
        ("volts_before", votes.volts_before),
        ("volts_after", votes.volts_after),
        ("amps_before", votes.amps_before),
        ("amps", watch.amps),
    )


def _output_detail(room: SourceRoom) -> Figures:
    return (("amps", room.amps or 0.0), ("best", room.output.best))


CONDITIONS: Final[tuple[Condition[BankWatch], ...]] = (
    Condition(
        name="charge-current-high",
        words="The bank is charged with more current than its chemistry should get.",
        causes=(
            "sources too large for the bank",
            "several sources at once",
            "an LFP bank that is too cold for this current",
            "shunt scale wrong",
        ),
        first="Limit the source's current.",
        priority=Priority.MEDIUM,
        figure=lambda watch: watch.rate,
        limit=_charge_limit,
        says="{amps:.0f} A, at most {most_amps:.0f} A",
        source=(
            "common practice: 0.25 C lead-acid (AGM 0.3 C), 0.5 C LFP, less below 10 °C by "
            "published operating sheets; and a tenth for the meter"
        ),
        inputs=(Quantity.BANK_AMPS,),
        deadband=0.02,
        on_delay=300.0,
        off_delay=300.0,
        detail=_amps_detail,
        unit="amps_per_amp_hour",
        possible=(0.01, 5.0),
    ),
    Condition(
        name="discharge-current-high",
        words="More is drawn from the bank than it can hold up: it sags, warms and wears.",
        causes=(
            "an inverter too large for the bank",
            "several large loads at once",
            "shunt scale wrong",
        ),
        first="Switch the largest load off, or start a source beside it.",
        priority=Priority.MEDIUM,
        figure=lambda watch: -watch.rate,
        limit=lambda _: MOST_DRAWN * 1.1,
        says="{amps:.0f} A drawn at {volts:.2f} V, at most {most_amps:.0f} A",
        source="common practice: 1 C for minutes, LFP by cell sheets; and a tenth for the meter",
        inputs=PAIR,
        deadband=0.1,
        on_delay=120.0,
        off_delay=120.0,
        detail=_drawn_detail,
        unit="amps_per_amp_hour",
        possible=(0.05, 5.0),
    ),
    Condition(
        name="cable-overloaded",
        words="The bank's cable carries more than its rating: its insulation overheats.",
        causes=(
            "loads or sources added since it was laid",
            "a rating in the config that is not the cable's",
        ),
        first="Lower the current now; feel along the cable for heat, with care.",
        caution=CAUTION_POSTS,
        priority=Priority.HIGH,
        figure=lambda watch: _share(watch.amps, watch.bank.cable_amps),
        limit=lambda _: CABLE_METER,
        says="{amps:.0f} A of {rated:.0f} A",
        source="the config, cable_amps, and 5 % for the meter (common practice)",
        inputs=(Quantity.BANK_AMPS,),
        deadband=0.05,
        on_delay=120.0,
        off_delay=120.0,
        detail=_cable_detail,
        unit="share_of_rating",
        possible=(0.1, 3.0),
    ),
    Condition(
        name="fuse-overloaded",
        words="The bank's fuse carries more than its rating: it will blow in minutes or hours.",
        causes=(
            "loads or sources added since it was fitted",
            "a rating in the config that is not the fuse's",
        ),
        first="Lower the current; never fit a larger fuse than the cable's rating.",
        priority=Priority.MEDIUM,
        figure=lambda watch: _share(watch.amps, watch.bank.fuse_amps),
        limit=lambda _: FUSE_CARRIES,
        says="{amps:.0f} A of {rated:.0f} A",
        source="the config, fuse_amps; a fuse carries a tenth more for hours (common practice)",
        inputs=(Quantity.BANK_AMPS,),
        deadband=0.05,
        on_delay=120.0,
        off_delay=120.0,
        detail=_fuse_detail,
        unit="share_of_rating",
        possible=(0.1, 3.0),
    ),
    Condition(
        name="shunt-reversed",
        words=(
            "The current reading has the wrong sign: voltage climbs while the meter shows the "
            "bank discharging, and sags while it shows charging. The shunt is wired or configured "
            "backwards; state of charge cannot be trusted."
        ),
        causes=("shunt wired the wrong way round", "sign of the current wrong in the config"),
        first="Turn the sign round in the device description, or swap the shunt's sense wires.",
        caution=CAUTION_POSTS,
        priority=Priority.HIGH,
        figure=lambda watch: -float(watch.votes.trust),
        limit=lambda _: 2.5,
        says="{figure:.0f} steps of the current were answered by the voltage the wrong way round",
        source="physics: more current into a bank raises its voltage",
        inputs=PAIR,
        deadband=2.0,
        on_delay=0.0,
        unit="steps",
        possible=(1.0, 5.0),
    ),
    Condition(
        name="shorted-cell",
        words=(
            "One cell is shorted: the bank's voltage fell all at once while the current into it "
            "did not. The charger cannot reach its set-point and the bank warms."
        ),
        causes=("a cell shorted by shed material or a failed separator", "a cell reversed"),
        first="Stop charging and disconnect the battery.",
        caution=CAUTION_ACID,
        priority=Priority.HIGH,
        figure=_dead_cell,
        limit=lambda _: 0.5,
        says=(
            "fell at once from {volts_before:.2f} to {volts_after:.2f} V while the current "
            "went from {amps_before:.1f} to {amps:.1f} A"
        ),
        source="physics: a lead-acid cell is 2 V, an LFP cell 3.2 V",
        inputs=PAIR,
        detail=_dead_cell_detail,
        latched=True,
        cadence=Cadence.FAST,
    ),
)

SOURCE_CONDITIONS: Final[tuple[Condition[SourceRoom], ...]] = (
    Condition(
        name="source-gives-less",
        words="The charger gives far less than it has given before, and the bank would take more.",
        causes=(
            "it is hot: no air, or a fan that failed",
            "weak AC: a low voltage or a limit on what it may take",
            "turned down on purpose",
            "a fault in its output stage",
        ),
        first="Feel whether it is hot and see that air gets to it; look at its AC voltage.",
        priority=Priority.LOW,
        figure=lambda room: room.output.share,
        limit=lambda _: 0.6,
        below=True,
        says="{amps:.1f} A at its limit, {best:.0f} A before",
        source="our choice: three fifths of its own best, for twenty minutes",
        inputs=(Quantity.SOURCE_AMPS,),
        deadband=0.1,
        on_delay=1200.0,
        off_delay=600.0,
        detail=_output_detail,
        unit="share_of_best",
        possible=(0.05, 0.95),
    ),
    Condition(
        name="source-cable-overloaded",
        words="The source's cable carries more than its rating: its insulation overheats.",
        causes=(
            "loads or sources added since it was laid",
            "a rating in the config that is not the cable's",
        ),
        first="Lower the current now; feel along the cable for heat, with care.",
        caution=CAUTION_POSTS,
        priority=Priority.HIGH,
        figure=lambda room: _share(room.amps or 0.0, room.source.cable_amps),
        limit=lambda _: CABLE_METER,
        says="{amps:.0f} A of {rated:.0f} A",
        source="the config, cable_amps, and 5 % for the meter (common practice)",
        inputs=(Quantity.SOURCE_AMPS,),
        deadband=0.05,
        on_delay=120.0,
        off_delay=120.0,
        detail=_source_cable_detail,
        unit="share_of_rating",
        possible=(0.1, 3.0),
    ),
    Condition(
        name="source-fuse-overloaded",
        words="The source's fuse carries more than its rating: it will blow in minutes or hours.",
        causes=(
            "loads or sources added since it was fitted",
            "a rating in the config that is not the fuse's",
        ),
        first="Lower the current; never fit a larger fuse than the cable's rating.",
        priority=Priority.MEDIUM,
        figure=lambda room: _share(room.amps or 0.0, room.source.fuse_amps),
        limit=lambda _: FUSE_CARRIES,
        says="{amps:.0f} A of {rated:.0f} A",
        source="the config, fuse_amps; a fuse carries a tenth more for hours (common practice)",
        inputs=(Quantity.SOURCE_AMPS,),
        deadband=0.05,
        on_delay=120.0,
        off_delay=120.0,
        detail=_source_fuse_detail,
        unit="share_of_rating",
        possible=(0.1, 3.0),
    ),
)
