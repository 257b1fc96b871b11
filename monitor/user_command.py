"""A command of the user's own, run once: its message on stdin, its output into a log.

Nothing it does can hurt the program that runs it: no shell, a group of its own that is killed when
time is up, output taken in small parts and cut, a log that is turned over when it is full.
"""

from __future__ import annotations

import contextlib
import json
import os
import selectors
import signal
import subprocess
import time
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import IO, Any, Final, NamedTuple

#: Kept of one run's output, and the size at which the log is turned over (our choice): with the
#: one before it half a megabyte at most.
OUTPUT_BYTES: Final = 4_000
LOG_BYTES: Final = 250_000
#: Between two looks at whether to give up.
_LOOK_SECONDS: Final = 0.2
#: A program that ended may have left a child with its output open: read on for so long.
_LINGER_SECONDS: Final = 0.5


class Outcome(NamedTuple):
    """How it went; `reason` in words where it did not go well."""

    done: bool
    reason: str
    output: str


def run_command(
    command: tuple[str, ...],
    message: Mapping[str, Any],
    environment: Mapping[str, str],
    timeout_seconds: float,
    give_up: Callable[[], bool] = lambda: False,
) -> Outcome:
    """Run it to its end, or until its time is up or `give_up` says so."""
    try:
        process = subprocess.Popen(
            command,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            env={**os.environ, **environment},
            start_new_session=True,
            bufsize=0,
        )
    except OSError as error:
        return Outcome(False, f"{command[0]} cannot be run: {error.strerror or error}", "")
    with process:
        text = json.dumps(message, ensure_ascii=False).encode() + b"\n"
        output, in_time = _follow(process, text, time.monotonic() + timeout_seconds, give_up)
        if not in_time:
            _kill(process)
        status = process.wait()
    words = output.decode(errors="replace")
    if not in_time:
        why = "was ended: the program stops" if give_up() else f"took over {timeout_seconds:g} s"
        return Outcome(False, f"{command[0]} {why}", words)
    if status < 0:
        return Outcome(False, f"{command[0]} was ended by {_signal_name(-status)}", words)
    if status > 0:
        return Outcome(False, f"{command[0]} ended with status {status}", words)
    return Outcome(True, "", words)


def _follow(
    process: subprocess.Popen[bytes], text: bytes, until: float, give_up: Callable[[], bool]
) -> tuple[bytes, bool]:
    """Feed and drain it until it ends; what it said at first, and whether it ended in time."""
    stdin, stdout = process.stdin, process.stdout
    assert stdin is not None
    assert stdout is not None
    output = b""
    ended: float | None = None
    os.set_blocking(stdin.fileno(), False)
    with selectors.DefaultSelector() as waiting:
        waiting.register(stdin, selectors.EVENT_WRITE)
        waiting.register(stdout, selectors.EVENT_READ)
        while stdout in [key.fileobj for key in waiting.get_map().values()]:
            now = time.monotonic()
            if process.poll() is not None:
                ended = ended or now
                if now - ended >= _LINGER_SECONDS:
                    return output, True
            elif now >= until or give_up():
                return output, False
            for key, _ in waiting.select(_LOOK_SECONDS):
                if key.fileobj is stdin:
                    text = _write(stdin, text)
                    if not text:
                        waiting.unregister(stdin)
                        _close(stdin)
                    continue
                part = os.read(stdout.fileno(), 65536)
                if not part:
                    waiting.unregister(stdout)
                output = (output + part)[:OUTPUT_BYTES]
    while process.poll() is None:  # it closed its output and goes on
        if time.monotonic() >= until or give_up():
            return output, False
        with contextlib.suppress(subprocess.TimeoutExpired):
            process.wait(_LOOK_SECONDS)
    return output, True


def _write(stdin: IO[bytes], text: bytes) -> bytes:
    """What is left to write; nothing where the other side does not listen."""
    try:
        return text[os.write(stdin.fileno(), text[:4096]) :]
    except BlockingIOError:
        return text
    except OSError:
        return b""


def _close(stdin: IO[bytes]) -> None:
    with contextlib.suppress(OSError):
        stdin.close()


def _kill(process: subprocess.Popen[bytes]) -> None:
    """It and whatever it started: its session is a group of its own."""
    with contextlib.suppress(OSError):
        os.killpg(process.pid, signal.SIGKILL)


def _signal_name(number: int) -> str:
    try:
        return signal.Signals(number).name
    except ValueError:
        return f"signal {number}"


def log_run(path: Path, when: str, what: str, outcome: Outcome) -> None:
    """A line for the run and its output below; the full log becomes `.1`, the one before goes.

    A disk that refuses loses the log and nothing else.
    """
    lines = [f"{when} {what}: {outcome.reason or 'sent'}"]
    lines += [f"  {line}" for line in outcome.output.splitlines()]
    with contextlib.suppress(OSError):
        if path.exists() and path.stat().st_size > LOG_BYTES:
            path.replace(path.with_name(path.name + ".1"))
        with path.open("a", encoding="utf-8", errors="replace") as log:
            log.write("\n".join(lines) + "\n")
