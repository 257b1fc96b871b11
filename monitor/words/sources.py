"""Sources and loads in words."""

from __future__ import annotations

from typing import Final

from monitor.engine.snapshot import BankView, SourceView
from monitor.words.figures import amps, percent
from monitor.words.sentences import STAGE_WORD, absent

LOADS: Final = "loads"
RATING_NOT_TOLD: Final = "rating not told"

SOURCE_KIND: Final[dict[str, str]] = {
    "ac-charger": "AC charger",
    "solar": "solar",
    "alternator": "alternator",
    "dc-dc": "DC-DC charger",
    "fixed": "fixed supply",
    "unknown": "",
}


def source_short(source: SourceView) -> str:
    """`shore 21 A, 53 % of 40 A`."""
    text = f"{source.id} {amps(source.amps.figure)}"
    if source.amps.figure is not None and source.rated_amps is not None:
        if source.share is not None:
            text += f", {percent(source.share)} of {amps(source.rated_amps)}"
        else:
            text += f" of {amps(source.rated_amps)}"
    return text


def source_rating(source: SourceView) -> str:
    """`53 % of 40 A`, or why there is no such share."""
    if source.amps.figure is None:
        return absent("amps", source.amps)
    if source.rated_amps is None:
        return RATING_NOT_TOLD
    if source.share is None:
        return f"of {amps(source.rated_amps)}"
    return f"{percent(source.share)} of {amps(source.rated_amps)}"


def loads_short(bank: BankView) -> str:
    return f"{LOADS} {amps(bank.load_amps.figure)}"


def more_sources(count: int) -> str:
    return f"and {count} more sources"


#: A source that is off leaves its side at rest: two words for one thing.
_SAME: Final = frozenset({("off", "rest")})


def source_says(source: SourceView) -> str:
    """What the source calls its own stage, where it says one, against what is inferred."""
    reported = source.reported_stage
    if reported is None or reported == "unknown":
        return ""
    does = source.stage.stage.value if source.stage else reported
    if does == reported or (reported, does) in _SAME:
        return f"says {_said(reported)}"
    return f"says {_said(reported)}, does {_said(does)}"


def _said(stage: str) -> str:
    """What a source may say of itself: a stage, off, or another word of its own."""
    return next((word for kind, word in STAGE_WORD.items() if kind.value == stage), stage)


def loads_note(bank: BankView) -> str:
    if bank.load_amps.figure is None:
        return bank.load_amps.reason or "not known"
    return bank.load_amps.reason or "sources less bank"
