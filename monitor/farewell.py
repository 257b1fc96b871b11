"""The end that the tool chose itself: last words to whoever is away, and the machine shut down.

Called once the capture is sealed and what was learned is kept, so that nothing is lost whatever
the commands do.
"""

from __future__ import annotations

import contextlib
import time
from collections.abc import Callable
from typing import Final

from monitor.config import Config
from monitor.config_notify import Notify
from monitor.notices import Notice, iso, last_notice
from monitor.notify import notify_folder, send_once
from monitor.user_command import Outcome, log_run, run_command

#: A machine that is told to shut down answers at once or not at all.
SHUT_DOWN_SECONDS: Final = 30.0

Tell = Callable[[Notify, Notice, float], Outcome]
Halt = Callable[[tuple[str, ...]], Outcome]


def halt(command: tuple[str, ...]) -> Outcome:
    return run_command(command, {}, {}, SHUT_DOWN_SECONDS)


def farewell(
    words: str,
    config: Config,
    say: Callable[[str], None],
    *,
    wall: Callable[[], float] = time.time,
    tell: Tell = send_once,
    shut_down: Halt = halt,
) -> None:
    """Tell whoever is away, then shut the machine down where the configuration asks for it.

    `say` takes a line for whoever is near. A message that does not get through is said, and stops
    nothing: the bank is what matters.
    """
    computer, now = config.computer, wall()
    ending = "this computer shuts down" if computer.shut_down else "watching ends"
    whole = f"Last words: {words}; {ending}. Charge the bank, then start it again."
    say(whole)
    if config.notify.command:
        outcome = tell(config.notify, last_notice(whole, now), now)
        folder = notify_folder()
        with contextlib.suppress(OSError):
            folder.mkdir(parents=True, exist_ok=True)
        log_run(folder / "command.log", iso(now), "last", outcome)
        if not outcome.done:
            say(f"the last message did not get through: {outcome.reason}")
    if computer.shut_down:
        outcome = shut_down(computer.shut_down_command)
        if not outcome.done:
            say(f"[computer] shut_down_command: {outcome.reason}; shut it down by hand")
