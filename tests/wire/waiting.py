"""Wait for what must become true, with a deadline: never for a fixed time.

Deadlines are generous, for a small machine that is busy with other things; what passes on an idle
one takes a fraction of them.
"""

from __future__ import annotations

import asyncio
import time
from collections.abc import Callable
from typing import Final, TypeVar

Answer = TypeVar("Answer")

#: A program starts, reads its first figures and draws them; about 1 s on an idle machine.
START_SECONDS: Final = 40.0
#: Something seen on the wire is on the screen; about 1 s. Stale figures take 3 s more.
SEEN_SECONDS: Final = 20.0
#: A device that is back is read again: the longest back-off is 5 s.
BACK_SECONDS: Final = 25.0
#: A program that was told to end has ended.
END_SECONDS: Final = 15.0

_LOOK_SECONDS: Final = 0.05


def until(
    ask: Callable[[], Answer], seconds: float, what: str, told: Callable[[], str] = str
) -> Answer:
    """Ask until the answer is true, and give it; fails with `what` and what `told` tells."""
    end = time.monotonic() + seconds
    while not (answer := ask()):
        if time.monotonic() > end:
            raise AssertionError(_late(seconds, what, told))
        time.sleep(_LOOK_SECONDS)
    return answer


async def soon(
    ask: Callable[[], Answer], seconds: float, what: str, told: Callable[[], str] = str
) -> Answer:
    """The same beside a screen that runs in this very loop."""
    end = time.monotonic() + seconds
    while not (answer := ask()):
        if time.monotonic() > end:
            raise AssertionError(_late(seconds, what, told))
        await asyncio.sleep(_LOOK_SECONDS)
    return answer


def _late(seconds: float, what: str, told: Callable[[], str]) -> str:
    return f"{what}: not within {seconds:g} s\n{told()}"
