"""Make each mistake in a copy of the checkout, run the tests that should notice, print a table.

    python -m tests.seeded.run [WORDS]

with WORDS only the mistakes whose names hold them. A mistake counts as caught where a test that
passes without it *fails* with it; a copy that no longer imports, tests that fail anyway, or a run
in which nothing was tested, count as neither, and a mistake that no longer fits the code is named.
The copy is made once, so that others may go on editing. Exit status 1 where one is not caught.
"""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Final, NamedTuple

from tests.seeded.mistakes import MISTAKES, LostError, Mistake, source, spoiled

ROOT: Final = Path(__file__).parents[2]
PACKAGES: Final = ("adapters", "monitor", "replay")
PARTS: Final = (*PACKAGES, "tests", "pyproject.toml")
#: Far beyond what the slowest of these tests takes on a small board.
MOST_SECONDS: Final = 900.0
#: What pytest's exit status says.
PASSED: Final = 0
FAILED: Final = 1
#: Imported in the copy, and where each came from: never the checkout that is installed as editable.
WHENCE: Final = """
import adapters.reading, monitor.engine.engine, replay.coach.simulate, tests.seeded.mistakes as m
for each in (adapters.reading, monitor.engine.engine, replay.coach.simulate, m):
    print(each.__file__)
"""


class Outcome(NamedTuple):
    """`caught_by` the first test that failed, empty where none did; `words` of what went wrong."""

    mistake: str
    caught_by: str
    seconds: float
    words: str


class NotRunError(Exception):
    """The tests could not be run at all; one line."""


def copied(to: Path) -> Path:
    """A copy of everything that the engine's tests need, without what an interpreter left."""
    try:
        for name in PARTS:
            here = ROOT / name
            if here.is_dir():
                shutil.copytree(here, to / name, ignore=shutil.ignore_patterns("__pycache__", ".*"))
            else:
                shutil.copy2(here, to / name)
    except (OSError, shutil.Error) as error:
        raise NotRunError(f"the checkout could not be copied, try again: {error}") from None
    # byte code that is checked by the text it was made of: compiled once, not at every start
    run_python(to, "-m", "compileall", "-q", "--invalidation-mode", "checked-hash", *PACKAGES)
    return to


def run_python(copy: Path, *arguments: str) -> tuple[int, str]:
    """Exit status and output of an interpreter that sees the copy first; status 124: too long."""
    # no byte code by date: a file that is changed twice within a second must not pass for itself
    environment = {
        **os.environ,
        "PYTHONDONTWRITEBYTECODE": "1",
        "PYTHONPATH": str(copy),
        "PYTEST_DISABLE_PLUGIN_AUTOLOAD": "1",  # starts twice as fast
    }
    try:
        done = subprocess.run(
            [sys.executable, *arguments],
            cwd=copy,
            env=environment,
            capture_output=True,
            text=True,
            timeout=MOST_SECONDS,
            check=False,
        )
    except subprocess.TimeoutExpired:
        return 124, f"no end within {MOST_SECONDS:.0f} s"
    return done.returncode, done.stdout + done.stderr


def tested(copy: Path, tests: tuple[str, ...], *more: str) -> tuple[int, str]:
    """Exit status and output of these quick tests in a copy."""
    plugins = ("-p", "pytest_asyncio.plugin", "-p", "no:cacheprovider")
    options = ("-m", "not slow", "-q", "-rfE", "--tb=no", "--no-header")
    return run_python(copy, "-m", "pytest", *plugins, *options, *more, *tests)


def failures(output: str) -> list[str]:
    """The tests that failed or broke, as pytest names them."""
    lines = [line.split() for line in output.splitlines()]
    return [words[1] for words in lines if len(words) > 1 and words[0] in ("FAILED", "ERROR")]


def try_out(copy: Path, mistake: Mistake, red: list[str]) -> Outcome:
    """Make the mistake, test, put the file back as it was; `red` fail without any mistake."""
    for test in mistake.tests:
        if any(each == test or each.startswith(f"{test}[") for each in red):
            return Outcome(mistake.name, "", 0.0, f"NOT TESTED: fails without it: {test}")
    try:
        text = source(copy, mistake)
    except LostError as error:
        return Outcome(mistake.name, "", 0.0, f"LOST: {error}")
    path = copy / mistake.file
    began = time.perf_counter()
    try:
        path.write_text(spoiled(text, mistake), encoding="utf-8")
        status, output = tested(copy, mistake.tests, "-x")
    finally:
        path.write_text(text, encoding="utf-8")
    seconds = time.perf_counter() - began
    if status == PASSED:
        return Outcome(mistake.name, "", seconds, "NOT CAUGHT")
    noticed = [name for name in failures(output) if name.startswith(mistake.tests)]
    if status != FAILED or not noticed:
        last = output.strip().splitlines()[-1:] or ["no output"]
        return Outcome(mistake.name, "", seconds, f"NOT TESTED (status {status}): {last[0]}")
    return Outcome(mistake.name, noticed[0], seconds, "")


def untouched(copy: Path, mistakes: tuple[Mistake, ...]) -> list[str]:
    """Which of the tests that these mistakes name fail on the code as it is, in the copy itself."""
    status, output = run_python(copy, "-c", WHENCE)
    lines = output.strip().splitlines() or ["no output"]
    if status != 0:
        raise NotRunError(f"the code does not import as it is: {lines[-1]}")
    for line in lines:
        if not Path(line).is_relative_to(copy):
            raise NotRunError(f"the copy's tests would test {line}, not the copy")
    status, output = tested(copy, tuple(sorted({name for each in mistakes for name in each.tests})))
    red = failures(output)
    if status not in (PASSED, FAILED) or (status == FAILED and not red):
        last = [*red, *output.strip().splitlines()[-1:], "no output"]
        raise NotRunError(f"the tests cannot be run without any mistake: {last[0]}")
    return red


def table(outcomes: list[Outcome]) -> str:
    wide = max(len(outcome.mistake) for outcome in outcomes)
    lines = [f"{'mistake':{wide}}  seconds  caught by"]
    for outcome in outcomes:
        by = outcome.caught_by or outcome.words
        lines.append(f"{outcome.mistake:{wide}}  {outcome.seconds:7.1f}  {by}")
    caught = sum(bool(outcome.caught_by) for outcome in outcomes)
    lines.append(f"{caught} of {len(outcomes)} caught")
    return "\n".join(lines) + "\n"


def run(mistakes: tuple[Mistake, ...]) -> list[Outcome]:
    with tempfile.TemporaryDirectory(prefix="seeded-") as folder:
        copy = copied(Path(folder).resolve())
        red = untouched(copy, mistakes)
        return [try_out(copy, mistake, red) for mistake in mistakes]


def main(words: list[str]) -> int:
    chosen = tuple(each for each in MISTAKES if all(word in each.name for word in words))
    if not chosen:
        names = "; ".join(each.name for each in MISTAKES)
        print(f"no mistake is called that; there are: {names}", file=sys.stderr)
        return 2
    # told to end, the copy is removed on the way out
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(143))
    try:
        outcomes = run(chosen)
    except NotRunError as error:
        print(error, file=sys.stderr)
        return 2
    except KeyboardInterrupt:
        return 130
    print(table(outcomes), end="")
    return 0 if all(outcome.caught_by for outcome in outcomes) else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
