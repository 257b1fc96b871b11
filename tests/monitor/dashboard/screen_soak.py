"""`make screen-soak`: the program plays long recordings on a screen that is used all the time.

In a pseudo-terminal of 100x30: first 24 recorded hours at 60 times life, then ten days at the
highest rate that leaves room for keys, and on at its end, where nothing comes in any more. Letters
walk through every screen without a pause. Between two screens it is measured what must not grow:
memory, open files, threads, objects. Ends with status 1 where something did, where a screen was
not reached, or where the terminal was not given back.
"""

from __future__ import annotations

import argparse
import json
import os
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Final, NamedTuple

import numpy

from tests.monitor.dashboard.pseudo_terminal import GIVEN_BACK, Terminal, terminal

HOUR: Final = 3600.0
#: A day in 24 minutes; and what leaves some nine tenths of a core to the screen (measured).
LIFE_RATE: Final = 60.0
LONG_RATE: Final = 1200.0
LONG_HOURS: Final = 240.0
ONE_DAY_HOURS: Final = 24.0
#: Keys from the live screen to another and back, and what must be read there.
WALK: Final = (
    ("hnnpx", b"Help"),
    ("annpdux", b"larm"),
    ("unpx", b"Account"),
    ("onpx", b"Tonight"),
    ("rooippnneeellx", b"newer"),
    ("knpx", b"Bank"),
    ("wnnnpx", b"Why each figure"),
    ("gx", b"give or take"),
    ("dlnpx", b"Devices"),
    ("jnnpx", b"What happened"),
    ("cx", b"Proving an"),
    ("ynpy", b"Before hands go"),
    ("mclose\r", b"lose this list"),
    ("uokwgjrdhx", b"Account"),  # one in place of another
    ("vvvv", b""),
    ("tttt", b""),
    ("ii", b""),
    ("ffzz", b""),
    ("bbe", b""),
    ("s", b""),
)
#: From here on in the walk something is copied or saved, and told so.
_LAST_BARE: Final = len(WALK) - 2
KEY_SECONDS: Final = 1.0
SAMPLE_SECONDS: Final = 30.0
#: Least-squares slopes are of what comes after this share of a run (our choice): imports, caches
#: and the fonts of each screen's first drawing are behind it.
WARM: Final = 0.25
#: What memory may grow by, megabytes for each recorded day, over a run of several: what is kept of
#: a recording until it is 30 days old (bins of the trend, at most 200 states of some 60 kB to go
#: back to, events). It was 1.3 and 1.7 over ten days.
MOST_A_DAY: Final = 4.0
#: A slope over a single day says little: one step of 10 MB, level before and behind, was seen in
#: it. Every run must stay below this: a quarter of a board of 512 MB (our choice).
MOST_MEGABYTES: Final = 128.0
#: And in an hour in which nothing is recorded: what is left must be noise of the allocator.
MOST_AN_HOUR: Final = 2.0
#: What may be more at the end than when everything was warm: a screen that was just left, and the
#: few threads that work is handed to.
SLACK: Final = (("files", 1), ("threads", 4), ("widgets", 8), ("tasks", 4))
#: Asked for by the library, answered here: so that every frame is marked by a sign of its own.
_ASKS, _ANSWER, _FRAME = b"\x1b[?2026$p", b"\x1b[?2026;2$y", b"\x1b[?2026h"


class Look(NamedTuple):
    """How it stands, and what it spent since the look before."""

    minutes: float
    recorded_hours: float
    megabytes: float
    files: int
    threads: int
    objects: int
    widgets: int
    tasks: int
    core: float
    sent: float
    frames: float
    written_kilobytes: float


