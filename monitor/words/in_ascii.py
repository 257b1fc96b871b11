"""Signs that a terminal or a log does not know, spelled out: milliohm, +/-, 18 C.

An error handler for encoders, so that whatever is printed needs not know where it goes. Only for
lines: on a screen, whose cells are counted, `spelled` is asked beforehand.
"""

from __future__ import annotations

import codecs
from typing import Final

#: The name under which a stream knows it.
IN_ASCII: Final = "in-ascii"

MILLIOHM: Final = "mΩ"
_OHM: Final = "Ω"
#: A milli before it was written already.
_AFTER_MILLI: Final = "illiohm"
#: Word or sign in ASCII; what is not here stays a question mark.
_SIGNS: Final = {
    _OHM: "ohm",
    "°": "",
    "±": "+/-",
    "²": "2",
    "³": "3",
    "µ": "u",
    "×": "x",
    "·": "*",
    "≤": "<=",
    "≥": ">=",
    "–": "-",
    "—": "-",
    "→": "->",
    "…": "...",
    "‘": "'",
    "’": "'",
    "“": '"',
    "”": '"',
}


def spelled(words: str) -> str:
    """A sentence without the ohm sign."""
    return words.replace(MILLIOHM, "milliohm").replace(_OHM, "ohm")


def _instead(error: UnicodeError) -> tuple[str, int]:
    if not isinstance(error, UnicodeEncodeError):
        raise error
    text, told = error.object, []
    for place in range(error.start, error.end):
        sign = text[place]
        if sign == _OHM and text[place - 1 : place] == "m":
            told.append(_AFTER_MILLI)
        else:
            told.append(_SIGNS.get(sign, "?"))
    return "".join(told), error.end


codecs.register_error(IN_ASCII, _instead)
