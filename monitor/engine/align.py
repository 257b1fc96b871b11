"""Devices polled at different moments become one view per bank, every value with its age."""

from __future__ import annotations


class BankInputs:
    """One bank as the devices show it now: the single value that the engine's rooms read.

    A mutable object that is reused from step to step (building a frozen one at every reading
    would cost more than the whole stage filter); nobody but `align` writes to it. Figures are
    None where no device gave one or the last is too old; ages are seconds before `seconds`.
    The lists run in the order of the site's sources of this bank.
    """

    __slots__ = (
        "amps",
        "amps_age",
        "celsius",
        "celsius_age",
        "charge_permitted",
        "discharge_permitted",
        "reported_stages",
        "seconds",
        "source_amps",
        "source_volts",
        "volts",
        "volts_age",
    )

    def __init__(self, sources: int) -> None:
        self.seconds = 0.0
        self.volts: float | None = None
        self.volts_age = 0.0
        self.amps: float | None = None
        self.amps_age = 0.0
        self.celsius: float | None = None
        self.celsius_age = 0.0
        self.charge_permitted: bool | None = None
        self.discharge_permitted: bool | None = None
        self.source_volts: list[float | None] = [None] * sources
        self.source_amps: list[float | None] = [None] * sources
        self.reported_stages: list[str | None] = [None] * sources
