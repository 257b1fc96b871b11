"""The AC side of a source as a check may take it: typed from a meter, else told by its device.

A typed figure always wins: a meter was held there. What a device tells is taken as a mean over some
seconds, and the check says which figure came from where.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Final, NamedTuple

from monitor.commission.check import Ask, Watch
from monitor.commission.look import Look
from monitor.commission.memory import eased, lasted

#: What a device tells is taken once it has told it for so long, as a mean over about the second.
_TOLD_SECONDS: Final = 30.0
_MEAN_SECONDS: Final = 15.0


class Figures(NamedTuple):
    """By the name of what is asked. `told` those of `all` that a device told; `beside` what it
    told where a meter's reading was typed."""

    all: Mapping[str, float]
    told: tuple[str, ...]
    beside: Mapping[str, float]

    @property
    def words(self) -> str:
        return f"told by its device: {', '.join(self.told)}" if self.told else ""


def told_now(look: Look, source_id: str, asks: Iterable[Ask]) -> dict[str, float]:
    """What the device of a source tells of what is asked, by its name."""
    supply = look.source(source_id).supply
    if supply is None:
        return {}
    figures = {
        ask.name: getattr(supply, ask.told_as)
        for ask in asks
        if ask.told_as and ask.low <= (getattr(supply, ask.told_as) or 0.0) <= ask.high
    }
    return {name: figure for name, figure in figures.items() if figure is not None}


def ac_figures(watch: Watch, source_id: str, asks: Sequence[Ask]) -> Figures | None:
    """Everything asked, typed or told; None where something is neither yet. To be called at every
    look: it keeps the means."""
    told = {
        name: eased(watch.memory, f"ac {name}", figure, watch.look.seconds, _MEAN_SECONDS)
        for name, figure in told_now(watch.look, source_id, asks).items()
    }
    long = {
        ask.name
        for ask in asks
        if lasted(watch.memory, f"told {ask.name}", ask.name in told, watch.look.seconds)
        >= _TOLD_SECONDS
    }
    typed = {ask.name: figure for ask in asks if (figure := watch.figure(ask.name)) is not None}
    needed = [ask.name for ask in asks if ask.name not in typed]
    if not long.issuperset(needed):
        return None
    return Figures(
        {**told, **typed}, tuple(needed), {name: told[name] for name in typed if name in told}
    )


def settled_since_done(watch: Watch) -> bool:
    """What a device tells is of the moment that the person means: from the word done on, with the
    mean begun anew there."""
    if not watch.done:
        return False
    memory, seconds = watch.memory, watch.look.seconds
    if "done" not in memory:
        memory["done"] = seconds
        for key in [key for key in memory if key.startswith("ac ")]:
            del memory[key]
    return seconds - memory["done"] >= _TOLD_SECONDS
