"""Devices polled at different moments become one view per bank, every value with its age.

A house bank is seen by several devices, each on its own clock: a shunt every second, a charger
every five, a temperature sensor every minute. `Alignment` keeps the last believable figure of every
channel from every device, and gives each bank one `BankInputs` at the moment when its volts and
amps are both new. Where several devices give the same quantity, the one configured first is
believed while it is fresh. What is late, repeated, not finite or outside what a working sensor
could say never enters.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import isfinite
from typing import Any, ClassVar, Final

from adapters.reading import QUANTITIES, REPORTABLE_STAGES, Channel, Quantity, Reading, Scope
from monitor.bank import Bank, Site, Source
from monitor.engine.bank_inputs import BankInputs, Pair
from monitor.engine.device import BEFORE_ALL, Device, Given, Slot
from monitor.engine.snapshot import Measured
from monitor.engine.state import dump, restore
from monitor.engine.unmeasured import reason, unmeasured_amps

#: A bank's temperature moves by about a degree in an hour (a hundred kilograms of lead and acid),
#: so the rooms may go on with an older one than a screen would show as fresh.
HOLD_CELSIUS_SECONDS: Final = 600.0
#: Volts per cell that a living bank could show (lead: -20 °C gassing 2.97 V from the handbook,
#: plus margin; LFP: 2.0 empty to 3.65 full, plus margin; below: deeply flat or shorted). What lies
#: beyond is another bank's, or in another unit.
PLAUSIBLE_CELL: Final = {True: (0.9, 3.2), False: (1.2, 4.4)}
#: No house bank gives or takes more than this many times its capacity (inverter surge: 3 C).
PLAUSIBLE_AMPS: Final = 10.0
#: Cells that a bank may show one by one: 16 in series at 48 V, and many strings of them.
MOST_CELLS: Final = 256


class SourceAlignment:
    """What devices say of one source. `inputs` are its own volts and amps, as if of a bank;
    `supply` is the AC that it is fed with, by quantity."""

    KEPT: ClassVar[tuple[str, ...]] = ("inputs", "pair")

    def __init__(self, source: Source) -> None:
        self.source = source
        self.volts = Slot()
        self.amps = Slot()
        self.celsius = Slot()
        self.reported_stage = Slot()
        self.supply = _slots_of(Scope.AC)
        self.pair = Pair(self.volts, self.amps)
        #: It stands at its own terminals: its own volts are also those of the source.
        self.inputs = BankInputs(1)

    def step_due(self, now: float) -> bool:
        """True, with the inputs filled, where the source has a new pair of volts and amps."""
        inputs = self.inputs
        if not self.pair.fill(now, inputs) or inputs.volts is None or inputs.amps is None:
            return False
        inputs.source_volts[0] = inputs.volts
        inputs.source_seconds[0] = inputs.seconds
        reported = self.reported_stage.best(now)
        inputs.reported_stages[0] = None if reported is None else str(reported.figure)
        return True


class BankAlignment:
    """One bank's slots, and the inputs made from them when the bank is due to step."""

    KEPT: ClassVar[tuple[str, ...]] = ("inputs", "pair")

    def __init__(self, bank: Bank, sources: Sequence[SourceAlignment]) -> None:
        self.bank = bank
        self.sources = tuple(sources)
        self.slots = _slots_of(Scope.BANK)
        #: Cells one by one, by quantity and number, as devices begin to give them.
        self.cells: dict[Quantity, dict[int, Slot]] = {
            Quantity.CELL_VOLTS: {},
            Quantity.CELL_CELSIUS: {},
        }
        self.volts = self.slots[Quantity.BANK_VOLTS]
        self.amps = self.slots[Quantity.BANK_AMPS]
        self.celsius = self.slots[Quantity.BANK_CELSIUS]
        self.charge_permitted = self.slots[Quantity.CHARGE_PERMITTED]
        self.discharge_permitted = self.slots[Quantity.DISCHARGE_PERMITTED]
        self.pair = Pair(self.volts, self.amps)
        self.inputs = BankInputs(len(self.sources))

    def step_due(self, now: float) -> bool:
        """True, with the inputs filled, where the bank has a new pair of volts and amps."""
        inputs = self.inputs
        if not self.pair.fill(now, inputs):
            return False
        celsius = self.celsius.best(now, HOLD_CELSIUS_SECONDS)
        if celsius is None:
            inputs.celsius = None
        else:
            inputs.celsius = celsius.figure  # type: ignore[assignment] # a number by its channel
            age = inputs.seconds - celsius.seconds
            inputs.celsius_age = age if age > 0.0 else 0.0
        if self.charge_permitted.givens:
            inputs.charge_permitted = _yes(self.charge_permitted.number(now))
        if self.discharge_permitted.givens:
            inputs.discharge_permitted = _yes(self.discharge_permitted.number(now))
        for index, source in enumerate(self.sources):
            if source.volts.givens:
                best = source.volts.best(now)
                inputs.source_volts[index] = None if best is None else float(best.figure)
                inputs.source_seconds[index] = BEFORE_ALL if best is None else best.seconds
            if source.amps.givens:
                inputs.source_amps[index] = source.amps.number(now)
            if source.reported_stage.givens:
                reported = source.reported_stage.best(now)
                inputs.reported_stages[index] = None if reported is None else str(reported.figure)
        return True

    def loads(self, now: float) -> Measured:
        """Amps drawn by loads: as a device gives them, else sources less bank.

        By difference only from values of about the same age: the pump that starts between two
        polls would otherwise look like a source.
        """
        slot = self.slots[Quantity.LOAD_AMPS]
        if slot.best(now) is not None:
            return slot.measured(now)
        if not self.sources:
            return Measured(None, None, "no source is configured, so loads cannot be told apart")
        bank = self.amps.best(now)
        if bank is None:
            return Measured(None, None, f"needs bank current: {self.amps.measured(now).reason}")
        parts = [bank]
        for source in self.sources:
            amps = source.amps.best(now)
            if amps is None:
                return Measured(
                    None, None, f"needs {source.source.id}: {source.amps.measured(now).reason}"
                )
            parts.append(amps)
        oldest = min(part.seconds for part in parts)
        newest = max(part.seconds for part in parts)
        allowed = max(2.0, *(part.device.period for part in parts))
        if newest - oldest > allowed:
            return Measured(None, None, f"figures are {newest - oldest:.0f} s apart")
        given = [float(part.figure) for part in parts[1:]]
        net = float(bank.figure)
        unmeasured = unmeasured_amps(given, net, self.bank.amp_hours)
        if unmeasured:
            return Measured(None, None, reason(unmeasured))
        # meters that err by a little must not make a load that gives
        return Measured(max(0.0, sum(given) - net), max(0.0, now - oldest), "sources less bank")


