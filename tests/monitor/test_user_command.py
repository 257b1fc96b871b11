"""A command of the user's own: whatever it does, it ends, and what it did is known."""

from __future__ import annotations

import json
import os
import time
from pathlib import Path

from monitor.user_command import LOG_BYTES, OUTPUT_BYTES, Outcome, log_run, run_command


def script(folder: Path, body: str) -> tuple[str, ...]:
    path = folder / "tell me"  # a space, as people have them
    path.write_text(f"#!/bin/sh\n{body}\n")
    path.chmod(0o755)
    return (str(path), "--to", "$(touch never) ; ann")


def run(command: tuple[str, ...], timeout: float = 10.0) -> Outcome:
    return run_command(command, {"words": "warm, 50 °C"}, {"AMPWRIGHT_WORDS": "warm"}, timeout)


def test_it_gets_json_on_stdin_words_in_the_environment_and_arguments_as_they_are(
    tmp_path: Path,
) -> None:
    body = f'cat > "{tmp_path}/in"; echo "$AMPWRIGHT_WORDS|$1|$2|$#"'
    outcome = run(script(tmp_path, body))
    assert outcome == Outcome(True, "", "warm|--to|$(touch never) ; ann|2\n")
    assert json.loads((tmp_path / "in").read_text()) == {"words": "warm, 50 °C"}
    assert not (tmp_path / "never").exists()


def test_one_that_fails_says_its_status_and_its_words(tmp_path: Path) -> None:
    outcome = run(script(tmp_path, "echo no route >&2; exit 7"))
    assert not outcome.done
    assert outcome.reason.endswith("tell me ended with status 7")
    assert outcome.output == "no route\n"


def test_one_that_is_missing_or_may_not_run(tmp_path: Path) -> None:
    assert "cannot be run: No such file" in run((str(tmp_path / "none"),)).reason
    plain = tmp_path / "plain"
    plain.write_text("#!/bin/sh\n")
    assert "cannot be run: Permission denied" in run((str(plain),)).reason


def test_one_that_dies_says_of_what(tmp_path: Path) -> None:
    assert run(script(tmp_path, "kill -SEGV $$")).reason.endswith("was ended by SIGSEGV")


def test_one_that_hangs_is_ended_with_its_children(tmp_path: Path) -> None:
    body = f'sleep 300 & echo $! > "{tmp_path}/child"; wait'
    before = time.monotonic()
    outcome = run(script(tmp_path, body), timeout=0.5)
    assert outcome.reason.endswith("took over 0.5 s")
    assert time.monotonic() - before < 5.0
    child = int((tmp_path / "child").read_text())
    until = time.monotonic() + 5.0
    while _alive(child):
        assert time.monotonic() < until, "the child lives on"


def _alive(pid: int) -> bool:
    try:
        stat = Path(f"/proc/{pid}/stat").read_text()
    except OSError:
        return False
    return stat.rpartition(")")[2].split()[0] != "Z"


def test_one_that_never_stops_talking_is_cut_and_ended(tmp_path: Path) -> None:
    outcome = run(script(tmp_path, "yes"), timeout=0.5)
    assert outcome.reason.endswith("took over 0.5 s")
    assert len(outcome.output) == OUTPUT_BYTES


def test_one_that_listens_to_nothing_or_closes_its_output(tmp_path: Path) -> None:
    assert run(script(tmp_path, "exec <&-; exit 0")).done
    closed = run(script(tmp_path, "exec >&- 2>&-; sleep 300"), timeout=0.5)
    assert closed.reason.endswith("took over 0.5 s")


def test_a_long_message_to_one_that_does_not_read_is_no_hang(tmp_path: Path) -> None:
    message = {"words": "x" * 300_000}
    assert run_command(script(tmp_path, "exit 0"), message, {}, 10.0).done


def test_a_child_left_behind_with_the_output_open_holds_nobody_up(tmp_path: Path) -> None:
    before = time.monotonic()
    outcome = run(script(tmp_path, f'sleep 30 & echo $! > "{tmp_path}/child"; echo sent'))
    assert outcome == Outcome(True, "", "sent\n")
    assert time.monotonic() - before < 5.0
    os.kill(int((tmp_path / "child").read_text()), 9)


def test_stopping_the_program_ends_it(tmp_path: Path) -> None:
    outcome = run_command(script(tmp_path, "sleep 300"), {}, {}, 60.0, lambda: True)
    assert outcome.reason.endswith("was ended: the program stops")


def test_the_log_is_turned_over_and_never_grows_on(tmp_path: Path) -> None:
    log = tmp_path / "command.log"
    outcome = Outcome(False, "tell ended with status 1", "x" * OUTPUT_BYTES)
    for _ in range(3 * LOG_BYTES // OUTPUT_BYTES):
        log_run(log, "2026-06-11T05:00:00+00:00", "alarm house:bank-hot", outcome)
    sizes = [path.stat().st_size for path in sorted(tmp_path.iterdir())]
    assert len(sizes) == 2
    assert max(sizes) < LOG_BYTES + 2 * OUTPUT_BYTES
    first = log.read_text().splitlines()[0]
    assert first == "2026-06-11T05:00:00+00:00 alarm house:bank-hot: tell ended with status 1"


def test_a_log_that_cannot_be_written_is_no_failure(tmp_path: Path) -> None:
    log_run(tmp_path / "none" / "command.log", "now", "test", Outcome(True, "", ""))
