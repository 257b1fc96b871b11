"""Where the compiled engine was built, it says what the plain one says, bit for bit."""

from __future__ import annotations

import re

import pytest

from tests.reference.fast import COPY, PARTS, ROOMS, ROOT, built, said


def test_no_room_has_a_constant_that_the_compiler_gets_wrong() -> None:
    wrong = re.compile(r"^[A-Z_]+: Final.* = \(\s*-?[0-9]+\.[^()]*\)", re.MULTILINE)
    assert wrong.search("RANGE: Final = (0.12, 1.2)\n")
    for room in ROOMS:
        assert not wrong.search((ROOT / "monitor" / "engine" / f"{room}.py").read_text()), room


@pytest.mark.parametrize("part", PARTS, ids=lambda part: part[0])
def test_compiled_and_plain_engine_say_the_same(part: tuple[str, int, int]) -> None:
    if not built():
        pytest.skip("no compiled engine of this state of the source; make fast builds one")
    plain, fast = said(ROOT, part), said(COPY, part)
    assert plain[0].endswith("signal.py")
    assert fast[0].startswith(str(COPY))
    assert not fast[0].endswith(".py")
    assert plain[1] == fast[1]