class Soak:
    """One run of the program, walked through."""

    def __init__(self, board: Terminal, counts: Path) -> None:
        self.board, self.counts = board, counts
        self.looks: list[Look] = []
        self.missed: list[str] = []
        self.rounds = 0
        self._sent = self._frames = 0
        self._began = self._last = time.monotonic()
        self._cpu = 0.0

    def listen(self, seconds: float, until: bytes | None = None) -> bytes:
        """What is sent in so many seconds, counted."""
        got = self.board.read(seconds, until)
        if _ASKS in got:
            self.board.type(_ANSWER)
        self._sent += len(got)
        self._frames += got.count(_FRAME)
        return got

    def station(self, keys: str, words: bytes) -> None:
        """To one screen, where the words must be read, and back."""
        got = b""
        for place, key in enumerate(keys):
            self.board.type(key.encode())
            # What is opened for the first time is imported first.
            heard = self.listen(5.0, until=words) if place == 0 and words else b""
            heard += self.listen(KEY_SECONDS)
            got += heard if place == 0 or place < len(keys) - 1 else b""
        if words not in got:
            self.missed.append(f"{keys!r} in round {self.rounds + 1}")

    def walk(self) -> Iterator[bool]:
        """Round and round; gives way on the live screen after each station, and says whether it
        is bare: no message of what was copied or saved stands on it."""
        while True:
            for place, (keys, words) in enumerate(WALK):
                self.station(keys, words)
                yield 0 < place < _LAST_BARE
            self.rounds += 1

    def look(self) -> Look:
        told = self._ask()
        pid, now = self.board.process.pid, time.monotonic()
        status = Path(f"/proc/{pid}/status").read_text()
        pages = dict(line.split(":", 1) for line in status.splitlines() if ":" in line)
        io = dict(line.split(": ") for line in Path(f"/proc/{pid}/io").read_text().splitlines())
        cpu, lasted = self.board.cpu_seconds(), now - self._last
        look = Look(
            (now - self._began) / 60,
            float(told["position"] or 0.0) / HOUR,
            int(pages["VmRSS"].split()[0]) / 1024,
            len(os.listdir(f"/proc/{pid}/fd")),
            int(pages["Threads"]),
            int(told["objects"]),
            int(told["widgets"]),
            int(told["tasks"]),
            (cpu - self._cpu) / lasted,
            self._sent / lasted,
            self._frames / lasted,
            int(io["write_bytes"]) / 1000,
        )
        self.looks.append(look)
        self._cpu, self._last, self._sent, self._frames = cpu, now, 0, 0
        return look

    def _ask(self) -> Any:
        """What the program counts in itself."""
        before = self.counts.stat().st_size if self.counts.exists() else 0
        self.board.process.send_signal(signal.SIGUSR1)
        end = time.monotonic() + 10
        while time.monotonic() < end:
            self.listen(0.1)
            told = self.counts.read_text(encoding="utf-8") if self.counts.exists() else ""
            if len(told) > before and told.endswith("\n"):
                return json.loads(told.splitlines()[-1])
        raise TimeoutError("the program tells nothing of itself")


def slope(looks: list[Look], over: str, figure: str = "megabytes") -> float:
    """Least squares of a figure over another, of the looks after warming up."""
    kept = looks[int(len(looks) * WARM) :]
    x = numpy.array([getattr(look, over) for look in kept])
    y = numpy.array([getattr(look, figure) for look in kept])
    return float(numpy.polyfit(x, y, 1)[0]) if len(kept) > 2 and numpy.ptp(x) > 0 else 0.0


