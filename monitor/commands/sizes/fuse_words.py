"""The fuse of a cable in words: which kinds will do, where it sits."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

from monitor.commands.sizes.options import Told
from monitor.sizing.fuses import (
    POST_METRES,
    SHEATHED_AT_POST_METRES,
    SHEATHED_METRES,
    fault_amps,
    highest_volts,
    judge_kinds,
)
from monitor.words.sheets import Table

FUSE_CAUTIONS: Final = (
    f"The fuse sits within {100 * POST_METRES:.0f} cm (7 in) of cable from the positive post; up "
    f"to {100 * SHEATHED_METRES:.0f} cm (40 in) where the cable is sheathed all the way, "
    f"{100 * SHEATHED_AT_POST_METRES:.0f} cm (72 in) where it also starts at the post itself "
    "(ABYC E-11, as quoted in practice notes).",
    "A cable with a source at each end (charger and bank) is fused at the bank's end at least.",
)


@dataclass(frozen=True, slots=True)
class FusePart:
    """What a sheet says of its fuse."""

    tables: tuple[Table, ...]
    warnings: tuple[str, ...]
    assumptions: tuple[str, ...]
    answer: dict[str, Any]


def fuse_part(rating: float | None, known: Told, fault: float | None) -> FusePart:
    """Kinds of fuse against the highest voltage and the fault current, as far as both are known."""
    bank = known.bank
    if rating is None:
        return FusePart((), (), (), {"fuse": None})
    if bank is None:
        warning = (
            "The fuse's DC voltage and interrupting rating are not judged: give --chemistry and "
            "--amp-hours."
        )
        return FusePart((), (warning,), (), {"fuse": {"amps": rating}})
    highest = highest_volts(bank.chemistry, bank.nominal_volts, bank.set_points)
    given = fault is not None
    short = fault if fault is not None else fault_amps(bank.chemistry, bank.amp_hours)
    verdicts = judge_kinds(rating, highest, short)
    rows = tuple(
        (verdict.kind.words, f"no: {verdict.why_not}" if verdict.why_not else "yes")
        for verdict in verdicts
    )
    title = (
        f"Kinds of fuse at {rating:g} A (charging may reach {highest:.1f} V; the bank drives up to "
        f"{short / 1e3:.1f} kA into a short):"
    )
    warnings = []
    if not any(verdict.suits for verdict in verdicts):
        warnings.append(
            "No kind of fuse carried here interrupts that: fuse each battery or string by itself, "
            "or ask for a link of a higher interrupting rating."
        )
    fault_words = "as given" if given else "common practice by chemistry and Ah, taken high"
    assumptions = (
        "fuse: 125 % of the current at least, the cable's ampacity at most (150 % is not used)",
        f"fault current {fault_words}; ratings of fuse kinds from memory: what is printed on "
        "yours decides",
        "highest voltage: what the chemistry may be charged to, in the cold, whatever is set now",
    )
    answer = {
        "fuse": {
            "amps": rating,
            "highest_charging_volts": round(highest, 2),
            "fault_amps": short,
            "kinds": {verdict.kind.words: verdict.why_not or "suits" for verdict in verdicts},
        }
    }
    return FusePart(
        (Table(("kind", "will it do"), rows, title, says=True),),
        tuple(warnings),
        assumptions,
        answer,
    )