class Alignment:
    """Every device, every bank: readings in, banks that are due to step out."""

    KEPT: ClassVar[tuple[str, ...]] = ("memory", "banks", "sources", "unbound")

    def __init__(self, site: Site) -> None:
        self.sources = [SourceAlignment(source) for source in site.sources]
        self.banks = [
            BankAlignment(bank, [s for s in self.sources if s.source.bank == bank.id])
            for bank in site.banks
        ]
        self._views: list[BankAlignment | SourceAlignment] = [*self.banks, *self.sources]
        self.devices: dict[str, Device] = {}
        #: What devices give for an owner that the site does not know, in words.
        self.unbound: list[str] = []
        self._slots: dict[Channel, Slot] = {}
        self._steps: dict[Channel, int] = {}
        self._ranges: dict[Channel, tuple[float, float]] = {}
        for place, view in enumerate(self.banks):
            for quantity, slot in view.slots.items():
                self._slots[Channel(view.bank.id, quantity)] = slot
            for quantity, span in plausible(view.bank).items():
                self._steps[Channel(view.bank.id, quantity)] = place
                self._ranges[Channel(view.bank.id, quantity)] = span
        for place, source in enumerate(self.sources, start=len(self.banks)):
            owner = source.source.id
            self._slots[Channel(owner, Quantity.SOURCE_VOLTS)] = source.volts
            self._slots[Channel(owner, Quantity.SOURCE_AMPS)] = source.amps
            self._slots[Channel(owner, Quantity.SOURCE_CELSIUS)] = source.celsius
            self._slots[Channel(owner, Quantity.REPORTED_STAGE)] = source.reported_stage
            for quantity, slot in source.supply.items():
                self._slots[Channel(owner, quantity)] = slot
            for quantity in (Quantity.SOURCE_VOLTS, Quantity.SOURCE_AMPS):
                self._steps[Channel(owner, quantity)] = place
        for link in site.links:
            self.devices[link.device] = Device(link.device, link.period_seconds)

    def device(self, name: str) -> Device:
        """The device of that name; one that nobody configured comes after those that are."""
        device = self.devices.get(name)
        if device is None:
            device = self.devices[name] = Device(name, None)
        return device

    def slot(self, owner: str, quantity: Quantity) -> Slot | None:
        """Where that quantity of that owner is kept, or None where it is not looked at."""
        return self._slots.get(Channel(owner, quantity))

    def take(self, reading: Reading, device: Device | None = None) -> list[int]:
        """Take in one reading; the places of what has new inputs and must step now: banks by
        their order in the site, then sources by theirs. `device` where it was already found."""
        if device is None:
            device = self.device(reading.device)
        seconds = reading.seconds
        if not device.heard(seconds):
            return []
        touched: list[int] = []
        given_by = device.given
        values = reading.values
        device.values += len(values)
        for channel, figure in values:
            try:
                given = given_by[channel]
            except KeyError:
                given = self._meet(device, channel)
            if given is None:
                continue
            if figure.__class__ is not float:
                believed = _believed(given, figure)
                if believed is None:
                    device.refused += 1
                    continue
                figure = believed
            elif not given.low <= figure <= given.high:
                device.refused += 1
                continue
            given.figure = figure
            given.seconds = seconds
            place = given.place
            if (
                place >= 0
                and place not in touched
                and (given.slot.givens[0] is given or given.slot.best(seconds) is given)
            ):
                touched.append(place)
        if len(touched) == 1:  # the usual case, without a loop
            return touched if self._views[touched[0]].step_due(seconds) else []
        views = self._views
        return [place for place in touched if views[place].step_due(seconds)]

    def _meet(self, device: Device, channel: Channel) -> Given | None:
        """The first time a device gives a channel: put it in its place in the order."""
        slot = self._slots.get(channel) or self._cell(channel)
        given = None
        if slot is None:
            words = f"{device.name} gives {channel.quantity} for {channel.owner}: not configured"
            if words not in self.unbound:
                self.unbound.append(words)
        else:
            given = Given(device, channel, slot, self._steps.get(channel, -1))
            given.narrow(self._ranges.get(channel))
            order = list(self.devices)
            slot.givens.append(given)
            slot.givens.sort(key=lambda each: order.index(each.device.name))
        device.given[channel] = given
        return given

    def _cell(self, channel: Channel) -> Slot | None:
        """Where a cell's figure ("house#3") is kept, from the first time that it is given on."""
        bank_id, _, number = channel.owner.partition("#")
        if not (number.isdecimal() and 1 <= int(number) <= MOST_CELLS):
            return None
        for view in self.banks:
            if view.bank.id == bank_id and channel.quantity in view.cells:
                slot = self._slots[channel] = Slot()
                view.cells[channel.quantity][int(number)] = slot
                return slot
        return None

    @property
    def memory(self) -> dict[str, Any]:
        """Devices in their order, each with every channel it ever gave, as plain JSON.

        One whose figures were never believed is kept too: that somebody gives it decides what is
        lost when he falls silent.
        """
        return {
            name: {
                "device": dump(device),
                "figures": [
                    [channel.owner, str(channel.quantity), *_kept(given)]
                    for channel, given in device.given.items()
                ],
            }
            for name, device in self.devices.items()
        }

    @memory.setter
    def memory(self, memory: dict[str, Any]) -> None:
        for name, kept in memory.items():
            device = self.device(name)
            restore(device, kept["device"])
            for owner, quantity, seconds, figure in kept["figures"]:
                given = self._meet(device, Channel(owner, Quantity(quantity)))
                if given is not None and seconds is not None:
                    given.seconds = _moment(seconds)
                    given.figure = _known(given, figure)


