"""The scorer of the fault captures: one capture for real, and that it can say no."""

from __future__ import annotations

from typing import Any

from monitor.engine.snapshot import Event, EventKind, Priority
from tests.reference.score_faults import NAMES, Score, content, judged, lines, main, score

FAULT: dict[str, Any] = {
    "kind": "shorted_cell",
    "onset_t_s": 1000.0,
    "expect_by_s": 4600.0,
    "say": "One cell is shorted: bank voltage fell all at once.",
}


def told(seconds: float, name: str, priority: Priority = Priority.HIGH) -> Event:
    words = "normal -> unacknowledged"
    return Event(1, seconds, EventKind.ALARM, name, "house", priority, words)


def test_there_are_six_and_the_last_is_found_within_minutes() -> None:
    assert len(NAMES) == 6
    found = score("g06", last=6000)
    assert found.row == "shorted-cell"
    assert found.in_time
    assert found.found is not None
    assert found.found - found.onset < 600.0
    assert found.words > 0.8
    assert found.unexplained == ()


def test_nothing_found_is_a_miss() -> None:
    missed = judged("g06", FAULT, [])
    assert (missed.row, missed.found, missed.words, missed.in_time) == ("", None, 0.0, False)
    assert "| nothing | - **missed** |" in list(lines([missed]))[2]


def test_too_early_or_too_late_is_a_miss() -> None:
    assert not judged("g06", FAULT, [told(999.0, "shorted-cell")]).in_time
    assert judged("g06", FAULT, [told(1000.0, "shorted-cell")]).in_time
    assert not judged("g06", FAULT, [told(4601.0, "shorted-cell")]).in_time


def test_only_what_was_told_counts_and_only_high_alarms_cry() -> None:
    suppressed = Event(
        1,
        1500.0,
        EventKind.ALARM,
        "over-voltage",
        "house",
        Priority.HIGH,
        "normal -> suppressed by design (explained by house:shorted-cell)",
    )
    events = [
        told(1200.0, "shorted-cell"),
        told(1300.0, "bank-hot"),
        told(1300.0, "under-voltage"),
        told(1400.0, "bank-warm", Priority.LOW),
        suppressed,
    ]
    judgement = judged("g06", FAULT, events)
    assert judgement.others == ("bank-hot", "under-voltage", "bank-warm")
    assert judgement.unexplained == ("under-voltage",)


def test_words_are_compared_by_their_beginnings() -> None:
    assert content("The charger charges; it was CHARGED with joints") == {"charg", "joint"}


def test_an_unknown_capture_is_one_line() -> None:
    assert main(["g99"]) == 2
    assert isinstance(judged("g06", FAULT, []), Score)
