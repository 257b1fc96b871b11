"""The engine: inputs in, events out, a snapshot when somebody looks.

Pure: no input or output, no clock, no thread, no randomness, no logging. The same site and the same
inputs give the same events and snapshots, bit for bit, at any rate and cut anywhere: `state()` is
everything learned and everything pending, as plain JSON, and an engine made from it goes on as
if nothing had been. The order of the rooms is the order of the data: align, signal, stage, charge,
forecast, conditions, alarms.

Seconds are monotonic and must go on growing across a restart: whoever restores a state starts his
clock at or after `Engine.seconds`.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, ClassVar, Final

from adapters.reading import Command, Input, LinkState, OwnLink, Quantity, Reading, Tick
from monitor.bank import Site
from monitor.engine import bank_view, conditions
from monitor.engine.alarm_order import worst_first
from monitor.engine.align import Alignment
from monitor.engine.commands import carry_out
from monitor.engine.device import NOT_HEARD, Device
from monitor.engine.duration import duration
from monitor.engine.grouping import Group
from monitor.engine.journal import Journal
from monitor.engine.overrides import adjusted
from monitor.engine.panel import Panel
from monitor.engine.rooms import BankRooms
from monitor.engine.site import SiteWatch
from monitor.engine.snapshot import (
    AlarmView,
    Event,
    EventKind,
    Glance,
    LinkView,
    Snapshot,
)
from monitor.engine.state import Json, dump, restore
from monitor.engine.whose_state import StateError, marked, refuse_foreign, set_points_changed

#: Devices are looked at this often, what is slow once a minute, in seconds of the inputs.
LOOK_SECONDS: Final = 1.0
MINUTE_SECONDS: Final = 60.0
#: A live feed takes something in every second; longer than this it was not running.
NOT_LOOKING_SECONDS: Final = 10.0
BEFORE_ALL: Final = -1e18
#: No clock is set further from the monotonic one than this, seconds: three thousand years (ours).
FARTHEST: Final = 1e11

#: What is said of a link that went down or came up: a device's, and the tool's own.
_LINK_WORDS: Final = {
    False: {True: "answers", False: "silent"},
    True: {True: "works", False: "does not work"},
}


class Engine:
    """All banks of one site."""

    KEPT: ClassVar[tuple[str, ...]] = (
        "seconds",
        "alignment",
        "site_watch",
        "journal",
        "banks",
        "device_memory",
        "site_panel",
        "_next_look",
        "_next_minute",
    )

    def __init__(self, site: Site, state: Json | None = None, *, looks_ahead: bool = True) -> None:
        """`looks_ahead` False: no time to full and no time left, for whoever asks for neither.
        Nothing else depends on them."""
        self.site = site
        #: Of the newest input; None before the first.
        self.seconds: float | None = None
        self.journal = Journal()
        self.alignment = Alignment(site)
        self.site_watch = SiteWatch()
        self.banks = [
            BankRooms(site, view.bank, view, self.journal) for view in self.alignment.banks
        ]
        for rooms in self.banks:
            rooms.forecast.looks_ahead = looks_ahead
        self.device_panels: dict[str, Panel[Device]] = {}
        self.site_panel = Panel(
            "site", self.site_watch, adjusted(conditions.SITE, site), self.journal
        )
        self._next_look = BEFORE_ALL
        self._next_minute = BEFORE_ALL
        self._owners = self._source_owners()
        self._shelved = False
        self._takes: dict[type, Callable[[Any], None]] = {
            Reading: self._reading,
            LinkState: self._link,
            Tick: self._tick,
            Command: self._command,
        }
        if state is not None:
            self._restore(state)

    def _source_owners(self) -> list[tuple[int, int]]:
        """For every source of the site: its bank's place, and its own place at that bank."""
        owners = []
        for source in self.alignment.sources:
            for place, rooms in enumerate(self.banks):
                if source in rooms.given.sources:
                    owners.append((place, rooms.given.sources.index(source)))
        return owners

    # Inputs.

    def step(self, given: Input) -> tuple[Event, ...]:
        """Take one input; the events it caused, mostly none."""
        seconds = given.seconds
        if seconds - seconds != 0.0:  # not a number, or infinite: no moment at all
            return ()
        self._takes[given.__class__](given)
        return self.journal.take() if self.journal.fresh else ()

    def _pass(self, seconds: float) -> None:
        """Time has come to `seconds`: who is silent, which delays are over?"""
        if self.seconds is None:
            for device in self.alignment.devices.values():
                device.since = seconds
            self._next_minute = seconds + MINUTE_SECONDS
        self.seconds = seconds
        if seconds < self._next_look:
            return
        self._next_look = seconds + LOOK_SECONDS
        for device in self.alignment.devices.values():
            if device.up and device.silent(seconds):
                quiet = device.quiet(seconds)
                self._set_link(device, False, f"no reading for {duration(quiet)}", seconds)
        if self._shelved:
            panels = self._panels()
            for panel in panels:
                panel.end_shelving(seconds)
            self._shelved = any(panel.shelved for panel in panels)
        if seconds >= self._next_minute:
            self._minute(seconds)

    def _minute(self, seconds: float) -> None:
        self._next_minute = seconds + MINUTE_SECONDS
        for name, device in self.alignment.devices.items():
            device.look()
            panel = self._device_panel(name)
            panel.judge(panel.alarms, seconds, MINUTE_SECONDS)
        self.site_watch.look(seconds)
        self.site_panel.judge(self.site_panel.alarms, seconds, MINUTE_SECONDS)

    def _reading(self, reading: Reading) -> None:
        seconds = reading.seconds
        if self.seconds is None or seconds > self.seconds:
            self._pass(seconds)
        alignment = self.alignment
        device = alignment.devices.get(reading.device)
        if device is None:
            device = alignment.device(reading.device)
            device.since = seconds
        if not device.up and (device.last is None or seconds > device.last):
            self._set_link(device, True, "", seconds)
        banks = self.banks
        for place in alignment.take(reading, device):
            if place < len(banks):
                banks[place].step(self.site_watch.wall_offset)
            else:
                owner, own_place = self._owners[place - len(banks)]
                rooms = banks[owner]
                rooms.step_source(own_place, rooms.signal.celsius)

    def _link(self, link: LinkState) -> None:
        if self.seconds is None or link.seconds > self.seconds:
            self._pass(link.seconds)
        device = self.alignment.device(link.device)
        late = device.last is not None and link.seconds < device.last
        if late:
            return
        if device.up != link.up:
            self._set_link(device, link.up, link.reason, link.seconds)
        elif device.reason != link.reason:
            self._set_reason(device, link.reason, link.seconds)

    def _tick(self, tick: Tick) -> None:
        self._begin_again(tick)
        if self.seconds is None or tick.seconds > self.seconds:
            self._pass(tick.seconds)
        # written so that not-a-number is no news either
        if tick.wall_offset is None or not -FARTHEST <= tick.wall_offset <= FARTHEST:
            return
        first = self.site_watch.wall_offset is None
        jump = self.site_watch.set_clock(tick.seconds, tick.wall_offset)
        if jump is None:
            return
        way = "on" if jump > 0.0 else "back"
        words = "wall clock known" if first else f"wall clock set {way} by {duration(abs(jump))}"
        self.journal.note(tick.seconds, EventKind.CLOCK, "wall-clock", "site", words)
        self.site_panel.judge(self.site_panel.alarms, tick.seconds, 0.0)

    def _begin_again(self, tick: Tick) -> None:
        """Nobody looked for a while, and then the clock is told: the tool was started again.

        A live feed ticks every second, so what lies between was its own silence and no device's.
        """
        if self.seconds is None or tick.wall_offset is None:
            return
        if tick.seconds - self.seconds > NOT_LOOKING_SECONDS:
            for device in self.alignment.devices.values():
                device.begun = tick.seconds

    def _command(self, command: Command) -> None:
        if self.seconds is None or command.seconds > self.seconds:
            self._pass(command.seconds)
        carry_out(command, self._panels(), self.banks, self.alignment.devices, self.journal)
        self._shelved = any(panel.shelved for panel in self._panels())

    def told_period(self, device: str) -> float | None:
        """Seconds between two polls that were asked for; None where none were."""
        found = self.alignment.devices.get(device)
        return found.told_period if found is not None else None

    def _set_reason(self, device: Device, reason: str, seconds: float) -> None:
        """Another reason for the same silence, or what is wrong with a device that answers."""
        device.reason = reason
        if reason:
            self._tell_link(device, seconds)
        panel = self._device_panel(device.name)
        panel.judge(panel.alarms, seconds, 0.0)

    def _tell_link(self, device: Device, seconds: float) -> None:
        words = _LINK_WORDS[device.own][device.up]
        if device.reason:
            words += f": {device.reason}"
        name = "up" if device.up else "down"
        self.journal.note(seconds, EventKind.LINK, name, device.name, words)

    def _set_link(self, device: Device, up: bool, reason: str, seconds: float) -> None:
        device.up = up
        device.reason = reason
        device.since = seconds
        self._tell_link(device, seconds)
        panel = self._device_panel(device.name)
        panel.judge(panel.alarms, seconds, 0.0)
        alignment = self.alignment
        for rooms in self.banks:
            rooms.panel.suppress(_lost_in(alignment, rooms.bank.id, None), seconds)
            for source_panel in rooms.source_panels:
                source_panel.suppress(
                    _lost_in(alignment, source_panel.target, rooms.bank.id), seconds
                )

    # Alarms.

    def _device_panel(self, name: str) -> Panel[Device]:
        panel = self.device_panels.get(name)
        if panel is None:
            device = self.alignment.device(name)
            table = conditions.OWN_LINK[OwnLink(name)] if device.own else conditions.DEVICE
            panel = Panel(name, device, adjusted(table, self.site), self.journal)
            Group(name, [panel])
            self.device_panels[name] = panel
        return panel

    def _panels(self) -> list[Panel[Any]]:
        panels: list[Panel[Any]] = []
        for rooms in self.banks:
            panels.append(rooms.panel)
            panels.extend(rooms.source_panels)
        panels.extend(self.device_panels.values())
        panels.append(self.site_panel)
        return panels

    def _alarms(self) -> tuple[AlarmView, ...]:
        """What is not normal, worst first."""
        now = self.seconds or 0.0
        return worst_first(
            alarm.view(now) for panel in self._panels() for alarm in panel.alarms if alarm.listed
        )

    # What is seen from outside.

    def glance(self, bank_id: str) -> Glance:
        """The few figures of one bank that are cheap at every step; KeyError if there is none."""
        for rooms in self.banks:
            if rooms.bank.id == bank_id:
                return bank_view.glance(rooms, self.seconds or 0.0)
        raise KeyError(bank_id)

    def snapshot(self) -> Snapshot:
        """Everything there is to see, as of the newest input."""
        now = self.seconds or 0.0
        return Snapshot(
            seconds=now,
            wall_offset=self.site_watch.wall_offset,
            banks=tuple(bank_view.view(rooms, now) for rooms in self.banks),
            sources=tuple(
                self.banks[bank].sources[own].view(given, now)
                for given, (bank, own) in zip(self.alignment.sources, self._owners, strict=True)
            ),
            links=tuple(_link_view(device, now) for device in self.alignment.devices.values()),
            alarms=self._alarms(),
            last_event=self.journal.last,
        )

    # Keeping.

    def state(self) -> Json:
        """Everything learned and everything pending, as plain JSON."""
        return marked(self.site, dump(self))

    def _restore(self, state: Json) -> None:
        refuse_foreign(state, self.site)
        try:
            restore(self, state["memory"])
        except (KeyError, TypeError, ValueError, AttributeError) as error:
            raise StateError(f"engine state is damaged ({error!r}): start anew") from None
        for rooms, changed in zip(self.banks, set_points_changed(state, self.site), strict=True):
            if changed:
                rooms.forget_set_points()
        for panel in self._panels():
            if panel.group is not None:
                panel.group.forget_vanished(self.seconds or 0.0)
        self._shelved = any(panel.shelved for panel in self._panels())

    @property
    def device_memory(self) -> Json:
        """The alarms of the devices, by name, in the devices' order."""
        return {name: panel.memory for name, panel in self.device_panels.items()}

    @device_memory.setter
    def device_memory(self, memory: Json) -> None:
        for name, kept in memory.items():
            self._device_panel(name).memory = kept


def _lost_in(alignment: Alignment, owner: str, bank_id: str | None) -> Callable[[Quantity], bool]:
    """Is a quantity of this owner, or of its bank, given only by devices that are silent?"""

    def lost(quantity: Quantity) -> bool:
        slot = alignment.slot(owner, quantity)
        if slot is None and bank_id is not None:
            slot = alignment.slot(bank_id, quantity)
        return slot is not None and slot.lost()

    return lost


def _link_view(device: Device, now: float) -> LinkView:
    if device.last is None:
        return LinkView(device.name, device.up, device.reason, None, device.since)
    # One that spoke without anybody telling of its link was heard all the same.
    reason = "" if device.reason == NOT_HEARD else device.reason
    age = max(0.0, now - device.last)
    return LinkView(
        device.name, device.up, reason, age, device.since, device.period, device.lost_share
    )