def _slots_of(scope: Scope) -> dict[Quantity, Slot]:
    return {quantity: Slot() for quantity, of in QUANTITIES.items() if of.scope == scope}


def plausible(bank: Bank) -> dict[Quantity, tuple[float, float]]:
    """The volts and amps that this bank could show at all."""
    low, high = PLAUSIBLE_CELL[bank.chemistry.lead]
    most = PLAUSIBLE_AMPS * bank.amp_hours
    return {
        Quantity.BANK_VOLTS: (low * bank.cells, high * bank.cells),
        Quantity.BANK_AMPS: (-most, most),
    }


def _kept(given: Given | None) -> tuple[float | None, float | str | None]:
    """The moment and figure of a channel; None where none was ever believed."""
    if given is None or not given.heard:
        return None, None
    return given.seconds, given.figure


def _moment(seconds: Any) -> float:
    """A moment out of a kept memory; ValueError for anything else."""
    if isinstance(seconds, bool) or not isinstance(seconds, int | float) or not isfinite(seconds):
        raise ValueError(f"a moment cannot be {seconds!r}")
    return float(seconds)


def _known(given: Given, figure: Any) -> float | str:
    """A figure out of a kept memory; ValueError for one that would not have been believed."""
    believed = _believed(given, figure) if isinstance(figure, int | float | str) else None
    if believed is None:
        raise ValueError(f"{given.channel.quantity} cannot be {figure!r}")
    return believed


def _believed(given: Given, figure: float | str) -> float | str | None:
    """A figure of another type than float, as the engine keeps it, or None where it is absurd."""
    words = given.channel.quantity is Quantity.REPORTED_STAGE
    if isinstance(figure, str):
        return figure if words and figure in REPORTABLE_STAGES else None
    return float(figure) if not words and given.low <= figure <= given.high else None


def _yes(figure: float | None) -> bool | None:
    return None if figure is None else figure >= 0.5
