"""RV-C over CAN: the factory behind the adapter name `rvc`.

*Experimental: not checked against the published specification.* It only listens. One device of the
config is one bank, one source, or both, on one bus; several devices may share a Linux interface::

    [devices.meter]
    adapter = "rvc"
    channel = "can0"
    bank = "house"
    dc_instance = 1
    positive = "charging"     # which way a positive bank current flows; see ampwright check

    [devices.charger]
    adapter = "rvc"
    channel = "can0"
    source = "shore"
    charger_instance = 1
    period_seconds = 5        # how often it speaks
"""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import Callable
from typing import Final

from adapters.adapter import DeviceSettings, LinkError, LinkLost, Values
from adapters.believed import Believed
from adapters.conversion import PERIOD_BOUNDS
from adapters.options import Options
from adapters.rvc.bus import INTERFACES, BusReader, BusSettings, need_python_can, open_bus
from adapters.rvc.frames import message
from adapters.rvc.heard import Choices, Heard
from adapters.rvc.meanings import INSTANCE_KEYS
from adapters.rvc.table import CHARGER, DC_SOURCE, LAYOUTS, SOLAR
from adapters.rvc.telling import described, name_of

Frames = Callable[[bool, bytes], None]

_PERIOD_SECONDS: Final = 1.0

#: A little more than the longest usual gap between broadcasts, 5 s (from memory).
_TIMEOUT_SECONDS: Final = 6.0

#: After opening, everything is listened to this long before the first figures are told: twice the
#: usual gap of fast broadcasts (0.5 s, from memory), so that they are complete.
_LOOK_SECONDS: Final = 1.0

#: RV-C, instances: 0 is every instance, and the three highest say no data (from memory).
_MOST_INSTANCES: Final = 252

#: Names of speakers that one line has room for.
_MOST_NAMES: Final = 5


