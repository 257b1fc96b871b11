"""Each condition in two or three words, for where its sentence has no room.

The sentence stands in the engine's table (`monitor/engine/conditions_*.py`) and is what a journal
keeps; this is the same on a screen. Under the engine's names, so that a row of an old recording,
which has no more than that, has its words too. The whole sentence, its causes and what to do first
are on the alarm screen.
"""

from __future__ import annotations

from typing import Final

#: So many signs at most: a row of the alarm list on a terminal of 30 columns, without its edges
#: (2), the sign of the row (2) and the mark of the priority (4).
LONGEST: Final = 22

NAMES: Final[dict[str, str]] = {
    # Voltage.
    "over-voltage": "Bank voltage high",
    "cell-over-voltage": "Cell voltage high",
    "gassing-too-long": "Gassing too long",
    "hold-above-set-point": "Held above set-point",
    "hold-below-set-point": "Held below set-point",
    "absorption-never-ends": "Absorption never ends",
    "equalize-not-allowed": "Equalize not allowed",
    "not-full-for-days": "Not full for many days",
    # Empty.
    "under-voltage": "Bank voltage low",
    "under-voltage-at-rest": "Rest voltage low",
    "inverter-cut-off-near": "Inverter cut-off near",
    "below-lowest-soc": "SOC lower than planned",
    "cell-under-voltage": "Cell voltage low",
    # Temperature.
    "bank-hot": "Bank too hot to charge",
    "bank-warm": "Bank warm",
    "bank-cold": "Bank very cold",
    "warming-in-float": "Bank warms in float",
    "charging-frozen": "Charged below freezing",
    "electrolyte-may-freeze": "Electrolyte may freeze",
    "thermal-runaway": "Thermal runaway",
    "temperature-stuck": "Bank temperature stuck",
    "temperature-leapt": "Bank temperature leapt",
    "temperature-off-air": "Temperatures disagree",
    "temperature-missing": "No bank temperature",
    # Current.
    "charge-current-high": "Charge current high",
    "discharge-current-high": "Discharge current high",
    "cable-overloaded": "Bank cable overload",
    "fuse-overloaded": "Bank fuse overload",
    "shunt-reversed": "Shunt reversed",
    "shorted-cell": "Shorted cell",
    # Charging.
    "charge-in-vain": "Bulk never ends",
    "absorption-cut-short": "Absorption cut short",
    "no-float-after-full": "No float after full",
    "float-below-set-point": "Float below set-point",
    "fixed-overcharge": "Fixed voltage too high",
    "compensation-wrong": "Compensation wrong",
    "charge-interrupted": "Charge keeps stopping",
    "sources-share-unevenly": "Sources share unevenly",
    "sun-blocked": "Panels give too little",
    # Wear.
    "kept-full-and-warm": "Kept full and warm",
    "capacity-low": "Capacity low",
    "empty-too-soon": "Empty too soon",
    "held-current-high": "Settled current high",
    # Balance.
    "halves-apart": "Bank halves uneven",
    "cells-apart": "Cells out of balance",
    # Installation.
    "meters-disagree": "Two meters disagree",
    "shunt-scale": "Shunt scale wrong",
    "shunt-offset": "Shunt not at zero",
    "capacity-impossible": "Capacity above label",
    "charged-unseen": "Charge unseen by shunt",
    "drained-unseen": "Drain unseen by shunt",
    "standing-draw": "New standing draw",
    "large-load-left-on": "Large load left on",
    # Protection.
    "cell-near-high-limit": "Cell near high limit",
    "cell-near-low-limit": "Cell near low limit",
    "charge-near-cold-limit": "Charge near cold limit",
    "bank-near-hot-limit": "Bank near hot limit",
    "charge-side-open": "Charge side open",
    "discharge-side-open": "Discharge side open",
    "discharge-cut-off": "Loads seem cut off",
    # Laid up.
    "stored-too-low": "Stored too empty",
    "stored-too-full": "Stored too full",
    # Sources.
    "source-over-rating": "Source over its rating",
    "joint-resistance": "Cable joint going bad",
    "lead-drop-high": "Voltage lost in leads",
    "source-cut-off": "Source cut off",
    "source-at-odds": "Stage not as reported",
    "source-gives-less": "Charger gives far less",
    "source-cable-overloaded": "Source cable overload",
    "source-fuse-overloaded": "Source fuse overload",
    # AC.
    "ac-above-charger-range": "AC above charger range",
    "ac-below-charger-range": "AC below charger range",
    "ac-frequency-off": "AC frequency wrong",
    "lost-neutral": "AC neutral seems open",
    "ac-high": "AC voltage high",
    "ac-low": "AC voltage low",
    "power-factor-low": "Power factor low",
    "ac-lost": "AC missing",
    "ac-gone": "AC gone after days",
    # Devices and this program.
    "device-silent": "Device silent",
    "readings-implausible": "Readings implausible",
    "line-disturbed": "Line disturbed",
    "polls-lost": "Many polls lost",
    "figure-missing": "Volts or amps missing",
    "recording-stopped": "Recording stopped",
    "disk-nearly-full": "Disk nearly full",
    "heartbeat-not-delivered": "Heartbeat undelivered",
    "clock-jumped": "Wall clock moved",
}


def condition_name(name: str) -> str:
    """`Bank too hot to charge` for `bank-hot`; the name itself for one that is not known here."""
    return NAMES.get(name) or name.replace("-", " ").capitalize()
