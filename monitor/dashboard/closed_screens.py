"""What a closed screen leaves behind in the library, let go.

Textual keeps the last 1024 answers of a function of each widget's line cache, and with them the
caches themselves: every line that closed screens had drawn, some 80 MB (measured) after ten minutes
of going from screen to screen. Its answers are two colours, worked out again at once.
"""

from __future__ import annotations

from textual._styles_cache import StylesCache


def let_go_of_closed_screens() -> None:
    """To be called when a screen was closed or took the place of another."""
    StylesCache.get_inner_outer.cache_clear()
