"""Everything a key can do, as one table: key bindings, hints, help and the command list read it.

Letters open screens and change how they look; digits drive a capture that plays. All are single
and plain, so that a phone's keyboard reaches them.
"""

from __future__ import annotations

from typing import Final, NamedTuple

from textual.binding import Binding, BindingType


class Deed(NamedTuple):
    """One thing to do. `hint` is what the bottom line calls it; `rank` 1 is dropped last there,
    rank 0 never shows there. `replay` marks what only a playing capture understands. `screen`
    names the module under `screens` and its class that the key opens; it is imported then."""

    key: str
    action: str
    hint: str
    words: str
    rank: int
    replay: bool = False
    screen: str = ""


DEEDS: Final = (
    Deed("q", "leave", "quit", "leave the program", 1),
    Deed(
        "h", "help", "help", "what the keys do and what the words mean", 2, screen="help:HelpScreen"
    ),
    Deed(
        "a",
        "alarms",
        "alarms",
        "list the alarms and say that you have seen them",
        3,
        screen="alarms:AlarmsScreen",
    ),
    Deed(
        "u",
        "account",
        "account",
        "account: who gives, who takes, what is left for the bank",
        5,
        screen="account:AccountScreen",
    ),
    Deed(
        "o",
        "tonight",
        "tonight",
        "tonight: dawn, generator, a load, tomorrow's sun",
        6,
        screen="tonight:TonightScreen",
    ),
    Deed(
        "r",
        "trend",
        "trend",
        "trend of hours, days, weeks, with a cursor",
        7,
        screen="trend:TrendScreen",
    ),
    Deed(
        "k",
        "bank",
        "bank",
        "bank: what was learned of it, halves or cells",
        9,
        screen="bank:BankScreen",
    ),
    Deed("w", "explain", "why", "why each figure is what it is", 8, screen="explain:ExplainScreen"),
    Deed("g", "glance", "glance", "one figure, as large as fits", 10, screen="glance:GlanceScreen"),
    Deed(
        "d",
        "devices",
        "devices",
        "devices: what is plugged in, how each link is heard",
        12,
        screen="devices:DevicesScreen",
    ),
    Deed(
        "j",
        "journal",
        "journal",
        "what happened, newest first",
        13,
        screen="journal:JournalScreen",
    ),
    Deed(
        "c",
        "commission",
        "prove",
        "prove a new installation, check by check",
        0,
        screen="commission:CommissionScreen",
    ),
    Deed("b", "next_bank", "next bank", "show the next bank", 11),
    Deed("v", "next_window", "hours", "show more or fewer hours in the trend", 14),
    Deed("t", "next_theme", "colours", "next colours: dark, sun, terminal, blue-orange", 15),
    Deed("m", "commands", "menu", "list everything that can be done", 16),
    Deed("i", "next_glyphs", "signs", "draw charts with block signs or plain letters", 0),
    Deed("f", "next_degrees", "degrees", "degrees Celsius or Fahrenheit", 0),
    Deed("z", "next_hours", "clock", "clock of 24 or of 12 hours", 0),
    Deed("e", "copy", "copy", "copy this screen as text", 0),
    Deed("s", "save", "save", "save this screen as text and as a picture (SVG)", 0),
    Deed("y", "cautions", "cautions", "the safety cautions", 0),
    Deed("1", "pause", "pause", "pause the capture, or let it run on", 4, True),
    Deed("2", "slower", "slower", "play the capture slower", 18, True),
    Deed("3", "faster", "faster", "play the capture faster", 17, True),
    Deed("4", "earlier", "back", "ten minutes back in the capture", 20, True),
    Deed("5", "step", "step", "one reading further", 22, True),
    Deed("6", "later", "on", "ten minutes on in the capture", 21, True),
    Deed("7", "event_before", "event before", "back to the event before", 24, True),
    Deed("8", "next_event", "next event", "on to the next event", 19, True),
    Deed("9", "go_to", "go to", "go to a time of the capture", 23, True),
    Deed("0", "begin_again", "start", "back to the start of the capture", 25, True),
)

_BY_ACTION: Final = {deed.action: deed for deed in DEEDS}


def deed_of(action: str) -> Deed:
    return _BY_ACTION[action]


def bindings() -> list[BindingType]:
    """Key bindings that hold on every screen, unless it has something else for a key."""
    return [
        Binding(
            deed.key,
            f"app.open('{deed.action}')" if deed.screen else f"app.{deed.action}",
            deed.words,
            show=False,
            id=f"deed.{deed.action}",
        )
        for deed in DEEDS
    ]


def offered(deed: Deed, playing: bool, banks: int) -> bool:
    """Whether it means anything with this feed."""
    return (playing or not deed.replay) and (banks > 1 or deed.action != "next_bank")


def hints(playing: bool, banks: int) -> list[tuple[str, str, int]]:
    """(key, word, rank) for the bottom line, in reading order."""
    return [
        (deed.key, deed.hint, deed.rank)
        for deed in DEEDS
        if deed.rank and offered(deed, playing, banks)
    ]
