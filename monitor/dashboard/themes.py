"""Four looks: dark, black on white for the sun, the terminal's own colours, colour-blind-safe.

All follow one rule (ISA-101 thinking): grey when normal, a colour only where something is
abnormal, and then by alarm priority. `quiet` is for labels, `ink` for the charts. Text keeps a
contrast of 7:1 or more (WCAG 2.2, 1.4.6); a test holds the themes to it.
"""

from __future__ import annotations

from typing import Final

from textual.theme import Theme

_TRACKS: Final = (
    "scrollbar-background",
    "scrollbar-background-hover",
    "scrollbar-background-active",
    "scrollbar-corner-color",
)


def _theme(
    name: str,
    *,
    background: str,
    foreground: str,
    quiet: str,
    ink: str,
    panel: str,
    high: tuple[str, str],
    medium: tuple[str, str],
    low: tuple[str, str],
    dark: bool,
    ansi: bool = False,
) -> Theme:
    """A theme of few colours; priorities are (background, text)."""
    thumb, track = ("ansi_white", "ansi_black") if ansi else (ink, background)
    return Theme(
        name=name,
        ansi=ansi,
        dark=dark,
        primary=quiet,
        secondary=quiet,
        accent=quiet,
        warning=medium[0],
        error=high[0],
        success=quiet,
        foreground=foreground,
        background=background,
        surface=background,
        panel=panel,
        boost=panel,
        variables={
            "quiet": quiet,
            "ink": ink,
            "high": high[0],
            "high-text": high[1],
            "medium": medium[0],
            "medium-text": medium[1],
            "low": low[0],
            "low-text": low[1],
            # How much there is to read stands out from its track, in grey as all that is normal.
            **dict.fromkeys(("scrollbar", "scrollbar-hover", "scrollbar-active"), thumb),
            **dict.fromkeys(_TRACKS, track),
            # Textual's own stylesheets ask for these two where a theme leaves colours alone.
            "ansi-background": "ansi_default",
            "ansi-foreground": "ansi_default",
        },
    )


THEMES: Final = (
    _theme(
        "dark",
        background="#15171a",
        foreground="#d9dbde",
        quiet="#a3a8af",
        ink="#767c85",
        panel="#22252a",
        high=("#a5001d", "#ffffff"),
        medium=("#ffb020", "#000000"),
        low=("#8ec9d6", "#000000"),
        dark=True,
    ),
    _theme(
        "sun",
        background="#ffffff",
        foreground="#000000",
        quiet="#3c3f44",
        ink="#7b7f86",
        panel="#ececec",
        high=("#a5001d", "#ffffff"),
        medium=("#ffb020", "#000000"),
        low=("#8ec9d6", "#000000"),
        dark=False,
    ),
    _theme(
        "terminal",
        background="ansi_default",
        foreground="ansi_default",
        quiet="ansi_default",
        ink="ansi_default",
        panel="ansi_default",
        high=("ansi_red", "ansi_bright_white"),
        medium=("ansi_yellow", "ansi_black"),
        low=("ansi_cyan", "ansi_black"),
        dark=True,
        ansi=True,
    ),
    # Blue, orange and vermillion stay apart for the common kinds of colour blindness (the set of
    # Okabe and Ito, from memory); vermillion is darkened so that white text keeps its contrast.
    _theme(
        "blue-orange",
        background="#12161d",
        foreground="#dfe3e8",
        quiet="#a5acb6",
        ink="#737c89",
        panel="#1f2630",
        high=("#8f3600", "#ffffff"),
        medium=("#e69f00", "#000000"),
        low=("#56b4e9", "#000000"),
        dark=True,
    ),
)

THEME_NAMES: Final = tuple(theme.name for theme in THEMES)

#: What the variables of our own fall back to, so that a stylesheet parses under any theme.
VARIABLE_DEFAULTS: Final = dict(THEMES[0].variables)


def following(name: str) -> str:
    """The next of our themes; the first after one that is not ours."""
    if name not in THEME_NAMES:
        return THEME_NAMES[0]
    return THEME_NAMES[(THEME_NAMES.index(name) + 1) % len(THEME_NAMES)]
