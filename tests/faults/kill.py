"""kill -9 at any moment, over and over, into the same record."""

from __future__ import annotations

import random
from pathlib import Path

from tests.faults.recorder import Recorder, check
from tests.faults.result import Result

#: The longest a child lives before it is killed, seconds: some days of made time.
_LONGEST_SECONDS = 0.6


def kill_loop(directory: Path, runs: int, seed: int = 1) -> Result:
    chance = random.Random(seed)
    recorder = Recorder(directory)
    lost = wrong = 0
    for run in range(runs):
        recorder.start()
        recorder.listen(20.0, rows=1)
        recorder.listen(chance.uniform(0.0, _LONGEST_SECONDS))
        recorder.kill()
        if chance.random() < 0.2:
            recorder.boot += 1  # the machine started anew as well
        if run % 25 == 24 or run == runs - 1:
            found = check(directory, recorder.acknowledged)
            lost, wrong = max(lost, found.lost), max(wrong, found.wrong)
    return Result(
        "kill -9 in a loop", runs, recorder.rows, lost, wrong, recorder.back, tuple(recorder.said)
    )
