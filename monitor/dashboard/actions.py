"""Everything a key can do, as one table: key bindings, hints, help and the command list read it.

Keys are single plain letters or digits, so that a phone's keyboard reaches all of them.
"""

from __future__ import annotations

from typing import Final, NamedTuple

from textual.binding import Binding, BindingType


class Deed(NamedTuple):
    """One thing to do. `hint` is what the bottom line calls it; `rank` 1 is dropped last there,
    rank 0 never shows there. `replay` marks what only a playing capture understands."""

    key: str
    action: str
    hint: str
    words: str
    rank: int
    replay: bool = False


DEEDS: Final = (
    Deed("q", "leave", "quit", "leave the program", 1),
    Deed("h", "help", "help", "what the keys do and what the words mean", 2),
    Deed("a", "alarms", "alarms", "list the alarms and say that you have seen them", 3),
    Deed("j", "journal", "journal", "what happened, newest first", 16),
    Deed("w", "explain", "why", "why each figure is what it is", 5),
    Deed("b", "next_bank", "bank", "show the next bank", 8),
    Deed("v", "next_window", "hours", "show more or fewer hours in the trend", 9),
    Deed("g", "glance", "glance", "one figure, as large as fits", 10),
    Deed("t", "next_theme", "colours", "next colours: dark, sun, terminal, blue-orange", 11),
    Deed("m", "commands", "menu", "list everything that can be done", 12),
    Deed("c", "cautions", "cautions", "the safety cautions", 0),
    Deed("i", "next_glyphs", "signs", "draw charts with block signs or plain letters", 0),
    Deed("p", "pause", "pause", "pause the capture, or let it run on", 4, True),
    Deed("f", "faster", "faster", "play the capture faster", 6, True),
    Deed("s", "slower", "slower", "play the capture slower", 7, True),
    Deed("n", "step", "step", "one reading further", 13, True),
    Deed("e", "earlier", "earlier", "ten minutes back in the capture", 14, True),
    Deed("l", "later", "later", "ten minutes on in the capture", 15, True),
)

#: Digits jump to tenths of a capture.
TENTHS: Final = "0123456789"
TENTHS_WORDS: Final = "jump to that tenth of the capture"


def bindings() -> list[BindingType]:
    """Key bindings of the live screen."""
    own: list[BindingType] = [
        Binding(deed.key, f"app.{deed.action}", deed.words, show=False, id=f"deed.{deed.action}")
        for deed in DEEDS
    ]
    own += [Binding(digit, f"app.seek_tenth({digit})", show=False) for digit in TENTHS]
    return own


def hints(playing: bool, banks: int) -> list[tuple[str, str, int]]:
    """(key, word, rank) for the bottom line, in reading order."""
    return [
        (deed.key, deed.hint, deed.rank)
        for deed in DEEDS
        if deed.rank and (playing or not deed.replay) and (banks > 1 or deed.action != "next_bank")
    ]
