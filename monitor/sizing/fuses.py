"""The fuse that guards a DC cable: its amps, its volts, and what it can interrupt.

A fuse guards the *cable*: no larger than the cable may carry, and 125 % of the continuous current
at least, so that it does not age (common practice; ABYC E-11 tolerates 150 % of the ampacity, which
is not used here). It must break the arc at the highest voltage that charging brings, and the
current that the bank drives into a short at its posts.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from monitor.bank import Chemistry, SetPoints, compensated

#: Ratings that are sold, amps (ISO 8820 and UL 248 series; common practice).
RATINGS: Final = (
    1.0, 2.0, 3.0, 5.0, 7.5, 10.0, 15.0, 20.0, 25.0, 30.0, 35.0, 40.0, 50.0, 60.0, 70.0, 80.0,
    100.0, 125.0, 150.0, 175.0, 200.0, 225.0, 250.0, 300.0, 350.0, 400.0, 500.0, 600.0,
)  # fmt: skip
#: A fuse is not asked for more than 80 % of its rating all day (common practice).
CONTINUOUS: Final = 1.25


@dataclass(frozen=True, slots=True)
class FuseKind:
    """A kind of fuse by its standard: amps from and to, DC volts, amps it can interrupt."""

    words: str
    least_amps: float
    most_amps: float
    volts: float
    interrupts_amps: float


#: From memory, as such fuses are usually sold: the rating printed on the one you buy decides.
KINDS: Final = (
    FuseKind("blade, ISO 8820-3, 32 V", 1.0, 40.0, 32.0, 1_000.0),
    FuseKind("bolted strip, ISO 8820-5, 32 V", 30.0, 500.0, 32.0, 2_000.0),
    FuseKind("bolted strip, ISO 8820-5, 58 V", 30.0, 300.0, 58.0, 2_000.0),
    FuseKind("stud fuse on the post, up to 32 V", 30.0, 300.0, 32.0, 5_000.0),
    FuseKind("stud fuse on the post, up to 58 V", 30.0, 300.0, 58.0, 2_000.0),
    FuseKind("open strip for boats, 32 V", 35.0, 600.0, 32.0, 6_000.0),
    FuseKind("class T, UL 248-15, 125 V DC", 1.0, 600.0, 125.0, 20_000.0),
    FuseKind("gG link, IEC 60269-2, 250 V DC", 2.0, 600.0, 250.0, 25_000.0),
)

#: Amps into a dead short for each amp-hour of a bank (common practice, taken high: flooded 20,
#: AGM 30; LFP cells of 0.2 milliohm at 280 Ah give 60, before any protection of the battery opens).
FAULT_AMPS: Final[dict[str, float]] = {
    "flooded": 20.0, "lead-calcium": 20.0, "gel": 20.0, "agm": 30.0, "lfp": 60.0,
}  # fmt: skip

#: Where the fuse sits: metres of cable from the post (ABYC E-11 as quoted in practice notes: 7 in;
#: 40 in where sheathed; 72 in where sheathed and joined to the post itself).
POST_METRES: Final = 7 * 0.0254
SHEATHED_METRES: Final = 40 * 0.0254
SHEATHED_AT_POST_METRES: Final = 72 * 0.0254


@dataclass(frozen=True, slots=True)
class KindVerdict:
    """A kind of fuse against this bank; `why_not` empty where it will do."""

    kind: FuseKind
    why_not: str

    @property
    def suits(self) -> bool:
        return not self.why_not


def fuse_amps(continuous_amps: float, ampacity_amps: float) -> float | None:
    """The smallest rating between 125 % of the current and the ampacity; None where none fits.

    60 A through 4 AWG of 105 °C (160 A) -> 80 A.
    """
    least = CONTINUOUS * continuous_amps
    for rating in RATINGS:
        if least <= rating <= ampacity_amps:
            return rating
    return None


def fault_amps(chemistry: Chemistry, amp_hours: float) -> float:
    """What the bank may drive into a short at its posts: 400 Ah of LFP -> 24 kA."""
    return FAULT_AMPS[chemistry.name] * amp_hours


def highest_volts(
    chemistry: Chemistry, nominal_volts: int, set_points: SetPoints | None = None
) -> float:
    """The highest voltage that charging may bring: the highest hold, at the cold end of the clamp.

    16 cells of LFP: 58.4 V. The chemistry's highest counts even where the set-points are lower now:
    a charger is set anew in a minute, a fuse is not. Higher set-points than that count too.
    """
    given = set_points or SetPoints()
    cells = chemistry.cells_per_12_volts * nominal_volts // 12
    usual = chemistry.equalize or chemistry.absorption
    highest = max(usual.high * cells, given.absorption or 0.0, given.equalize or 0.0)
    mv = given.compensation_mv_per_celsius_per_cell
    if mv is None:
        mv = chemistry.compensation_mv.low
    clamp = given.compensation_celsius or chemistry.compensation_celsius
    return compensated(highest, clamp[0], mv, cells, clamp)


def judge_kinds(rating: float, volts: float, fault: float) -> tuple[KindVerdict, ...]:
    """Every kind of fuse for a rating against the highest volts and the fault current."""
    verdicts = []
    for kind in KINDS:
        whys = []
        if not kind.least_amps <= rating <= kind.most_amps:
            whys.append(f"not made for {rating:g} A")
        else:
            if kind.volts < volts:
                whys.append(f"{kind.volts:g} V < {volts:.1f} V")
            if kind.interrupts_amps < fault:
                whys.append(f"{kind.interrupts_amps / 1e3:g} kA < {fault / 1e3:.1f} kA")
        verdicts.append(KindVerdict(kind, "; ".join(whys)))
    return tuple(verdicts)