def run(folder: Path, capture: Path, rate: float, hours: float, still: float) -> list[str]:
    """Play so many recorded hours, then stand for `still` minutes; what was wrong."""
    folder.mkdir(parents=True, exist_ok=True)
    module = ["tests.monitor.dashboard.counted", str(folder / "counts"), "replay", str(capture)]
    module += ["--rate", f"{rate:g}"]
    homes = {f"XDG_{kind}_HOME": str(folder) for kind in ("STATE", "CONFIG", "DATA", "CACHE")}
    print(f"\n{hours:g} recorded hours at {rate:g} times life\n")
    print("| " + " | ".join(Look._fields) + " |\n" + "|---" * len(Look._fields) + "|")
    with terminal(folder, module=module, HOME=str(folder), **homes) as board:
        soak = Soak(board, folder / "counts")
        soak.listen(60, until=b"no alarm")
        walk = soak.walk()
        looks = _until(soak, walk, hours)
        board.type(b"1")
        soak.looks = []
        stood = _until(soak, walk, None, still) if still else []
        soak.listen(1.0)
        asked = time.monotonic()
        board.type(b"q")
        code, _, sent = board.wait(10)
        took, restored = time.monotonic() - asked, board.restored
    wrong = list(soak.missed)
    a_day = 24 * slope(looks, "recorded_hours")
    an_hour = 60 * slope(stood, "minutes")
    print(f"\n{soak.rounds} rounds through every screen; memory {a_day:+.2f} MB a recorded day,")
    print(f"{an_hour:+.2f} MB an hour while nothing came in;" if still else "")
    print(f"left by q in {took:.2f} s with status {code}, terminal restored: {restored}")
    if hours > ONE_DAY_HOURS and a_day > MOST_A_DAY:
        wrong.append(f"memory grows by {a_day:.2f} MB a recorded day")
    highest = max(look.megabytes for look in looks + stood)
    if highest > MOST_MEGABYTES:
        wrong.append(f"memory reached {highest:.0f} MB")
    if an_hour > MOST_AN_HOUR:
        wrong.append(f"memory grows by {an_hour:.2f} MB an hour while nothing comes in")
    for figure, slack in SLACK:
        counted = [getattr(look, figure) for look in looks + stood][len(looks) // 4 :]
        # The most in either half: a single look may fall on a screen that has few.
        half = len(counted) // 2
        if half and max(counted[half:]) > max(counted[:half]) + slack:
            wrong.append(f"{figure} grew: {counted}")
    if code or not restored or not all(each in sent for each in GIVEN_BACK):
        wrong.append(f"left with status {code}, terminal restored: {restored}")
    return wrong


def _until(
    soak: Soak, walk: Iterator[bool], hours: float | None, minutes: float = 0.0
) -> list[Look]:
    """Walk on until so many hours were played, or minutes have passed."""
    end, due, bare = time.monotonic() + 60 * minutes, 0.0, True
    while True:
        if bare and time.monotonic() >= due:
            due = time.monotonic() + SAMPLE_SECONDS
            look = soak.look()
            print("| " + " | ".join(_short(value) for value in look) + " |", flush=True)
            if hours is None and time.monotonic() >= end:
                return soak.looks
            if hours is not None and look.recorded_hours >= hours:
                return soak.looks
        bare = next(walk)


def _short(value: float) -> str:
    return f"{value:.2f}" if isinstance(value, float) else str(value)


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.monitor.dashboard.screen_soak")
    parser.add_argument("--capture", type=Path, help="play only this one, not two made now")
    parser.add_argument("--rate", type=float, default=LIFE_RATE)
    parser.add_argument("--hours", type=float, default=24.0)
    parser.add_argument("--still", type=float, default=5.0, help="minutes at its end")
    chosen = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        if chosen.capture is not None:
            runs = [(chosen.capture, chosen.rate, chosen.hours)]
        else:
            long = folder / "long.capture.gz"
            make = [sys.executable, "-m", "replay.coach", "saltmarsh", "--hours", f"{LONG_HOURS:g}"]
            subprocess.run([*make, "--out", str(long)], check=True, stdout=subprocess.DEVNULL)
            runs = [(long, LIFE_RATE, ONE_DAY_HOURS), (long, LONG_RATE, LONG_HOURS - 1.0)]
        wrong = []
        for number, (capture, rate, hours) in enumerate(runs):
            wrong += run(folder / str(number), capture, rate, hours, chosen.still)
    print("wrong: " + ("; ".join(wrong) or "nothing"))
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
