"""Where the compiled engine was built, it says what the plain one says, bit for bit."""

from __future__ import annotations

import pytest

from tests.reference.fast import COPY, ROOMS, ROOT, built, said


def test_every_room_that_is_compiled_exists() -> None:
    for room in ROOMS:
        assert (ROOT / "monitor" / "engine" / f"{room}.py").is_file()


def test_compiled_and_plain_engine_say_the_same() -> None:
    if not built():
        pytest.skip("no compiled engine of this state of the source; make fast builds one")
    plain, fast = said(ROOT), said(COPY)
    assert plain[0].endswith("signal.py")
    assert fast[0].startswith(str(COPY))
    assert not fast[0].endswith(".py")
    assert plain[1] == fast[1]
