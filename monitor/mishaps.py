"""What went wrong, in one line for a person."""

from __future__ import annotations

import errno
from typing import Final

_ADVICE: Final = {
    errno.ENOENT: "check the name",
    errno.EACCES: "choose another place, or ask for permission",
    errno.EPERM: "choose another place, or ask for permission",
    errno.EISDIR: "name the file inside it",
    errno.EEXIST: "choose another name",
    errno.ENOSPC: "free some space on that disk",
    errno.EROFS: "choose a place that can be written to",
    errno.EADDRINUSE: "choose another port",
}


class Refusal(Exception):
    """Something a person asked for that cannot be done; the text is one line, with what to do."""


def in_one_line(error: Exception) -> tuple[str, bool]:
    """An error as one line, and whether it is a fault of this program.

    Those made for people speak for themselves; a failing disk or network is named with its file;
    anything else is ours and says where it happened.
    """
    from adapters.adapter import LinkError, SettingsError
    from monitor.config import ConfigError
    from monitor.engine.whose_state import StateError
    from replay.capture import CaptureError

    match error:
        case (
            Refusal()
            | ConfigError()
            | SettingsError()
            | LinkError()
            | CaptureError()
            | StateError()
        ):
            text, ours = str(error), False
        case OSError():
            text, ours = system_error(error), False
        case _:
            where = _innermost(error)
            text, ours = f"a fault in this program: {type(error).__name__}: {error} ({where})", True
    return " ".join(text.split()), ours


def system_error(error: OSError) -> str:
    """What the operating system refused, with the file and what to do."""
    reason = (error.strerror or str(error) or type(error).__name__).lower()
    advice = _ADVICE.get(error.errno or 0, "")
    named = f"{error.filename}: " if error.filename is not None else ""
    return f"{named}{reason}{advice and '; ' + advice}"


def _innermost(error: Exception) -> str:
    """File and line of a fault, for a report of it."""
    trace, place = error.__traceback__, "nowhere"
    while trace is not None:
        code = trace.tb_frame.f_code
        place = f"{code.co_filename.rsplit('/', 1)[-1]}:{trace.tb_lineno}"
        trace = trace.tb_next
    return place
