"""What is plugged in and how well each device is heard, in words."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Final, NamedTuple

from monitor.engine.snapshot import LinkView
from monitor.words.figures import ago, percent, span
from monitor.words.sentences import OPENED
from monitor.words.texts import Section

if TYPE_CHECKING:
    from monitor.link_counts import LinkCount
    from monitor.plugged_in import Port

HEADING: Final = "Devices"
LOOKING: Final = "Looking ..."
LINKS: Final = "Links"
NO_LINKS: Final = "No device is configured: ampwright init writes a configuration."
PORTS: Final = "Serial ports"
NO_PORTS: Final = "none is plugged in"
CAN: Final = "CAN interfaces"
ADAPTERS: Final = "Adapters installed"
NONE: Final = "none"
NOT_HEARD: Final = "not heard yet"
#: In place of how long an answer takes.
UNASKED: Final = "it speaks unasked"
LASTING: Final = "stays the same when plugged in again:"


class Found(NamedTuple):
    """What this machine has; `problem` says why it could not be looked at."""

    ports: tuple[Port, ...]
    can: tuple[str, ...]
    adapters: tuple[str, ...]
    problem: str = ""


def device_sections(
    links: Sequence[LinkView],
    counts: Sequence[LinkCount],
    found: Found | None,
    now: float,
    then: str = "",
) -> list[Section]:
    """Links first: they are what somebody comes for. `then` says as of when they are told, where
    nobody tells of them any more."""
    counted = {count.device: count for count in counts}
    lines: list[str] = []
    for link in links:
        lines += link_lines(link, counted.get(link.device), now, then)
    return [Section(LINKS, tuple(lines or [NO_LINKS])), *_found(found)]


def link_lines(link: LinkView, count: LinkCount | None, now: float, then: str = "") -> list[str]:
    """A line that says how it is, or was `then`, and those that say how well."""
    lines = [f"{link.device}: {then}{_heard_then(link) if then else _heard(link, now)}"]
    speaks = []
    if link.period_seconds:
        speaks.append(f"speaks every {_seconds(link.period_seconds)}")
    if link.age_seconds is not None:
        speaks.append(f"{lost_polls(link.lost_share)} lately")
    if speaks:
        lines.append("  " + ", ".join(speaks))
    if count is not None:
        lines += [f"  {line}" for line in count_lines(count)]
    return lines


def _heard(link: LinkView, now: float) -> str:
    if not link.up:
        reason = link.reason or "silent"
        if link.age_seconds is None:
            return f"{NOT_HEARD}: {reason}"
        return f"SILENT for {span(now - link.since_seconds)}: {reason}"
    if link.age_seconds is None:
        return NOT_HEARD
    remark = f"; {link.reason}" if link.reason and link.reason != OPENED else ""
    return f"answers, last reading {ago(link.age_seconds)}{remark}"


def _heard_then(link: LinkView) -> str:
    if link.up:
        return NOT_HEARD if link.age_seconds is None else "answered"
    return f"silent: {link.reason}" if link.reason else "silent"


def count_lines(count: LinkCount) -> list[str]:
    """Polls since the program began, how long an answer takes, the last error."""
    lines = [f"{count.polls} polls since the start, {count.lost} lost"]
    if count.unasked:
        lines.append(UNASKED)
    elif count.median_seconds is not None and count.worst_seconds is not None:
        lines.append(answer_takes(count.median_seconds, count.worst_seconds))
    if count.error and count.error_seconds is not None:
        lines.append(f"last error, {ago(count.error_seconds)}: {count.error}")
    elif not count.error:
        lines.append("no error")
    return lines


def answer_takes(median: float, worst: float) -> str:
    return f"an answer takes {_milliseconds(median)}, at worst {_milliseconds(worst)}"


def lost_polls(share: float) -> str:
    """A share of less than half a percent is no poll in hundreds."""
    return f"{percent(abs(share))} of its polls lost"


def _milliseconds(seconds: float) -> str:
    return f"{1000.0 * seconds:.0f} ms" if seconds < 1.0 else f"{seconds:.1f} s"


def _seconds(seconds: float) -> str:
    return f"{seconds:.1f} s" if seconds < 10.0 else f"{seconds:.0f} s"


def _found(found: Found | None) -> list[Section]:
    if found is None:
        return [Section(PORTS, (LOOKING,))]
    if found.problem:
        return [Section(PORTS, (found.problem,))]
    ports: list[str] = []
    for port in found.ports:
        ports.append(f"{port.path}{port.description and f': {port.description}'}")
        ports += [f"  {LASTING} {name}" for name in port.lasting[:1]]
    return [
        Section(PORTS, tuple(ports or [NO_PORTS])),
        Section(CAN, (", ".join(found.can) or NONE,)),
        Section(ADAPTERS, (", ".join(found.adapters) or NONE,)),
    ]
