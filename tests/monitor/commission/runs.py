"""Whole commissionings of simulated installations: `python -m tests.monitor.commission.runs`.

Each place once with nothing wrong, once for each defect, with several installers (their meters
err). The tables say what each defect was named as, and what else failed. Ends with status 1 where
a defect was missed, misnamed, or a sound installation found wrong or left undone.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path

from adapters.reading import Command, Input
from monitor.commission.look import look_of
from monitor.commission.procedure import Procedure
from monitor.commission.record import CommissionRecord, Outcome, Verdict
from monitor.commission.said import command, said_in
from monitor.commission.setting import Setting
from monitor.engine.engine import Engine
from replay.capture import CaptureWriter, Header
from replay.coach.simulate import run
from tests.monitor.commission.bench import STEP_SECONDS, Bench, Place, set_up
from tests.monitor.commission.coach import COACH, CONFIG, SCENARIO
from tests.monitor.commission.elsewhere import PLACES
from tests.monitor.commission.hands import Wait
from tests.monitor.commission.installer import Installer

#: Looks while nobody is at it: the night is long.
_NIGHT_SECONDS = 20.0
_LONGEST_WAIT_SECONDS = 3600.0


@dataclass(slots=True)
class Run:
    """One commissioning. `inputs` is everything that came in, to be recorded or played again."""

    record: CommissionRecord
    inputs: list[Input] = field(default_factory=list)
    changes: list[Outcome] = field(default_factory=list)
    hours: float = 0.0

    @property
    def named(self) -> list[str]:
        return [each.key for each in self.record.defects]

    @property
    def following(self) -> list[str]:
        return [each.key for each in self.record.failed if each.follows]

    @property
    def left(self) -> list[str]:
        return [each.key for each in self.record.open]


def commission(
    seed: int,
    defect: str | None = None,
    keep: bool = False,
    linger: float = 0.0,
    last: str = "",
    soc: float | None = None,
    place: Place = COACH,
) -> Run:
    """The whole of it, closed loop: plant, engine, procedure, installer, who may `linger` for so
    many seconds longer at each wait. `keep`: all inputs, too; `last`: the
    last part of the installer's work; `soc` to begin with."""
    bench = set_up(place, seed, None if defect is None else place.defects[defect][0], soc)
    site, bank = place.site, place.site.banks[0]
    procedure = Procedure(Setting(site, bank, place.installation), software="ampwright")
    engine = Engine(site)
    made = Run(CommissionRecord())
    heard: list[Command] = []
    installer = Installer(
        bench,
        procedure,
        lambda key, word, rest: heard.append(command("Installer", key, word, rest)),
        seed,
    )
    script = installer.everything(last, place.parts)
    patience = Patience(next(script), 0.0, linger)
    look_at = 0.0
    for inputs, _ in steps(bench):
        for value in inputs:
            engine.step(value)
        if keep:
            made.inputs.extend(inputs)
        now = bench.plant.seconds + STEP_SECONDS
        while heard:
            said = replace(heard.pop(0), seconds=now)
            if keep:
                made.inputs.append(said)
            for event in engine.step(said):
                words = said_in(event)
                if words is not None:
                    made.changes.extend(procedure.hear(words))
        if now >= look_at:
            pause = STEP_SECONDS if procedure.current is not None else _NIGHT_SECONDS
            look_at = now + pause
            made.changes.extend(procedure.look(look_of(engine.snapshot(), bank.id)))
        if patience.over(now):
            wait = next(script, None)
            if wait is None:
                break
            patience = Patience(wait, now, linger)
    made.record = procedure.record()
    made.hours = bench.plant.seconds / 3600.0
    return made


def write_capture(made: Run, path: Path) -> Path:
    """A run as a capture: readings, and what the installer said."""
    header = Header(config=CONFIG, software="coach", wall_offset=SCENARIO.start_unix)
    writer = CaptureWriter(path, header, 3600.0)
    for value in made.inputs:
        writer.append(value)
    writer.close()
    return path


def steps(bench: Bench) -> Iterator[tuple[tuple[Input, ...], object]]:
    running = run(bench.plant)
    while True:
        bench.before_step()
        yield next(running)


class Patience:
    """Until a moment, or until something holds and a little longer, an hour at most."""

    def __init__(self, wait: Wait, now: float, linger: float) -> None:
        self._wait = wait
        self._linger = linger
        self._holds_since: float | None = None
        self._until = now + (wait + linger if isinstance(wait, float) else _LONGEST_WAIT_SECONDS)

    def over(self, now: float) -> bool:
        if self._holds_since is None and not isinstance(self._wait, float) and self._wait():
            self._holds_since = now
        held = self._holds_since is not None and now >= self._holds_since + self._linger
        return held or now >= self._until


def main() -> int:
    parser = argparse.ArgumentParser(description="Whole commissionings of simulated installations.")
    parser.add_argument("--seeds", type=int, default=2, help="installers for each defect")
    parser.add_argument("--place", help="one place: coach, or " + ", ".join(PLACES))
    parser.add_argument("--only", help="one defect, or none for the sound installation")
    parser.add_argument("--tell", action="store_true", help="every outcome")
    given = parser.parse_args()
    wrong = 0
    for place in (COACH, *PLACES.values()):
        if given.place in (None, place.name):
            wrong += _table(place, given.seeds, given.only, given.tell)
    return 1 if wrong else 0


def _table(place: Place, seeds: int, only: str | None, tell: bool) -> int:
    """A place, sound and with each of its defects; how many runs came out wrong."""
    cases: list[tuple[str | None, str]] = [(None, "")]
    cases += [(name, check) for name, (_, check) in place.defects.items()]
    if only:
        cases = [each for each in cases if (each[0] or "none") == only]
    wrong = 0
    print(f"\n{place.name}: {place.scenario.words}\n")
    print("| defect | seed | named as | follows from it | not done | hours | CPU s |")
    print("|---|---|---|---|---|---|---|")
    for name, check in cases:
        for seed in range(1, seeds + 1):
            began = time.process_time()
            made = commission(seed, name, place=place)
            missed = made.named != ([check] if check else []) or (not check and made.left)
            wrong += bool(missed)
            cells = (
                name or "none",
                str(seed),
                (", ".join(made.named) or "none") + (" **wrong**" if missed else ""),
                ", ".join(made.following) or "none",
                ", ".join(made.left) or "none",
                f"{made.hours:.1f}",
                f"{time.process_time() - began:.0f}",
            )
            print(f"| {' | '.join(cells)} |", flush=True)
            if tell:
                _tell(made)
    return wrong


def _tell(made: Run) -> None:
    for each in made.record.outcomes:
        if each.verdict is not Verdict.NOT_APPLICABLE:
            figures = "; ".join(f"{f.name} {f.figure:.4g} {f.unit}" for f in each.figures)
            hours = "" if each.seconds is None else f"{each.seconds / 3600.0:5.2f} h"
            print(f"    {each.verdict:14} {each.key:28} {hours} {each.why} [{figures}]")


if __name__ == "__main__":
    sys.exit(main())
