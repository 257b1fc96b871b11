"""Conditions of one source: over its rating, at odds with itself, cut off, its joints failing."""

from __future__ import annotations

from typing import Final

from adapters.reading import Quantity
from monitor.engine.condition import CAUTION_POSTS, Condition, Figures
from monitor.engine.snapshot import Priority
from monitor.engine.source import SourceRoom

#: A joint that lost so much beyond its first figure, and doubled it, is going bad; below that it
#: is meters disagreeing (10 mV of 12 V and half an amp of 50 make half a milliohm; our choice).
LEAST_GROWTH_OHMS: Final = 0.002
#: Voltage lost between source and bank: 3 % of nominal at full current (ABYC E-11 for feeders).
LEAD_DROP: Final = 0.03
#: A source that was seen parted from the posts (`monitor.engine.source`) is cut off while it stands
#: above them at all; what is shown is this at least, in volts per 12 V.
CUT_OFF: Final = 0.02
LEAST_SHOWN: Final = 0.05


def _over(room: SourceRoom) -> float | None:
    if room.amps is None or not room.source.rated_amps:
        return None
    return room.amps / room.source.rated_amps


def _over_detail(room: SourceRoom) -> Figures:
    return (("amps", room.amps or 0.0), ("rated", room.source.rated_amps or 0.0))


def _growth_limit(room: SourceRoom) -> float:
    return max(LEAST_GROWTH_OHMS, room.joint.first_ohms or 0.0)


def _joint_detail(room: SourceRoom) -> Figures:
    joint = room.joint
    return (
        ("first_milliohms", 1e3 * (joint.first_ohms or 0.0)),
        ("milliohms", 1e3 * (joint.ohms or 0.0)),
        ("amps", joint.amps),
        ("drop", joint.drop),
        ("watts", joint.drop * joint.amps),
    )


def _cut_off(room: SourceRoom) -> float | None:
    if room.rise is None:
        return None
    above = room.rise - room.lead.meters_volts
    return max(above * 12.0 / room.bank.nominal_volts, LEAST_SHOWN) if room.parted else 0.0


def _lead_drop(room: SourceRoom) -> float | None:
    """Share of the nominal voltage lost in the leads at the source's rating, by what is sure."""
    milliohms, sd, _ = room.lead_estimate()
    if milliohms is None or sd is None or not room.source.rated_amps:
        return None
    return max(0.0, milliohms - sd) * 1e-3 * room.source.rated_amps / room.bank.nominal_volts


def _lead_drop_detail(room: SourceRoom) -> Figures:
    milliohms, sd, _ = room.lead_estimate()
    rated = room.source.rated_amps or 0.0
    return (
        ("milliohms", milliohms or 0.0),
        ("sd", sd or 0.0),
        ("rated", rated),
        ("drop", 1e-3 * (milliohms or 0.0) * rated),
    )


def _both_stages(room: SourceRoom) -> str:
    return f"it says {room.reported}, but is seen in {room.inferred_name}"


CONDITIONS: Final[tuple[Condition[SourceRoom], ...]] = (
    Condition(
        name="source-over-rating",
        words="The source gives more current than it is rated for.",
        causes=("rating wrong in the config", "current scale wrong", "current limit defeated"),
        first="Compare the source's label with the config.",
        priority=Priority.LOW,
        figure=_over,
        limit=lambda _: 1.1,
        says="{amps:.1f} A of {rated:.0f} A rated",
        source="the config, rated_amps, and 10 % for the meter (common practice)",
        inputs=(Quantity.SOURCE_AMPS,),
        deadband=0.05,
        on_delay=300.0,
        off_delay=300.0,
        detail=_over_detail,
        unit="share_of_rating",
        possible=(0.2, 3.0),
    ),
    Condition(
        name="joint-resistance",
        words=(
            "Voltage lost between the charger and the bank has grown: a joint or crimp in the "
            "charging cable is going bad. It heats and makes the charger taper early."
        ),
        causes=("a loose or corroded lug", "a bad crimp", "a failing fuse holder or switch"),
        first="Stop charging, feel for heat with care, then measure the drop across each joint.",
        caution=CAUTION_POSTS,
        priority=Priority.MEDIUM,
        figure=lambda room: room.joint.growth,
        limit=_growth_limit,
        says=(
            "from {first_milliohms:.1f} to {milliohms:.1f} milliohm: "
            "{drop:.2f} V and {watts:.0f} W lost at {amps:.0f} A"
        ),
        source="our choice: doubled, and by 2 milliohm at least, beyond what meters disagree by",
        inputs=(Quantity.SOURCE_VOLTS, Quantity.BANK_VOLTS),
        deadband=0.001,
        on_delay=300.0,
        off_delay=600.0,
        detail=_joint_detail,
        unit="ohms",
        possible=(0.0002, 0.1),
    ),
    Condition(
        name="lead-drop-high",
        words=(
            "Too much voltage is lost between the source and the bank: charging takes longer, and "
            "the leads warm."
        ),
        causes=(
            "leads too thin or too long for the source",
            "a fuse holder, switch or isolator in between",
            "no sense leads, where the source has terminals for them",
        ),
        first="Measure the drop across each part of the way at full current; use thicker leads.",
        caution=CAUTION_POSTS,
        priority=Priority.LOW,
        figure=_lead_drop,
        limit=lambda _: LEAD_DROP,
        says=(
            "{milliohms:.0f} milliohm, give or take {sd:.0f}: {drop:.2f} V lost at the rated "
            "{rated:.0f} A"
        ),
        source="ABYC E-11 (catalogue copies): 3 % of nominal for feeders",
        inputs=(Quantity.BANK_VOLTS,),
        deadband=0.005,
        on_delay=1800.0,
        off_delay=1800.0,
        detail=_lead_drop_detail,
        unit="fraction",
        possible=(0.005, 0.2),
    ),
    Condition(
        name="source-cut-off",
        words=(
            "The source stands above the bank and nothing flows: something between them is open, "
            "the battery's protection perhaps, or a fuse."
        ),
        causes=(
            "the battery's protection opened its charge side",
            "a blown fuse or an open switch",
            "a diode or isolator between",
        ),
        first="Look at the battery's protection first, then at fuses and switches.",
        priority=Priority.MEDIUM,
        figure=_cut_off,
        limit=lambda _: CUT_OFF,
        says="{figure:.2f} V per 12 V between source and posts while no current flows",
        source="physics: leads lose nothing without current (seen from 20 mV a cell on)",
        inputs=(Quantity.SOURCE_VOLTS, Quantity.BANK_VOLTS),
        deadband=0.01,
        on_delay=60.0,
        off_delay=60.0,
        unit="volts_per_12",
        possible=(0.005, 2.0),
    ),
    Condition(
        name="source-at-odds",
        words="The source says one stage and does another.",
        causes=(
            "a stage code read wrongly by the device description",
            "set-points that are not what the config says",
            "another source holds the bank",
        ),
        first="Compare the source's own display with the stage shown here and its evidence.",
        priority=Priority.LOW,
        figure=lambda room: room.contrary_seconds / 60.0,
        limit=lambda _: 30.0,
        adds=_both_stages,
        says=" for {lasted} (told after {allowed})",
        source="our choice: longer than any change of stage takes",
        inputs=(Quantity.REPORTED_STAGE,),
        off_delay=60.0,
        unit="minutes",
        possible=(1.0, 1440.0),
    ),
)
