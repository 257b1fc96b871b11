"""Small commissioning records, good and bad, with names that would break a careless page."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from adapters.reading import Channel, Command, Input, Quantity, Reading
from monitor.commission.look import LOOKS
from monitor.commission.record import (
    Battery,
    Charger,
    Clock,
    CommissionRecord,
    Coverage,
    Extreme,
    Figure,
    Installation,
    Limit,
    Outcome,
    OwnLimits,
    Verdict,
)
from monitor.commission.record_file import save_record
from monitor.commission.said import command
from monitor.commission.session import evidence_of
from monitor.recorded import open_recorded
from monitor.report.again import look_again
from monitor.report.making import Making
from monitor.report.seal import Seal
from monitor.software import software
from replay.capture import CaptureWriter, Header

NASTY = '<script>alert("x")</script> & "Ωhm" 35 °C'
CONFIG = """\
[banks.house]
chemistry = "agm"
nominal_volts = 12
amp_hours = 200
"""


def outcome(key: str, verdict: Verdict, why: str, *figures: Figure) -> Outcome:
    return Outcome(
        id=key,
        title=f"the check of {key}",
        group="measuring",
        limits=(Limit("volts", "V", 14.2, 14.6, "its sheet"),),
        verdict=verdict,
        why=why,
        figures=figures,
        wall=1_780_000_000.0,
        who="Installer",
    )


GOOD = CommissionRecord(
    software="ampwright 0.1.0",
    installation=Installation(
        name="a coach",
        who="Installer",
        bank="house",
        chemistry="agm",
        nominal_volts=12,
        amp_hours=200.0,
        batteries=(Battery("A", "AGM", "K-7", "2026-03", 12.0, 100.0, 1),),
        chargers=(Charger("shore", "ac-charger", rated_amps=40.0),),
        limits=OwnLimits(highest_volts=14.8),
    ),
    outcomes=(
        outcome("absorption", Verdict.PASS, "held", Figure("volts", 14.41, "V", 0.01)),
        outcome("float", Verdict.PASS, "", Figure("volts", 14.3, "V")),
    ),
    extremes=(Extreme("volts", "V", 12.1, 10.0, 14.5, 900.0, 10.5, 14.8, "its sheet"),),
    coverage=Coverage(0.0, 3600.0, 3500.0, 60.0),
    clock=Clock(True, 0, "never set meanwhile"),
    began=1_780_000_000.0,
    changed=1_780_003_600.0,
)
FAILED = replace(
    GOOD,
    installation=replace(GOOD.installation, name=NASTY, owner=NASTY, note=NASTY),
    outcomes=(
        outcome(
            "absorption", Verdict.FAIL, "volts 13.9 V, expected 14.2", Figure("volts", 13.9, "V")
        ),
        replace(
            outcome("float", Verdict.FAIL, "off by the same", Figure("volts", 13.1, "V")),
            follows="absorption",
        ),
        replace(outcome("ripple", Verdict.NOT_DONE, f"no meter: {NASTY}"), note=NASTY),
        outcome("generator", Verdict.NOT_APPLICABLE, "there is no generator"),
    ),
    extremes=(Extreme("volts", "V", 12.1, 10.0, 15.2, 900.0, 10.5, 14.8, "its sheet"),),
    clock=Clock(False, 2, "the wall clock was set 2 times meanwhile"),
)
EMPTY = CommissionRecord(
    outcomes=(
        Outcome("fuses", "Fuses and disconnects", why="not begun"),
        Outcome("shunt-zero", "Shunt zero with everything off", why="not begun"),
    )
)
RECORDS = {"good": GOOD, "failed": FAILED, "nothing tested": EMPTY}


def making(record: CommissionRecord) -> Making:
    return Making(record, Seal("coach.json", "ab" * 32, software="ampwright 0.1.0"))


def recorded_minutes(folder: Path, watts: float = 1.0, looks: str = LOOKS) -> tuple[Path, Path]:
    """Ten minutes with a shunt, and what an installer said meanwhile, as record and
    capture. `watts` turns the current, so that another capture says something else; `looks` "" as
    an earlier version took them."""
    capture = folder / "coach.capture"
    writer = CaptureWriter(capture, Header(config=CONFIG, wall_offset=1_780_000_000.0), 3600.0)
    for value in _minutes(watts):
        writer.append(value)
    writer.close()
    bare = CommissionRecord(installation=GOOD.installation, looks=looks)
    made = look_again(bare, open_recorded(capture), capture.name).record
    record = folder / "coach.json"
    whole = replace(
        made, software=software(), evidence=evidence_of(capture, 0.0, 600.0), progress=""
    )
    save_record(record, whole)
    return record, capture


def _minutes(watts: float) -> list[Input]:
    """Zero at first, then a load: the shunt's zero and its sign can be judged."""
    values: list[Input] = []
    said = {
        30: command("I", "shunt-zero", "begin"),
        35: command("I", "shunt-zero", "done"),
        300: command("I", "polarity", "begin"),
        320: command("I", "fuses", "skip", "no torch at hand"),
        550: command("I", "next-service", "begin"),
        560: command("I", "next-service", "enter", "date = 2027-05-26"),
    }
    for second in range(0, 600, 5):
        amps = -30.0 * watts if second >= 420 else 0.02 * (watts - 1.0) * 100.0
        values.append(
            Reading(
                float(second),
                "shunt",
                (
                    (Channel("house", Quantity.BANK_VOLTS), 12.6 + 0.01 * (second % 3)),
                    (Channel("house", Quantity.BANK_AMPS), amps),
                ),
            )
        )
        words = said.get(second)
        if words is not None:
            values.append(_at(words, float(second)))
    return values


def _at(words: Command, seconds: float) -> Command:
    return replace(words, seconds=seconds)