class RvcAdapter:
    """A bank or a source on an RV-C bus as an `adapters.adapter.Adapter`. It never sends."""

    def __init__(
        self,
        settings: DeviceSettings,
        choices: Choices,
        bus: BusSettings,
        period: float,
        timeout: float,
        frames: Frames,
    ) -> None:
        self.name = settings.name
        self.period_seconds = period
        self.listens = True
        self._choices = choices
        self._settings = bus
        self._timeout = timeout * choices.patience
        self._frames = frames
        self._heard = Heard(choices)
        self._believed = Believed(settings, self._heard.measurands)
        self._reader: BusReader | None = None
        self._lost = ""
        self._news = asyncio.Event()
        self._down = asyncio.Event()
        self._opened = 0.0
        self._settled = False

    @property
    def remark(self) -> str:
        """What is wrong with a bus that works in part; empty when nothing is."""
        parts = (self._unsigned, self._unheard, self._heard.missing, self._believed.remark)
        return "; ".join(filter(None, parts))

    @property
    def _unheard(self) -> str:
        """What of the configured has not spoken, once the rest has."""
        silent = set(self._choices.instances) - self._heard.things_heard()
        if not self._settled or not silent:
            return ""
        names = (f"{thing} {n}" for thing, n in self._choices.instances.items() if thing in silent)
        return f"nothing is heard of {', '.join(names)}; check the instance"

    @property
    def _unsigned(self) -> str:
        """The layouts do not say which way a positive current flows, so the config must."""
        asked = DC_SOURCE in self._choices.instances and not self._choices.positive
        return (
            'bank current of unknown sign: not used; add positive = "charging" or '
            '"discharging", whichever way it flows where its figure is positive'
            if asked
            else ""
        )

    @property
    def about(self) -> tuple[str, ...]:
        """Every message heard, with its instance, whether it is asked for or not."""
        return described(self._heard.kept(), dict(self._choices.instances))

    async def open(self) -> None:
        await self.close()
        self._heard = Heard(self._choices)
        self._lost, self._settled = "", False
        self._news.clear()
        self._down.clear()
        bus = await open_bus(self._settings, LAYOUTS)
        self._reader = BusReader(bus, self._arrived, self._gone)
        self._opened = asyncio.get_running_loop().time()

    async def close(self) -> None:
        """What was heard stays, for those who ask about it afterwards."""
        if self._reader is not None:
            reader, self._reader = self._reader, None
            await reader.stop()

    async def poll(self) -> Values:
        """What is new since the last poll and what is held; waits where there is nothing.

        After opening it looks around first, until every configured instance has spoken or the
        time is up.
        """
        await asyncio.sleep(0)  # what has come is handed over first
        now = asyncio.get_running_loop().time
        until = now() + self._timeout
        look = now() if self._settled else min(until, self._opened + _LOOK_SECONDS)
        while True:
            self._news.clear()
            self._check_link()
            left = until - now()
            looked = now() >= look and self._all_heard()
            if self._settled or looked or left <= 0.0:
                values = self._believed.values(self._heard.figures(now()))
                if values:
                    self._settled = True
                    return values
            if left <= 0.0:
                raise LinkError(self._nothing())
            with contextlib.suppress(TimeoutError):
                # Looking around ends by itself; what comes meanwhile need not wake anybody.
                async with asyncio.timeout(left if now() >= look else look - now()):
                    await (self._news if now() >= look else self._down).wait()

    def _check_link(self) -> None:
        if self._lost:
            raise LinkLost(f"{self._settings} is gone: {self._lost}; check that it is up")
        if self._reader is None:
            raise LinkLost(f"{self.name} is not open")

    def _all_heard(self) -> bool:
        return self._heard.things_heard() >= set(self._choices.instances)

    def _nothing(self) -> str:
        wanted = " or ".join(f"{thing} {n}" for thing, n in self._choices.instances.items())
        names = list(dict.fromkeys(name_of(kept.message) for kept in self._heard.kept()))
        heard = ", ".join(names[:_MOST_NAMES]) or "no RV-C message of a bank or a source"
        return (
            f"{self._settings}: expected figures of {wanted} within {self._timeout:g} s; "
            f"heard {heard}; check the instance, and that the device is on and wired"
        )

    def _arrived(self, can_id: int, data: bytes, seconds: float) -> None:
        self._frames(False, can_id.to_bytes(4, "big") + data)
        said = message(can_id, data)
        if said is not None and self._heard.take(said, seconds):
            self._news.set()

    def _gone(self, reason: str) -> None:
        self._lost = reason
        self._down.set()
        self._news.set()


def rvc(settings: DeviceSettings, frames: Frames) -> RvcAdapter:
    """RV-C over CAN, listening only. *Experimental: not checked against the published
    specification.* Options: channel, interface, dc_instance, charger_instance, solar_instance,
    inverter_instance, ats_instance, positive, charger_figures, patience, timeout_seconds,
    period_seconds."""
    options = Options(settings)
    bus = BusSettings(
        interface=options.choice("interface", INTERFACES, "socketcan"),
        channel=options.text("channel", 'the name of a CAN interface, such as "can0"'),
    )
    instances = _instances(options)
    choices = Choices(
        instances=instances,
        positive=options.choice("positive", ("charging", "discharging"), ""),
        measured=options.choice("charger_figures", ("measured", "wanted"), "wanted") == "measured",
        patience=options.number("patience", 1.0, 0.05, 20.0),
    )
    period = options.number("period_seconds", _PERIOD_SECONDS, *PERIOD_BOUNDS)
    timeout = options.number("timeout_seconds", _TIMEOUT_SECONDS, 0.05, 30.0)
    options.done()
    need_python_can(options.where)
    return RvcAdapter(settings, choices, bus, period, timeout, frames)


def _instances(options: Options) -> dict[str, int]:
    found = {}
    for thing, key in INSTANCE_KEYS.items():
        instance = options.whole(key, 0, 1, _MOST_INSTANCES)
        if instance:
            found[thing] = instance
    if not found:
        keys = ", ".join(INSTANCE_KEYS.values())
        raise options.error("dc_instance", f"expected at least one of {keys}; found none")
    if CHARGER in found and SOLAR in found:
        raise options.error(
            "solar_instance",
            "expected one source for each device; found a charger_instance too; "
            "give the solar controller a device of its own",
        )
    return found
