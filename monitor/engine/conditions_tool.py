"""Conditions of the tool itself: a device silent or not to be believed, a clock that jumped."""

from __future__ import annotations

from typing import Final

from monitor.engine.condition import Condition, Figures
from monitor.engine.device import Device
from monitor.engine.site import SiteWatch
from monitor.engine.snapshot import Priority


def _refused_detail(device: Device) -> Figures:
    return (("percent", 100.0 * device.refused_share),)


DEVICE_CONDITIONS: Final[tuple[Condition[Device], ...]] = (
    Condition(
        name="device-silent",
        words="A device does not answer: what it measures is not known any more.",
        causes=("unplugged or without power", "cable or connector", "wrong port or address"),
        first="Check the device's power and cable; `ampwright check` tries every device once.",
        priority=Priority.MEDIUM,
        figure=lambda device: 0.0 if device.up else 1.0,
        limit=lambda _: 0.5,
        says="no answer",
        adds=lambda device: f"{device.reason}; " if device.reason else "",
        source="three periods of the device, at least 15 s (our choice)",
        inputs=(),
    ),
    Condition(
        name="readings-implausible",
        words="A device gives figures that no working sensor on this bank could give.",
        causes=(
            "scale, type or word order wrong in the device description",
            "nominal volts or ampere-hours of the bank wrong in the config",
            "a failing sensor",
        ),
        first="Compare the device's display with what is read; check its description.",
        priority=Priority.LOW,
        figure=lambda device: device.refused_share,
        limit=lambda _: 0.1,
        says="{percent:.0f} of 100 figures refused",
        source="our choice: one in ten over ten minutes; single glitches are ordinary",
        inputs=(),
        deadband=0.05,
        on_delay=120.0,
        off_delay=600.0,
        detail=_refused_detail,
    ),
)

SITE_CONDITIONS: Final[tuple[Condition[SiteWatch], ...]] = (
    Condition(
        name="clock-jumped",
        words="The wall clock was moved: clock times before and after do not fit together.",
        causes=("no clock battery on the board", "time set by hand or from the network"),
        first="Nothing, if it is right now; durations are not affected.",
        priority=Priority.LOW,
        figure=lambda site: abs(site.jump_seconds),
        limit=lambda _: 60.0,
        says="moved by {figure:.0f} s",
        source="our choice: a minute, more than a clock drifts in a week",
        inputs=(),
    ),
)
