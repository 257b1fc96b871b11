"""Whose state it is: a state is marked with its version and its site, and only its own engine
goes on from it.

What was learned of one bank is not true of another. Set-points may change in between: then what
was learned of them is forgotten, bank by bank, and the rest stays.
"""

from __future__ import annotations

from typing import Final

from monitor.bank import Bank, Site
from monitor.engine.state import Json

#: Changes with every state that an older engine could not read, or an older state that this one
#: could not.
STATE_VERSION: Final = 9


class StateError(Exception):
    """A state that this engine cannot go on from; one line that says why."""


def marked(site: Site, memory: Json) -> Json:
    """A memory with what tells whose it is."""
    return {
        "version": STATE_VERSION,
        "site": fingerprint(site),
        "set_points": _set_points(site),
        "memory": memory,
    }


def refuse_foreign(state: Json, site: Site) -> None:
    """StateError where `state` is of another version or another site."""
    version = state.get("version")
    if version != STATE_VERSION:
        raise StateError(
            f"engine state of version {version}, expected {STATE_VERSION}: "
            "start anew; what was learned is learned again"
        )
    if state.get("site") != fingerprint(site):
        raise StateError(
            "engine state of another site (banks or sources differ): "
            "start anew; what was learned there is not true here"
        )


def set_points_changed(state: Json, site: Site) -> list[bool]:
    """For each bank: is it set to something else than it was? StateError where nobody can say."""
    before, now = state.get("set_points"), _set_points(site)
    if not isinstance(before, list) or len(before) != len(now):
        raise StateError("engine state is damaged (set-points of other banks): start anew")
    return [old != new for old, new in zip(before, now, strict=True)]


def fingerprint(site: Site) -> str:
    """What must be the same for a state to make sense: which banks and sources there are."""
    banks = [_bank_words(bank) for bank in site.banks]
    sources = [f"{source.id} {source.kind} at {source.bank}" for source in site.sources]
    return "; ".join((*banks, *sources))


def _bank_words(bank: Bank) -> str:
    return f"{bank.id} {bank.chemistry.name} {bank.nominal_volts} V {bank.amp_hours!r} Ah"


def _set_points(site: Site) -> list[str]:
    return [repr(bank.set_points) for bank in site.banks]
