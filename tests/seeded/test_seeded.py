"""The seeded mistakes still fit the code, one of them is caught; slow: each of them is."""

from __future__ import annotations

import tempfile
from pathlib import Path

import pytest

from tests.seeded.mistakes import MISTAKES, LostError, Mistake, source, spoiled
from tests.seeded.run import ROOT, run, table, try_out

#: Tried out in every run of the quick suite: caught within a second.
QUICK = "late readings are accepted"


def called(name: str) -> Mistake:
    (found,) = [mistake for mistake in MISTAKES if mistake.name == name]
    return found


@pytest.mark.parametrize("mistake", MISTAKES, ids=lambda mistake: mistake.name)
def test_a_mistake_still_fits_the_code(mistake: Mistake) -> None:
    text = source(ROOT, mistake)
    wrong = spoiled(text, mistake)
    assert wrong != text
    compile(wrong, mistake.file, "exec")
    assert mistake.tests
    for name in mistake.tests:
        file, test = name.split("::")
        assert f"\ndef {test}(" in (ROOT / file).read_text(encoding="utf-8")


def test_a_mistake_that_no_longer_fits_is_said_in_one_line() -> None:
    gone = MISTAKES[0]._replace(right="nobody wrote this")
    with pytest.raises(LostError, match=r"^seeded mistake '[^\n]*found 0 times: [^\n]*$"):
        source(ROOT, gone)


def test_names_are_told_apart() -> None:
    assert len({mistake.name for mistake in MISTAKES}) == len(MISTAKES) >= 12


def test_one_is_caught_and_nothing_else_counts_as_caught(tmp_path: Path) -> None:
    """Neither what is harmless, nor what breaks the import, nor what fits no longer."""
    real = called(QUICK)
    harmless = real._replace(name="harmless", wrong=real.right + "  # the same")
    first = "from __future__ import annotations\n"
    broken = Mistake("broken", real.file, first, first + "raise ImportError\n", real.tests)
    gone = real._replace(name="gone", right="nobody wrote this")
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(tempfile, "tempdir", str(tmp_path))
        outcomes = run((real, harmless, broken, gone))
    words = table(outcomes)
    assert [bool(outcome.caught_by) for outcome in outcomes] == [True, False, False, False], words
    assert outcomes[0].caught_by in real.tests
    assert outcomes[1].words == "NOT CAUGHT"
    assert outcomes[2].words.startswith("NOT TESTED"), words
    assert outcomes[3].words.startswith("LOST: seeded mistake 'gone'"), words
    assert words.endswith("1 of 4 caught\n")
    assert list(tmp_path.iterdir()) == []  # nothing is left behind
    assert source(ROOT, real)  # and the checkout is as it was


def test_a_test_that_fails_anyway_catches_nothing() -> None:
    real = called(QUICK)
    outcome = try_out(ROOT / "nowhere", real, [f"{real.tests[0]}[a case]"])
    assert outcome.words == f"NOT TESTED: fails without it: {real.tests[0]}"


@pytest.mark.slow
def test_every_mistake_is_caught() -> None:
    outcomes = run(MISTAKES)
    assert all(outcome.caught_by for outcome in outcomes), table(outcomes)
