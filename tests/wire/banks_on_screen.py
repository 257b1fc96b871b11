"""A known bank on the screen of a real terminal: brought into view, seen live, seen stale."""

from __future__ import annotations

from tests.wire.known import BANKS, KnownBank
from tests.wire.tmux import Terminal, has_large
from tests.wire.waiting import SEEN_SECONDS, START_SECONDS, until


def turn_to(terminal: Terminal, bank: KnownBank) -> None:
    """Bring a bank into view by the key for it, at a width that names it in the top line."""
    for _ in BANKS:
        shown = until(lambda: _named(terminal), START_SECONDS, "a bank is in view", terminal.text)
        if shown == bank.bank:
            return
        terminal.type("b")
        until(
            lambda shown=shown: _named(terminal) not in ("", shown),
            SEEN_SECONDS,
            "the next bank comes into view",
            terminal.text,
        )
    assert _named(terminal) == bank.bank


def _named(terminal: Terminal) -> str:
    words = terminal.rows()[0].replace(",", " ").split()
    return next((bank.bank for bank in BANKS if bank.bank in words), "")


def shows_live(terminal: Terminal, bank: KnownBank, seconds: float = SEEN_SECONDS) -> None:
    turn_to(terminal, bank)
    terminal.until(bank.volts, seconds, bank.celsius, f"{bank.stage.capitalize()}, ")
    terminal.until_large(bank.amps_large)


def shows_stale(terminal: Terminal, bank: KnownBank) -> None:
    """No figure of it looks live, and words say so."""
    turn_to(terminal, bank)
    seen = terminal.until("Stage not known now", SEEN_SECONDS, f"was {bank.stage}", "No reading")
    assert bank.volts not in seen
    assert bank.celsius not in seen
    assert not has_large(seen, bank.amps_large), seen
    assert has_large(seen, "--"), seen
