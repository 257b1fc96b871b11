"""Bytes on a terminal's line that are no text: from a torn connection, a noisy serial console.

Textual reads its keys strictly, and one byte that is no UTF-8 ends the program with a traceback
(seen with 8.2.8). Here such a byte is a sign that no key is bound to.
"""

from __future__ import annotations

import codecs
import functools
import sys


def bear_line_noise() -> None:
    """To be called before the screen is opened."""
    if sys.platform != "win32":
        from textual.drivers import linux_driver

        linux_driver.getincrementaldecoder = _bearing  # type: ignore[attr-defined, assignment]


def _bearing(encoding: str) -> functools.partial[codecs.IncrementalDecoder]:
    return functools.partial(codecs.getincrementaldecoder(encoding), errors="replace")
