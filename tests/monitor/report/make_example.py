"""Remakes the example that comes with the program: `python -m tests.monitor.report.make_example`.

A simulated coach of our own, commissioned by the simulated installer: one lug is bad, and two
checks are left out with their reasons.
"""

from __future__ import annotations

import sys
import tempfile
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Final

from monitor.commission.look import LOOKS
from monitor.commission.record import CommissionRecord
from monitor.commission.record_file import save_record
from monitor.commission.session import evidence_of
from monitor.recorded import open_recorded
from monitor.report.again import look_again
from replay.capture import compress, open_capture
from tests.monitor.commission import runs
from tests.monitor.commission.hands import Wait
from tests.monitor.commission.installer import Installer

FOLDER: Final = Path(__file__).parents[3] / "monitor" / "report" / "example"
RECORD: Final = "hazelbank.json"
CAPTURE: Final = "hazelbank.capture.gz"
_SEED: Final = 11
_HANDS_SECONDS: Final = 20.0
_LEFT_OUT: Final = {
    "engine@engine": "it may not be run for so long indoors",
    "sharing": "shore power was wanted elsewhere",
}


class Hurried(Installer):
    """Leaves out sharing and the engine's hot idle, and says why. Hands take a moment to go on."""

    def _finished(self, key: str) -> Callable[[], bool]:
        over, since = super()._finished(key), list[float]()

        def gone_on() -> bool:
            if over():
                since.append(self.bench.plant.seconds)
            return bool(since) and self.bench.plant.seconds - since[0] >= _HANDS_SECONDS

        return gone_on

    def engine(self) -> Iterator[Wait]:
        for key, why in _LEFT_OUT.items():
            self._say(key, "skip", why)
        yield 10.0
        self.bench.sources("engine")
        yield 300.0
        yield from self._at_full("engine", 3.0, (0.1, 0.1, 0.1, 0.1))

    def full_output(self) -> Iterator[Wait]:
        yield from super().full_output()
        self._say("lugs@shore", "note", "negative lug at the post: warm to the hand")
        yield 10.0


def main() -> int:
    runs.Installer = Hurried  # type: ignore[misc]
    with tempfile.TemporaryDirectory() as folder:
        made = runs.commission(_SEED, "one bad lug", keep=True)
        plain = runs.write_capture(made, Path(folder) / "plain.capture")
        (FOLDER / CAPTURE).unlink(missing_ok=True)
        compress(plain, FOLDER / CAPTURE)
    capture = open_capture(FOLDER / CAPTURE)
    installation = replace(
        made.record.installation,
        name="Hazelbank, a 9 m coach on the bench",
        who="A. Installer",
        owner="B. Owner",
        layout="two batteries side by side behind the left rear locker, diagonal take-off",
        generator="",
        note="simulated: no such coach exists",
    )
    bare = CommissionRecord(installation=installation, looks=LOOKS)
    replayed = look_again(bare, open_recorded(FOLDER / CAPTURE), CAPTURE).record
    assert [each.key for each in replayed.defects] == [each.key for each in made.record.defects]
    outcomes = tuple(
        replace(each, evidence=replace(each.evidence, capture=CAPTURE)) if each.attempts else each
        for each in replayed.outcomes
    )
    evidence = evidence_of(FOLDER / CAPTURE, capture.start, capture.end)
    record = replace(
        replayed,
        software="ampwright (simulated)",
        outcomes=outcomes,
        evidence=evidence,
        progress="",
    )
    save_record(FOLDER / RECORD, record)
    print([each.key for each in record.defects], [each.key for each in record.open])
    return 0


if __name__ == "__main__":
    sys.exit(main())
