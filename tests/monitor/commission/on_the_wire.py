"""Whole commissionings over Modbus TCP: `python -m tests.monitor.commission.on_the_wire`.

The good installation and each of the twelve defects, in a process of its own, two at a time. The
table says what the report, made from record and recording, opens with; what only follows from it;
what was left undone; whether the recording replayed comes to the same. Ends with status 1 where a
defect was missed, misnamed, or a good installation found wrong.
"""

from __future__ import annotations

import argparse
import multiprocessing
import sys
import tempfile
import time
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path
from typing import Final, NamedTuple

from monitor.report.contents import document
from monitor.report.document import Defect
from monitor.report.made import making_of
from monitor.report.told import name_of
from monitor.software import software
from tests.monitor.commission.bench_coach import commissioned
from tests.monitor.commission.coach import DEFECTS

#: What cannot be shown on a bench; nothing since a bench's plug can be pulled.
NOT_ON_A_BENCH: Final[frozenset[str]] = frozenset()
_AT_A_TIME: Final = 2
#: Made time commits a hundred times as often as life does: that is not what is looked at here.
_MEMORY: Final = Path("/dev/shm")
_COLUMNS: Final = (
    "installation",
    "the report names",
    "expected",
    "follows from it",
    "not done",
    "replayed",
    "recorded h",
    "",
    "seconds",
)


class Case(NamedTuple):
    """`defect` "" is the good installation."""

    defect: str
    seed: int


class Row(NamedTuple):
    """`named` is what the report tells as defects, word for word; `changed` what its replay says
    that the record does not."""

    case: Case
    named: tuple[str, ...]
    expected: tuple[str, ...]
    following: tuple[str, ...]
    left: tuple[str, ...]
    changed: tuple[str, ...]
    hours: float
    seconds: float

    @property
    def good(self) -> bool:
        undone = set(self.left) - NOT_ON_A_BENCH
        return self.named == self.expected and not undone and not self.changed

    @property
    def line(self) -> str:
        cells = (
            self.case.defect or "none",
            ", ".join(self.named) or "none",
            ", ".join(self.expected) or "none",
            ", ".join(self.following) or "none",
            ", ".join(self.left) or "none",
            "the same" if not self.changed else "**other**",
            f"{self.hours:.1f}",
            "ok" if self.good else "**MISS**",
            f"{self.seconds:.0f}",
        )
        return f"| {' | '.join(cells)} |"


def row(case: Case) -> Row:
    """One commissioning, and its report read as its owner will read it."""
    began = time.monotonic()
    with tempfile.TemporaryDirectory(dir=_MEMORY if _MEMORY.is_dir() else None) as folder:
        made = commissioned(case.defect or None, case.seed, Path(folder))
        making = making_of(made.record, made.capture, software=software())
    blocks = document(making).blocks
    told = [each.words.partition(". ")[2] for each in blocks if isinstance(each, Defect)]
    outcomes = {each.key: each for each in making.record.outcomes}
    check = DEFECTS[case.defect][1] if case.defect else ""
    return Row(
        case,
        tuple(told),
        (name_of(outcomes[check]),) if check else (),
        tuple(each.key for each in making.record.failed if each.follows),
        tuple(each.key for each in making.record.open),
        making.changed,
        made.seconds / 3600.0,
        time.monotonic() - began,
    )


def main() -> int:
    parser = argparse.ArgumentParser(description="Whole commissionings over Modbus TCP.")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", help="one defect, or none for the good installation")
    given = parser.parse_args()
    names = ["", *DEFECTS]
    if given.only:
        names = [each for each in names if (each or "none") == given.only]
    cases = [Case(name, given.seed) for name in names]
    print(f"| {' | '.join(_COLUMNS)} |")
    print("|---" * len(_COLUMNS) + "|")
    good = True
    spawning = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(_AT_A_TIME, spawning, max_tasks_per_child=1) as pool:
        for each in pool.map(row, cases):
            print(each.line, flush=True)
            for words in each.changed:
                print(f"    replayed: {words}", flush=True)
            good &= each.good
    if NOT_ON_A_BENCH:
        print(f"cannot be shown on a bench: {', '.join(sorted(NOT_ON_A_BENCH))}")
    return 0 if good else 1


if __name__ == "__main__":
    sys.exit(main())
