"""A real terminal to run the program in: a tmux server of its own, detached, with a shell in it.

A person's way: the command is typed at a prompt, keys are typed, the screen is read, and when the
program has ended the prompt and the exit status are there again.
"""

from __future__ import annotations

import itertools
import os
import re
import shlex
import shutil
import signal
import subprocess
import tempfile
from collections.abc import Mapping
from pathlib import Path
from types import TracebackType
from typing import Final

import pytest

from monitor.dashboard.widgets.numerals import numeral_rows
from tests.wire.waiting import END_SECONDS, SEEN_SECONDS, START_SECONDS, until

needs_tmux: Final = pytest.mark.skipif(
    shutil.which("tmux") is None, reason="tmux is not installed; it is the terminal of this test"
)

_PROMPT: Final = "ready$ "
_numbers = itertools.count()

#: Rows are read as at least so wide: a terminal leaves the blanks at their ends off.
_WIDEST: Final = 240
_INK: Final = frozenset("▀▄█")


class Terminal:
    """A shell in a terminal of so many columns and rows."""

    def __init__(self, columns: int, rows: int, environment: Mapping[str, str]) -> None:
        # The path of a socket is short by law; pytest's folders are not.
        self._sockets = tempfile.mkdtemp(prefix="aw-")
        self._server = f"ampwright-{os.getpid()}-{next(_numbers)}"
        self._environment = {**os.environ, **environment, "TMUX_TMPDIR": self._sockets}
        for name in ("TMUX", "ENV", "NO_COLOR", "COLORTERM"):
            self._environment.pop(name, None)
        size = ("-x", str(columns), "-y", str(rows))
        # Given as words, the shell is run itself and not by another, which would drop its prompt.
        shell = ("env", f"PS1={_PROMPT}", "sh")
        self._tmux("-f", os.devnull, "new-session", "-d", *size, *shell)
        self.until(_PROMPT.strip(), START_SECONDS)

    def __enter__(self) -> Terminal:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        subprocess.run(self._command("kill-server"), env=self._environment, capture_output=True)
        shutil.rmtree(self._sockets, ignore_errors=True)

    def _command(self, *words: str) -> list[str]:
        return ["tmux", "-u", "-L", self._server, *words]

    def _tmux(self, *words: str) -> str:
        done = subprocess.run(
            self._command(*words), env=self._environment, capture_output=True, text=True, timeout=60
        )
        assert done.returncode == 0, done.stderr
        return done.stdout

    # What a person does.

    def run(self, *words: str | Path) -> None:
        """Type a command at the prompt; afterwards its exit status stands there."""
        line = shlex.join(map(str, words))
        self.type(f"clear; {line}; echo status=$?")
        self.press("Enter")

    def type(self, keys: str) -> None:
        self._tmux("send-keys", "-l", keys)

    def press(self, key: str, times: int = 1) -> None:
        """A key by its name, such as Enter."""
        self._tmux("send-keys", "-N", str(times), key)

    def resize(self, columns: int, rows: int) -> None:
        self._tmux("resize-window", "-x", str(columns), "-y", str(rows))

    def signal(self, number: signal.Signals) -> None:
        """Send a signal to the program, not to the shell around it."""
        os.kill(self.program(), number)

    def program(self) -> int:
        """Process id of the program that runs in the shell."""
        shell = self._tmux("display-message", "-p", "#{pane_pid}").strip()
        children = Path(f"/proc/{shell}/task/{shell}/children")
        return int(until(children.read_text, END_SECONDS, "a program runs", self.text).split()[0])

    # What a person sees.

    def text(self) -> str:
        """The screen, blanks at the end of rows left off."""
        return self._tmux("capture-pane", "-p")

    def rows(self) -> list[str]:
        return self.text().split("\n")

    def until(self, words: str, seconds: float = SEEN_SECONDS, *more: str) -> str:
        """The screen, once all these words are on it at the same time."""

        def found() -> str:
            text = self.text()
            return text if all(word in text for word in (words, *more)) else ""

        return until(found, seconds, f"the screen shows {(words, *more)}", self.text)

    def until_large(self, number: str, seconds: float = SEEN_SECONDS) -> str:
        """The screen, once a number stands on it in large numerals."""

        def found() -> str:
            text = self.text()
            return text if has_large(text, number) else ""

        return until(found, seconds, f"the screen shows a large {number}", self.text)

    def ended_well(self) -> None:
        """The program has ended with status 0, and the terminal is as it was before."""
        assert self.status() == 0, self.text()

    def status(self) -> int:
        """Exit status of the program, once it has ended and the terminal is as it was before."""
        text = self.until("status=", END_SECONDS, _PROMPT.strip())
        found = re.search(r"^status=(\d+)$", text, re.MULTILINE)
        assert found, text
        assert "Traceback" not in text
        state = self._tmux(
            "display-message", "-p", "#{alternate_on} #{cursor_flag} #{mouse_any_flag}"
        )
        assert state.split() == ["0", "1", "0"], "alternate screen left, cursor shown, no mouse"
        # A line discipline that still echoes and edits: what is typed is run as a command.
        self.type("expr 40 + 2")
        self.press("Enter")
        self.until("expr 40 + 2\n42", END_SECONDS)
        return int(found[1])


def has_large(text: str, number: str) -> bool:
    """Whether a number stands in large numerals: three rows, one below the other."""
    wanted = numeral_rows(number)
    rows = [row.ljust(_WIDEST) for row in text.split("\n")]
    for above in range(len(rows) - len(wanted) + 1):
        for place in re.finditer(f"(?={re.escape(wanted[0])})", rows[above]):
            left, right = place.start(), place.start() + len(wanted[0])
            below = rows[above : above + len(wanted)]
            if [row[left:right] for row in below] == wanted and _alone(below, left, right):
                return True
    return False


def _alone(rows: list[str], left: int, right: int) -> bool:
    """No ink beside it, so that +3 is not found in +37; its unit may follow."""
    return all(
        row[max(left - 2, 0) : left].strip() == "" and not set(row[right : right + 2]) & _INK
        for row in rows
    )
