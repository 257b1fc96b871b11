"""Sources that come and go: sun and engine. What they could give is not known, and that they end is
no fault: how to tell a regulator's doing from a cloud's, a dusk's or an ignition key's.
"""

from __future__ import annotations

from typing import Final

from monitor.bank import SourceKind
from monitor.commission.check import Watch
from monitor.commission.memory import lasted

#: A source that gives less than this share of its rating hardly gives: it may be off.
OFF_SHARE: Final = 0.002
#: Between absorption and float a regulator gives next to nothing until the bank has come down.
NOTHING_SHARE: Final = 0.02
#: Float lies at least this far below the absorption that was held, per 12 V (chemistry: 0.6 and
#: more for lead, 0.6 for LFP).
FLOAT_BELOW: Final = 0.25
#: Gone for so long, the sun has set or the engine stands: it comes again (our choice: the shortest
#: summer night below 55 ° of latitude is twice as long).
_GONE_SECONDS: Final = 10_800.0
#: What is limited by sun or speed holds its voltage where its current falls by this and the volts
#: stay: unregulated, 2 A less lower a bank of 200 Ah by more than the band (its 20 to 40 mohm).
_FALL_AMPS: Final = 2.0
_FALL_SHARE: Final = 0.15
_COMES_AND_GOES: Final = (SourceKind.SOLAR, SourceKind.ALTERNATOR, SourceKind.DC_DC)


def comes_and_goes(watch: Watch) -> bool:
    """Sun and engine: what they could give is not known, and that they end is no fault."""
    return watch.setting.source(watch.target).kind in _COMES_AND_GOES


def rated_of(watch: Watch) -> float:
    return watch.setting.rated_amps(watch.target) or watch.setting.bank.amp_hours * 0.2


def gone(watch: Watch, amps: float) -> bool:
    """Off for so long that its course begins anew with the next light or start."""
    off = lasted(watch.memory, "gone", amps < OFF_SHARE * rated_of(watch), watch.look.seconds)
    return off >= _GONE_SECONDS


def throttled(watch: Watch, amps: float) -> bool:
    """Its current fell while its volts stood still: it is the regulator that holds them."""
    memory = watch.memory
    began = memory.get("held.from", 0.0)
    if memory.get("peak_from") != began:
        memory["peak_from"], memory["peak"] = began, amps
    peak = memory["peak"] = max(memory["peak"], amps)
    return peak - amps >= max(_FALL_AMPS, _FALL_SHARE * peak)


def of_this_day(watch: Watch, was: float, volts: float, amps: float) -> bool:
    """Whether this is the course after an absorption of the same day, and the regulator let go of
    it by itself: the current fell to next to nothing. What ends by dusk or key is none."""
    memory = watch.memory
    if gone(watch, amps):
        memory.clear()
        return False
    if volts >= was - 0.10 * watch.setting.twelves:
        memory["absorbing"], memory["last"] = 1.0, amps
        memory.pop("let_go", None)
    elif amps < NOTHING_SHARE * rated_of(watch):
        memory.setdefault("let_go", 1.0)
    low = volts < was - FLOAT_BELOW * watch.setting.twelves
    return "absorbing" in memory and (not low or "let_go" in memory)
