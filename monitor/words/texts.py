"""Longer texts: cautions, how to read the screen, and the single lines for when things stop."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, NamedTuple

if TYPE_CHECKING:
    from datetime import datetime


class Section(NamedTuple):
    """A heading and its lines."""

    heading: str
    lines: tuple[str, ...]


class HelpHeadings(NamedTuple):
    """Headings of the help."""

    help: str = "Help"
    screens: str = "Keys that open a screen"
    looks: str = "Keys for how it looks, and to keep it"
    capture: str = "Keys while a capture plays"
    pages: str = "Keys on every other screen"
    alarms: str = "Keys in the list of alarms"
    trend: str = "Keys in the trend"
    tonight: str = "Keys in tonight"
    devices: str = "Keys in devices"
    journal: str = "Keys in the journal"
    commission: str = "Keys while an installation is proved"
    stages: str = "Stages"


HELP_HEADINGS: Final = HelpHeadings()

#: Below the first lines, while the screen is loaded.
OPENING: Final = "Opening the screen ..."


def waiting(banks: str, devices: str) -> str:
    """What is true before any device spoke."""
    return f"{banks}: waiting for {devices}"


CAUTIONS_HEADING: Final = "Before hands go near posts"

# Common practice, but for: gas and acid (occupational health advice), fuses within 7 in of the
# post (ABYC E-11, as quoted in practice notes), the bond of the charger's case (NEC 551.20),
# lithium below freezing (published tutorials).
CAUTIONS: Final = (
    "A figure on this screen is no proof that a circuit is dead. Measure it.",
    "Charging lead-acid makes explosive gas. Ventilate, no flame or spark, and wait before you "
    "disconnect anything.",
    "Open the charger's AC supply and the DC disconnect before you touch the posts. Unplug shore "
    "power and lock out the generator.",
    "Take off metal jewellery and use insulated tools: a spanner across the posts welds and burns.",
    "Eye protection and gloves, water within reach. Never reach into acid unprotected.",
    "Fuse every positive cable within 18 cm (7 in) of the post, no larger than the cable can "
    "carry, and able to interrupt what the bank can give.",
    "AC wiring is for a qualified electrician. Keep AC and DC apart, and bond the charger's case "
    "to the chassis.",
    "Never charge lithium below 0 °C, nor frozen lead-acid.",
    "Equalize flooded banks only: attended, ventilated, loads off; stop at 46 °C.",
    "Above 50 °C, or when current rises while voltage is held: stop charging.",
    "Local codes and licensed practice come before anything this program says.",
)

HOW_TO_READ: Final = (
    Section(
        "Figures",
        (
            "+ flows into the bank, - out of it.",
            "-- stands where nothing was measured, or too long ago; the reason is beside it.",
            "give or take: the truth lies that close, 19 times in 20.",
            "2 to 3 h: the truth lies between, 19 times in 20.",
            "likely: how sure the stage is. Where two are close, both are named.",
            "loads: what the sources give, less what the bank takes.",
        ),
    ),
    Section(
        "Alarms",
        (
            "The top line has the worst alarm; grey means that there is none.",
            "! low, !! medium, !!! high: see to it today, within the hour, now.",
            "Once you have seen it (k in the list) an alarm stays on the top line while it lasts.",
        ),
    ),
    Section(
        "Trend",
        (
            "Current stands above its zero line when it flows in and hangs below when out.",
            "Below the charts are the stages of that time, and the clock.",
            "Dots (question marks in plain letters) are times without a reading.",
        ),
    ),
)

#: What is asked in one line, and an example of an answer.
NOTE_ASKED: Final = "Note, kept with Enter:"
NOTE_EXAMPLE: Final = "why, or what was done"
GO_TO: Final = "Go to, with Enter:"
GO_TO_EXAMPLE: Final = "14:30, 90m, 33:05:00, 40%, end"

COPIED: Final = "Copied, if your terminal lets programs do that. s saves it."


def saved(path: str) -> str:
    return f"Saved as {path}, and beside it as a picture."


def not_saved(problem: str) -> str:
    return f"Not saved: {problem}"


def no_free_name(folder: str, now: datetime) -> str:
    return f"{folder}: no free name for a screen of {now:%H:%M:%S}"


#: What a saved picture is called by programs that read it aloud.
PICTURE_TITLE: Final = "The Ampwright screen"

NO_READING_YET: Final = "No reading yet."
HOW_TO_LEAVE: Final = "q leaves"
LOOKS_ONLY: Final = "This screen only looks. Give commands from a terminal."
FEED_ENDED: Final = "The feed has ended; nothing here is live any more."
FEED_QUIET: Final = "No news for 10 s or more; nothing here is live. Waiting."


def feed_failed(problem: BaseException) -> str:
    """One line for stderr; the problem's own words are expected to say what to do."""
    words = " ".join(str(problem).split()) or type(problem).__name__
    return f"ampwright: the readings stopped: {words}"
