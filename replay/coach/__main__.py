"""python -m replay.coach [NAME] [--fault FAULT[@HOURS]] [--hours H] [--seed N] [--out FILE]

Without a name: lists the coaches and the faults. With one: simulates it, writes a capture where
`--out` says so and tells hour by hour what was true.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterable
from dataclasses import replace
from difflib import get_close_matches
from pathlib import Path

from replay.coach.faults import FAULTS
from replay.coach.recording import write_capture
from replay.coach.scenario import Scenario
from replay.coach.simulate import simulate
from replay.coach.stories import STORIES
from replay.sealed_lines import CaptureError


class UsageError(Exception):
    """What the person asked for cannot be; the text is one line."""


class _Parser(argparse.ArgumentParser):
    def error(self, message: str) -> None:  # type: ignore[override]  # never returns either way
        raise UsageError(f"{message}; see python -m replay.coach --help")


def _parser() -> argparse.ArgumentParser:
    parser = _Parser(prog="python -m replay.coach", description="Simulate a coach.")
    parser.add_argument("name", nargs="?", help="which coach; none: list all, and all faults")
    parser.add_argument("--fault", action="append", default=[], help="NAME or NAME@HOURS")
    parser.add_argument("--healthy", action="store_true", help="without the story's own fault")
    parser.add_argument("--hours", type=float, help="for how long")
    parser.add_argument("--seed", type=int, help="another run of the same coach")
    parser.add_argument("--out", type=Path, help="capture to write, .capture or .capture.gz")
    return parser


def _scenario(given: argparse.Namespace) -> Scenario:
    scenario = STORIES[_known("coach", given.name, STORIES)]
    if given.healthy or given.fault:
        scenario = replace(scenario, faults=())
    for fault in given.fault:
        name, _, hours = fault.partition("@")
        scenario = scenario.with_fault(_known("fault", name, FAULTS), _hours(hours))
    if given.hours is not None:
        if not 0.0 < given.hours <= 24.0 * 400.0:
            raise UsageError(f"--hours {given.hours:g}: expected more than 0 and up to 9600")
        scenario = scenario.with_hours(given.hours)
    return scenario if given.seed is None else replace(scenario, seed=given.seed)


def _known(what: str, name: str, names: Iterable[str]) -> str:
    if name in names:
        return name
    near = get_close_matches(name, list(names), 1)
    advice = f'did you mean "{near[0]}"?' if near else "run without a name for the list"
    raise UsageError(f'no {what} is called "{name}"; {advice}')


def _hours(text: str) -> float | None:
    if not text:
        return None
    try:
        return float(text)
    except ValueError:
        raise UsageError(f'"{text}" is no number of hours; write NAME@4.5') from None


def _list() -> None:
    print("Coaches:")
    for story in STORIES.values():
        print(f"  {story.name:12} {story.hours:3.0f} h  {story.words}")
    print("Faults:")
    for fault in FAULTS.values():
        print(f"  {fault.name:26} {fault.words} (see it on {fault.story})")


def _tell(scenario: Scenario) -> None:
    """One line an hour: enough to see what kind of day it was."""
    print("  hour  stage        charge   volts     amps   °C")
    hour = -1
    for _, truth in simulate(scenario):
        if int(truth.seconds // 3600) != hour:
            hour = int(truth.seconds // 3600)
            print(
                f"{hour:6d}  {truth.stage:11} {truth.soc:7.3f} {truth.volts:7.2f} "
                f"{truth.amps:8.1f} {truth.celsius:5.1f}"
            )


def main(arguments: list[str] | None = None) -> int:
    try:
        given = _parser().parse_args(arguments)
        if given.name is None:
            _list()
            return 0
        scenario = _scenario(given)
        if given.out is None:
            _tell(scenario)
        else:
            print(f"{write_capture(scenario, given.out)}: {scenario.words}")
    except (UsageError, CaptureError) as error:
        print(error, file=sys.stderr)
        return 2
    except OSError as error:
        print(f"{given.out}: cannot be written ({error.strerror or error})", file=sys.stderr)
        return 2
    except KeyboardInterrupt:
        return 130
    return 0


if __name__ == "__main__":
    sys.exit(main())
