"""`make faults`: every fault, as often as it takes to believe it; a table of what came of it.

Ends with status 1 where anything acknowledged was lost, anything was wrong, or the recorder did not
come back by itself.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from tests.faults.clock_steps import clock_steps
from tests.faults.damage import bit_flips, torn_tails
from tests.faults.full_disk import full_disk
from tests.faults.kill import kill_loop
from tests.faults.power_cut import failing_card, power_cut
from tests.faults.result import Result, Skipped, table

#: Name, what it does in a folder of its own with so many runs, and the runs of the long form.
FAULTS: dict[str, tuple[Callable[[Path, int], Result], int]] = {
    "kill -9 in a loop": (kill_loop, 1000),
    "torn tail, cut at each byte": (lambda folder, _: torn_tails(folder), 0),
    "one bit turned in any file": (bit_flips, 300),
    "disk full, then room again": (full_disk, 60),
    "power cut (ext4 image)": (power_cut, 100),
    "disk turns read-only (ext4 abort)": (failing_card, 30),
    "clock: 2020, today, +400 d, -1 h": (lambda folder, _: clock_steps(folder), 1),
}


def main() -> int:
    parser = argparse.ArgumentParser(prog="make faults", description=__doc__)
    parser.add_argument("--only", choices=tuple(FAULTS), action="append")
    parser.add_argument("--share", type=float, default=1.0, help="of the runs of the long form")
    arguments = parser.parse_args()
    results = []
    with tempfile.TemporaryDirectory(prefix="ampwright-faults-") as folder:
        for place, (name, (fault, runs)) in enumerate(FAULTS.items()):
            if arguments.only and name not in arguments.only:
                continue
            own = Path(folder, str(place))
            own.mkdir()
            began = time.monotonic()
            try:
                result = fault(own, max(1, round(runs * arguments.share)))
            except Skipped as skipped:
                result = Result(name, 0, 0, 0, 0, skipped=skipped.why)
            results.append(result)
            print(f"{name}: {time.monotonic() - began:.0f} s", file=sys.stderr, flush=True)
            for line in dict.fromkeys(result.said):
                print(f"  {line}", file=sys.stderr)
    print("\n".join(table(results)))
    return 0 if all(result.held for result in results) else 1


if __name__ == "__main__":
    sys.exit(main())
