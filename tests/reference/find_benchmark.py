"""How many meter readings it takes to find a register: `make find-benchmark`.

Random devices (`unknown_device`), charger and load switched, six readings each of volts and amps;
once with the meter read as the registers are, once a second apart. The truth must never be
rejected, and must be alone after four readings of the voltage on 99 of 100 devices.
"""

from __future__ import annotations

import statistics
import sys
from typing import NamedTuple

from adapters.finder.search import Candidate, Search, Seen
from adapters.finder.sweep import Swept, around
from adapters.finder.views import KINDS
from tests.reference.unknown_device import Unknown

#: What is switched before each reading: (charger, load).
SWITCHED = (
    (False, False),
    (True, False),
    (False, True),
    (True, False),
    (True, True),
    (False, True),
)
#: A voltage that only rises, and nothing switched at all: what the finder must not be sure of.
RISING = ((True, False),) * 6
NOTHING = ((False, False),) * 6
SWEEP_SECONDS = 0.5
WANTED_UNIQUE = 0.99


class Run(NamedTuple):
    """One device: whether it writes volts in tenths, answers left after each reading, whether the
    truth was ever rejected, and whether the first answer was the truth at the end."""

    tenths: bool
    left: list[int]
    rejected: bool
    first: bool


def run(seed: int, unit: str, script: tuple[tuple[bool, bool], ...], skew: float) -> Run:
    device = Unknown(seed)
    search = Search(KINDS[unit])
    left: list[int] = []
    rejected = False
    for charger, load in script:
        device.charger, device.load = charger, load
        device.step(device.random.uniform(20.0, 90.0))
        sweeps: list[Swept] = []

        def sweep(sweeps: list[Swept] = sweeps) -> None:
            sweeps.append(Swept(device.seconds, device.seconds, device.image()))
            device.step(SWEEP_SECONDS)

        sweep()
        figure = device.meter(unit == "V")
        # the person is late by the skew, while the sweeps go on
        for _ in range(round(skew / SWEEP_SECONDS)):
            device.step(SWEEP_SECONDS)
        entered = device.seconds
        device.step(0.1)
        sweep()
        digit = 0.01 if unit == "V" else 0.1
        search.read(Seen(figure, digit, around(sweeps, entered)))
        answers = search.answers()
        left.append(len(answers))
        rejected = rejected or not any(_true(each, device, unit) for each in search.candidates)
    answers = search.answers()
    first = bool(answers) and _true(answers[0], device, unit)
    return Run(device.codings["volts"].per_unit == 10.0, left, rejected, first)


def _true(candidate: Candidate, device: Unknown, unit: str) -> bool:
    """It reads the register that holds the truth, and makes the truth of it.

    Beside the device's own error of gain a float's wrong low word may shift it, by a 128th at most.
    """
    coding = device.codings["volts" if unit == "V" else "amps"]
    view = candidate.view
    wide = view.kind not in ("int16", "uint16")
    read = set(range(view.address, view.address + (2 if wide else 1)))
    if not read & set(range(coding.address, coding.address + coding.words)):
        return False
    figure = candidate.figure(device.image(), KINDS[unit])
    truth = device.volts if unit == "V" else device.amps
    return figure is not None and abs(figure - truth) <= 0.02 * abs(truth) + 0.1


class Row(NamedTuple):
    name: str
    unit: str
    script: tuple[tuple[bool, bool], ...]
    skew: float
    #: Share of devices that must be down to one answer after the fourth reading; None: no promise.
    wanted: float | None


ROWS = (
    Row("volts, charger and load switched", "V", SWITCHED, 0.0, WANTED_UNIQUE),
    Row("volts, switched, meter 1 s early", "V", SWITCHED, 1.0, WANTED_UNIQUE),
    Row("volts, only rising", "V", RISING, 0.0, None),
    Row("volts, nothing switched", "V", NOTHING, 0.0, None),
    Row("amps, charger and load switched", "A", SWITCHED, 0.0, WANTED_UNIQUE),
    Row("amps, switched, meter 1 s early", "A", SWITCHED, 1.0, WANTED_UNIQUE),
)


class Result(NamedTuple):
    row: Row
    medians: list[float]
    unique: list[float]
    rejected: int
    first: float
    #: Alone after the fourth reading, of the devices that write hundredths of a volt or finer.
    finer: float

    @property
    def met(self) -> bool:
        return self.rejected == 0 and (self.row.wanted is None or self.unique[3] >= self.row.wanted)


def measure(row: Row, devices: int) -> Result:
    runs = [run(seed, row.unit, row.script, row.skew) for seed in range(devices)]
    readings = range(len(row.script))
    return Result(
        row,
        [statistics.median(each.left[n] for each in runs) for n in readings],
        [sum(each.left[n] == 1 for each in runs) / devices for n in readings],
        sum(each.rejected for each in runs),
        sum(each.first for each in runs) / devices,
        statistics.fmean(each.left[3] == 1 for each in runs if not each.tenths),
    )


def main(devices: int = 200) -> int:
    print(f"{devices} random devices a row, 200 registers each\n")
    print(
        "| readings | answers left after 1, 2, 3, 4, 6 (median) | alone after 2 / 3 / 4 / 6 |",
        end="",
    )
    print(" after 4, finer than tenths | truth first | rejected | |\n" + "|---" * 7 + "|")
    met = True
    for row in ROWS:
        result = measure(row, devices)
        met = met and result.met
        left = ", ".join(f"{result.medians[n]:g}" for n in (0, 1, 2, 3, 5))
        alone = " / ".join(f"{100 * result.unique[n]:.4g} %" for n in (1, 2, 3, 5))
        verdict = "" if result.met else "**missed**"
        print(
            f"| {row.name} | {left} | {alone} | {100 * result.finer:.4g} % | "
            f"{100 * result.first:.4g} % | {result.rejected} "
            f"| {verdict} |",
            flush=True,
        )
    return 0 if met else 1


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]) if len(sys.argv) > 1 else 200))
