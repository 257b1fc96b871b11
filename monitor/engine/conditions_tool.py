"""Conditions of the tool itself: devices not heard or not to be believed, the clock, its own links.

What the tool watches of itself (its recording, its disk, its sign of life) comes in as links of its
own (`adapters.reading.OwnLink`): each has one row, and none of the rows of a device.
"""

from __future__ import annotations

from typing import Final

from adapters.reading import OwnLink
from monitor.engine.condition import CAUTION_POSTS, Condition, Figures
from monitor.engine.device import Device
from monitor.engine.site import SiteWatch
from monitor.engine.snapshot import Priority

#: Figures refused in an hour from which a line is called disturbed: a slip a day is ordinary
#: (common practice), five an hour are a cable or a connector.
STRAY_FIGURES: Final = 5.0
#: Share of polls lost that costs nothing yet: every gap is bridged (our choice).
LOST_SHARE: Final = 0.2
MISSING_SECONDS: Final = 120.0


def _lost_detail(device: Device) -> Figures:
    return (
        ("percent", 100.0 * device.lost_share),
        ("period", device.expected_period or device.period),
    )


def _down(device: Device) -> float:
    return 0.0 if device.up else 1.0


def _reason(device: Device) -> str:
    return device.reason or "no reason told"


def _refused_detail(device: Device) -> Figures:
    return (("percent", 100.0 * device.refused_share),)


DEVICE_CONDITIONS: Final[tuple[Condition[Device], ...]] = (
    Condition(
        name="device-silent",
        words="A device does not answer: what it measures is not known any more.",
        causes=("unplugged or without power", "cable or connector", "wrong port or address"),
        first="Check the device's power and cable; `ampwright check` tries every device once.",
        priority=Priority.MEDIUM,
        figure=_down,
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
        unit="fraction",
        possible=(0.005, 1.0),
    ),
    Condition(
        name="line-disturbed",
        words="Now and then a device gives nonsense for a moment: figures of it are thrown away.",
        causes=(
            "a loose connector or a long unshielded cable",
            "interference from an inverter or charger beside the cable",
            "two programs that read the same device",
        ),
        first="Reseat the connectors; lead the cable away from the inverter and its cables.",
        priority=Priority.LOW,
        figure=lambda device: device.refused_an_hour,
        limit=lambda _: STRAY_FIGURES,
        says="{figure:.0f} figures refused within the last hour, more than {limit:.0f}",
        source="our choice: a single glitch is ordinary, one every ten minutes is a bad line",
        inputs=(),
        deadband=2.0,
        on_delay=600.0,
        off_delay=600.0,
        unit="figures",
        possible=(1.0, 1000.0),
    ),
    Condition(
        name="polls-lost",
        words=(
            "Many polls of a device bring nothing: what happens in the gaps is not seen, and "
            "counting is less sure."
        ),
        causes=(
            "a bus with more devices or slower answers than its period allows",
            "a bad connector or cable",
            "a period in the config that is shorter than the device's own",
        ),
        first="Compare the period in the config with the device's own; then check the cable.",
        priority=Priority.LOW,
        figure=lambda device: device.lost_share,
        limit=lambda _: LOST_SHARE,
        says="{percent:.0f} of 100 polls lost, one every {period:.0f} s expected",
        source="our choice: one in five; gaps of a few periods are bridged",
        inputs=(),
        deadband=0.05,
        on_delay=600.0,
        off_delay=600.0,
        detail=_lost_detail,
        unit="fraction",
        possible=(0.01, 1.0),
    ),
    Condition(
        name="figure-missing",
        words=(
            "A device answers but no longer gives the bank's voltage or current: stage and state "
            "of charge stand still."
        ),
        causes=("a sense wire that has come off", "a fuse in the sense lead", "a failing device"),
        first="Check the sense wires and their fuse at the shunt.",
        caution=CAUTION_POSTS,
        priority=Priority.MEDIUM,
        figure=lambda device: device.missing[0],
        limit=lambda _: MISSING_SECONDS,
        adds=lambda device: f"no {device.missing[1]}",
        says=" for {lasted} although the device answers (told after {allowed})",
        source="our choice: two minutes, no more than a gap that is bridged",
        inputs=(),
        on_delay=60.0,
        unit="seconds",
        possible=(10.0, 86400.0),
    ),
)

#: The links of the tool itself, each with its one row.
OWN_LINK_CONDITIONS: Final[dict[OwnLink, tuple[Condition[Device], ...]]] = {
    OwnLink.RECORDER: (
        Condition(
            name="recording-stopped",
            words="What the devices say is shown, but cannot be recorded now.",
            causes=("a full or failing disk", "a disk that was taken out", "no permission there"),
            first="Do what the reason says: rows wait in memory and are written then, but are lost "
            "if the program ends before.",
            priority=Priority.MEDIUM,
            figure=_down,
            limit=lambda _: 0.5,
            adds=_reason,
            says="",
            source="the operating system refused to write",
            inputs=(),
        ),
    ),
    OwnLink.DISK: (
        Condition(
            name="disk-nearly-full",
            words="The disk that records and keeps what was learned is nearly full.",
            causes=("captures of many months", "something else that fills the disk"),
            first="Move old captures to another disk, or delete what is not needed.",
            priority=Priority.LOW,
            figure=_down,
            limit=lambda _: 0.5,
            adds=_reason,
            says="",
            source="our choice: room for about two weeks of recording",
            inputs=(),
        ),
    ),
    OwnLink.HEARTBEAT: (
        Condition(
            name="heartbeat-not-delivered",
            words=(
                "The sign of life could not be sent: whoever waits for it will think that this "
                "tool has stopped."
            ),
            causes=("no way out (no network)", "the user's own command fails or takes too long"),
            first="Look at the log of the command; try it by hand.",
            priority=Priority.LOW,
            figure=_down,
            limit=lambda _: 0.5,
            adds=_reason,
            says="",
            source="the command's own end",
            inputs=(),
        ),
    ),
}

SITE_CONDITIONS: Final[tuple[Condition[SiteWatch], ...]] = (
    Condition(
        name="clock-jumped",
        words="The wall clock was moved: clock times before and after do not fit together.",
        causes=("no clock battery on the board", "time set by hand or from the network"),
        first="Nothing, if it is right now; durations are not affected.",
        priority=Priority.LOW,
        figure=lambda site: abs(site.jump_seconds),
        limit=lambda _: 60.0,
        says="moved by {lasted}",
        source="our choice: a minute, more than a clock drifts in a week",
        inputs=(),
        unit="seconds",
        possible=(1.0, 86400.0),
    ),
)
