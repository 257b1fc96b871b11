"""`ampwright demo`: a recording that comes with the program, or a coach with something wrong."""

from __future__ import annotations

import argparse
from datetime import timedelta, timezone, tzinfo
from pathlib import Path
from typing import TYPE_CHECKING, Final

import replay
from monitor.commands.options import add_looks, rate
from monitor.mishaps import Refusal

#: The one that is shown where none is named: three days of shore power, sun, loads and a fault.
DEFAULT: Final = "pinewater"

if TYPE_CHECKING:
    from monitor.recorded import Recorded

#: A fault is shown from so long before it begins: ten seconds at the usual pace.
BEFORE_SECONDS: Final = 600.0
#: A fault is told within so long of watching: what takes days plays faster (our choice).
WATCHED_SECONDS: Final = 90.0

_FOLDER: Final = Path(replay.__file__).parent / "captures"
_ENDINGS: Final = (".capture.gz", ".capture")


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("name", nargs="?", metavar="NAME", help="which one (see --list)")
    parser.add_argument("--list", action="store_true", help="what recordings there are")
    parser.add_argument(
        "--fault", metavar="NAME", help="a simulated coach with this fault; list shows all"
    )
    parser.add_argument("--rate", type=rate, metavar="N", help="recorded seconds a second, or max")
    add_looks(parser)


def run(arguments: argparse.Namespace) -> int:
    from monitor.commands.at_once import loading
    from monitor.commands.screens import play

    if arguments.fault is not None:
        if arguments.name is not None:
            raise Refusal("--fault: expected it alone, found a recording too; leave one out")
        return _fault(arguments)
    names = shipped()
    if not names:
        raise Refusal("no recording came with this installation; install the program again")
    if arguments.list:
        from replay.capture import open_capture

        for name in names:
            print(f"{name}: {open_capture(shipped_path(name)).title}")
        return 0
    name = arguments.name or names[0]
    if name not in names:
        raise Refusal(f'expected one of {", ".join(names)}, found "{name}"')
    with loading():
        from monitor.recorded import open_recorded

        recorded = open_recorded(shipped_path(name))
    return play(recorded, arguments, zone=zone_of(recorded))


def _fault(arguments: argparse.Namespace) -> int:
    from monitor.commands.screens import play
    from replay.coach.faults import FAULTS

    if arguments.fault == "list":
        for fault in FAULTS.values():
            print(f"{fault.name}: {fault.words}")
        return 0
    recorded, begin, pace = with_fault(arguments.fault)
    return play(recorded, arguments, begin=begin, pace=pace, zone=zone_of(recorded))


def with_fault(name: str) -> tuple[Recorded, float, float]:
    """The coach on which a fault is seen best, simulated while it plays; from where it is shown,
    and at what pace, so that what it is told by comes while somebody still watches."""
    from monitor.commands.screens import SCREEN_RATE
    from monitor.config import parse_config
    from monitor.config_keys import nearest
    from monitor.recorded import Recorded
    from replay.coach.faults import FAULTS
    from replay.coach.simulated import SimulatedRecording
    from replay.coach.staging import staged

    if name not in FAULTS:
        advice = nearest(name.replace("-", "_"), FAULTS)
        advice = advice if advice.startswith("did") else "see: ampwright demo --fault list"
        raise Refusal(f'--fault: expected the name of a fault, found "{name}"; {advice}')
    fault = staged(name)
    recording = SimulatedRecording(fault.scenario, fault.config)
    config = parse_config(recording.header.config, f"the coach {fault.scenario.name}")
    begin = max(0.0, 3600.0 * fault.onset_hours - BEFORE_SECONDS)
    pace = max(SCREEN_RATE, (3600.0 * fault.told_hours - begin) / WATCHED_SECONDS)
    return Recorded(recording, config.site, None, config), begin, pace


def zone_of(recorded: Recorded) -> tzinfo:
    """The zone of the coach shown: its sun stands high at noon, wherever this machine is."""
    return timezone(timedelta(seconds=recorded.config.history.zone_seconds))


def shipped() -> list[str]:
    """Names of the recordings that come with the program, the one shown by default first."""
    if not _FOLDER.is_dir():
        return []
    found = (_name(item.name) for item in _FOLDER.iterdir())
    return sorted((name for name in found if name), key=lambda name: (name != DEFAULT, name))


def shipped_path(name: str) -> Path:
    """The file of a shipped recording."""
    return next(path for path in _FOLDER.iterdir() if _name(path.name) == name)


def _name(file_name: str) -> str:
    """The name of a recording, empty for a file that is none."""
    for ending in _ENDINGS:
        if file_name.endswith(ending):
            return file_name.removesuffix(ending)
    return ""
