"""Coverage-guided fuzzing of every parser with atheris: `make fuzz-atheris`.

atheris is not among what the tests install; the make target gives it an environment of its own.
A minute a parser unless told otherwise; each runs in a process of its own, since the fuzzer never
gives control back. Exits with 1 where anything came out.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
from pathlib import Path


def guided(name: str, seconds: int) -> None:
    """Fuzz one parser in this process; does not return."""
    import atheris  # type: ignore[import-not-found]

    with atheris.instrument_imports(include=["adapters", "replay", "monitor"]):
        from tests.adapters.fuzz.parsers import parsers

    parser = next(each for each in parsers() if each.name == name)
    with tempfile.TemporaryDirectory() as folder:
        for at, sample in enumerate(parser.samples):
            (Path(folder) / str(at)).write_bytes(sample[:4096])
        take = parser.make()
        options = [sys.argv[0], f"-max_total_time={seconds}", "-max_len=4096", "-verbosity=0"]
        atheris.Setup([*options, folder], take)
        atheris.Fuzz()


def main(seconds: int) -> int:
    from tests.adapters.fuzz.parsers import parsers

    failed = []
    for parser in parsers():
        run = subprocess.run(
            [sys.executable, "-m", "tests.adapters.fuzz.guided", str(seconds), parser.name],
            capture_output=True,
            text=True,
        )
        runs = [line for line in run.stderr.splitlines() if line.startswith("Done ")]
        print(f"{parser.name}: {runs[-1] if runs else 'ended ' + str(run.returncode)}", flush=True)
        if run.returncode:
            failed.append(parser.name)
            print(run.stderr[-3000:])
    return 1 if failed else 0


if __name__ == "__main__":
    if len(sys.argv) > 2:
        guided(sys.argv[2], int(sys.argv[1]))
    sys.exit(main(int(sys.argv[1]) if len(sys.argv) > 1 else 60))
