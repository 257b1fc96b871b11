"""What each key is called: in the bottom line, in the help, in the list of commands.

Which letter it is, and when it is offered, stands with the screens (`monitor.dashboard`); here are
only words, by the action they name.
"""

from __future__ import annotations

from typing import Final, NamedTuple


class Key(NamedTuple):
    """`hint` for the bottom line, as short as can be; `words` where there is room for all of it."""

    hint: str
    words: str


#: What holds on every screen.
EVERYWHERE: Final = {
    "leave": Key("quit", "leave the program"),
    "help": Key("help", "what the keys do and what the words mean"),
    "alarms": Key("alarms", "list the alarms and say that you have seen them"),
    "account": Key("account", "account: who gives, who takes, what is left for the bank"),
    "tonight": Key("tonight", "tonight: dawn, generator, a load, tomorrow's sun"),
    "trend": Key("trend", "trend of hours, days, weeks, with a cursor"),
    "bank": Key("bank", "bank: what was learned of it, halves or cells"),
    "explain": Key("why", "why each figure is what it is"),
    "glance": Key("glance", "one figure, as large as fits"),
    "devices": Key("devices", "devices: what is plugged in, how each link is heard"),
    "journal": Key("journal", "what happened, newest first"),
    "commission": Key("prove", "prove a new installation, check by check"),
    "next_bank": Key("next bank", "show the next bank"),
    "next_window": Key("hours", "show more or fewer hours in the trend"),
    "next_theme": Key("colours", "next colours: dark, sun, terminal, blue-orange"),
    "commands": Key("menu", "list everything that can be done"),
    "next_glyphs": Key("signs", "draw charts with block signs or plain letters"),
    "next_degrees": Key("degrees", "degrees Celsius or Fahrenheit"),
    "next_hours": Key("clock", "clock of 24 or of 12 hours"),
    "copy": Key("copy", "copy this screen as text"),
    "save": Key("save", "save this screen as text and as a picture (SVG)"),
    "cautions": Key("cautions", "the safety cautions"),
    "pause": Key("pause", "pause the capture, or let it run on"),
    "slower": Key("slower", "play the capture slower"),
    "faster": Key("faster", "play the capture faster"),
    "earlier": Key("back", "ten minutes back in the capture"),
    "step": Key("step", "one reading further"),
    "later": Key("on", "ten minutes on in the capture"),
    "event_before": Key("event before", "back to the event before"),
    "next_event": Key("next event", "on to the next event"),
    "go_to": Key("go to", "go to a time of the capture"),
    "begin_again": Key("start", "back to the start of the capture"),
}

#: What ends a screen that covers the live one, and the letter for it.
BACK_KEY: Final = "x"
BACK: Final = Key("back", "back")

#: The way out of a line to be typed, where that letter is text.
ENTER_ALONE: Final = "Enter alone: back"
ENTER_UNCHANGED: Final = "Enter, unchanged: back"

PAGE: Final = {
    "next_page": Key("next page", "next page"),
    "page_before": Key("page before", "page before"),
}

ALARMS: Final = {
    "seen": Key("seen it", "say that you have seen this alarm"),
    "shelve": Key("shelve", "set this alarm aside for a time"),
    "out": Key("out", "take this alarm out of service"),
    "bring_back": Key("bring back", "end shelving, or return to service"),
    "reset": Key("reset", "let go of an alarm that is kept until reset"),
    "note": Key("note", "write a note for what you do next"),
    "next": Key("next", "next alarm"),
    "before": Key("before", "alarm before"),
    "down": Key("down", "text down"),
    "up": Key("up", "text up"),
}

COMMISSION: Final = {
    "begin": Key("begin", "begin this check, or do it again"),
    "enter": Key("enter", "answer the question"),
    "done": Key("done", "hands are finished"),
    "next": Key("next", "next check"),
    "before": Key("before", "check before"),
    "skip": Key("skip", "leave this check out, and say why"),
    "left": Key("left", "what is left, or back to the check"),
    "note": Key("note", "write a note beside it"),
    "down": Key("down", "text down"),
}

TREND: Final = {
    "in": Key("in", "zoom in: fewer hours"),
    "out": Key("out", "zoom out: more hours"),
    "past": Key("past", "half a window into the past"),
    "newer": Key("newer", "half a window newer"),
    "earlier": Key("earlier", "cursor to an earlier column"),
    "later": Key("later", "cursor to a later column"),
}

TONIGHT: Final = {
    "load": Key("other load", "ask about another load"),
    "goal": Key("charge to", "charge to another level, other quiet hours"),
}

DEVICES: Final = {"look": Key("look again", "look again at what is plugged in")}

JOURNAL: Final = {"enter": Key("enter", "enter what was measured or done")}

GLANCE: Final = {"bank": Key("bank", "show the next bank")}

CAUTIONS: Final = {
    "read": Key("I read this", "I have read this"),
    "unread": Key("quit", "leave the program: not read"),
    "next_theme": Key("colours", "next colours"),
}

#: What is asked in the list of commands.
WHICH_COMMAND: Final = "a word of it, Enter; Enter alone: back"

#: The way out of the list of commands.
CLOSE: Final = Key("close this list", "back to where you were")


def pressed(key: str) -> str:
    """Which key does it, beside a command of the list."""
    return f"key {key}"
