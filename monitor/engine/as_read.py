"""The evidence of a stage with the volts and amps of now. What a stage is judged by is smoothed,
and would stand seconds behind the figures that are shown beside it."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from monitor.engine.snapshot import BankView, Fact, StageView

#: How the evidence tells what is read, by the names of its figures.
AS_TOLD: Final = (("volts", "{:.2f} V"), ("amps", "{:.1f} A"))


def as_read(bank: BankView) -> StageView:
    """Its stage; a figure that is not read now stays as it was."""
    read = {"volts": bank.volts.figure, "amps": bank.amps.figure}
    return replace(bank.stage, evidence=tuple(_fact(each, read) for each in bank.stage.evidence))


def _fact(fact: Fact, read: dict[str, float | None]) -> Fact:
    seen, words = dict(fact.figures), fact.words
    for name, form in AS_TOLD:
        then, now = seen.get(name), read[name]
        if then is not None and now is not None:
            words = words.replace(form.format(then), form.format(now), 1)
    return fact._replace(words=words)
