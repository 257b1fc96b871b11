"""Everything a key can do, as tables: key bindings, hints, help and the command list read them.

Letters open screens and change how they look; digits drive a capture that plays. All are single
and plain, so that a phone's keyboard reaches them. A screen with keys of its own has its own table
of the same kind. What a key is called stands in `monitor.words.keys`.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final, NamedTuple

from textual.binding import Binding, BindingType

from monitor.words.keys import EVERYWHERE, Key

Hint = tuple[str, str, int]


class Deed(NamedTuple):
    """One thing to do. Of the hints at the bottom `rank` 1 is dropped last, rank 0 never shows.
    `replay` marks what only a playing capture understands. `screen` names the module under
    `screens` and its class that the key opens; it is imported then."""

    key: str
    action: str
    rank: int
    replay: bool = False
    screen: str = ""

    @property
    def hint(self) -> str:
        """What the bottom line calls it."""
        return _words_of(self).hint

    @property
    def words(self) -> str:
        """What the help and the list of commands call it."""
        return _words_of(self).words


def _words_of(deed: Deed) -> Key:
    """Its row in the table of words; who adds a key and forgets it is told where it is missing."""
    words = EVERYWHERE.get(deed.action)
    if words is None:
        raise LookupError(
            f'the key {deed.key}, "{deed.action}", has no words; add a row "{deed.action}" to '
            "EVERYWHERE in monitor/words/keys.py"
        )
    return words


DEEDS: Final = (
    Deed("q", "leave", 1),
    Deed("h", "help", 2, screen="help:HelpScreen"),
    Deed("a", "alarms", 4, screen="alarms:AlarmsScreen"),
    Deed("u", "account", 6, screen="account:AccountScreen"),
    Deed("o", "tonight", 7, screen="tonight:TonightScreen"),
    Deed("r", "trend", 8, screen="trend:TrendScreen"),
    Deed("k", "bank", 10, screen="bank:BankScreen"),
    Deed("w", "explain", 9, screen="explain:ExplainScreen"),
    Deed("g", "glance", 11, screen="glance:GlanceScreen"),
    Deed("d", "devices", 12, screen="devices:DevicesScreen"),
    Deed("j", "journal", 13, screen="journal:JournalScreen"),
    Deed("c", "commission", 0, screen="commission:CommissionScreen"),
    Deed("b", "next_bank", 3),
    Deed("v", "next_window", 14),
    Deed("t", "next_theme", 15),
    Deed("m", "commands", 16),
    Deed("i", "next_glyphs", 0),
    Deed("f", "next_degrees", 0),
    Deed("z", "next_hours", 0),
    Deed("e", "copy", 0),
    Deed("s", "save", 0),
    Deed("y", "cautions", 0),
    Deed("1", "pause", 5, True),
    Deed("2", "slower", 18, True),
    Deed("3", "faster", 17, True),
    Deed("4", "earlier", 20, True),
    Deed("5", "step", 22, True),
    Deed("6", "later", 21, True),
    Deed("7", "event_before", 24, True),
    Deed("8", "next_event", 19, True),
    Deed("9", "go_to", 23, True),
    Deed("0", "begin_again", 25, True),
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


def hints(playing: bool, banks: int) -> list[Hint]:
    """(key, word, rank) for the bottom line, in reading order."""
    return [
        (deed.key, deed.hint, deed.rank)
        for deed in DEEDS
        if deed.rank and offered(deed, playing, banks)
    ]


class Own(NamedTuple):
    """A key of one screen: `keys` as Textual takes them, the first one told; `action` of the
    screen, empty where the key does here what it does everywhere; `rank` as in `Deed`."""

    keys: str
    action: str
    called: Key
    rank: int = 0

    @property
    def key(self) -> str:
        return self.keys.partition(",")[0]


def own_hints(own: Iterable[Own]) -> list[Hint]:
    return [(each.key, each.called.hint, each.rank) for each in own if each.rank]


def own_bindings(own: Iterable[Own]) -> list[BindingType]:
    return [
        Binding(each.keys, each.action, each.called.words, show=False)
        for each in own
        if each.action
    ]


#: The way out of the program, on a screen with keys of its own.
def leave(rank: int) -> Own:
    return Own("q", "", EVERYWHERE["leave"], rank)
