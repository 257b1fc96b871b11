"""The command line as a whole: quick to start, one line for any mistake, quiet when cut off."""

from __future__ import annotations

import shlex
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from monitor import cli
from monitor.commands import demo
from tests.monitor.recordings import BANK_TOML, shipped_path, small_capture

PROGRAM = [sys.executable, "-m", "monitor.cli"]


def run(*words: str, **options: object) -> subprocess.CompletedProcess[str]:
    return subprocess.run(  # type: ignore[call-overload, no-any-return]
        [*PROGRAM, *words], capture_output=True, text=True, timeout=60, check=False, **options
    )


def test_version_says_where_it_is_installed(capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["--version"]) == 0
    out = capsys.readouterr().out
    assert out.startswith("ampwright ")
    assert str(Path(cli.__file__).parents[1]) in out


def test_help_names_every_command(capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main([]) == 0
    out = capsys.readouterr().out
    listed = {line.split()[0] for line in out.splitlines() if line.startswith("    ")}
    assert listed >= set(cli.COMMANDS)


@pytest.mark.parametrize("command", cli.COMMANDS)
def test_every_command_has_help(command: str, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as ended:
        cli.main([command, "--help"])
    assert ended.value.code == 0
    assert f"usage: ampwright {command}" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["wach"], 'did you mean "watch"'),
        (["quux"], "one of watch, now"),
        (["--frob"], "--frob"),
        (["replay"], "CAPTURE-OR-CSV"),
        (["replay", "x", "--rate", "0"], "above 0"),
        (["replay", "x", "--rate", "fast"], "'fast'"),
        (["replay", "x", "--columns", "v_bank"], "OURS=THEIRS"),
        (["record", "x", "--for", "-3"], "seconds above 0"),
        (["capture"], "ACTION"),
        (["capture", "mend"], "mend"),
    ],
)
def test_a_mistake_in_the_words_is_one_line(
    words: list[str], says: str, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit) as ended:
        cli.main(words)
    assert ended.value.code == 2
    error = capsys.readouterr().err
    assert error.count("\n") == 1
    assert says in error


def test_durations_are_read_with_their_unit() -> None:
    from monitor.commands.options import seconds

    assert [seconds(text) for text in ("90", "1.5m", "8h", "10s")] == [90.0, 90.0, 28800.0, 10.0]


def test_starting_costs_no_screen_and_no_wire() -> None:
    """What `now` and `--help` import decides how quick they are on a small board."""
    code = (
        "import sys; from monitor import cli; cli.main([]); import monitor.commands.now, "
        "monitor.commands.watch, monitor.commands.replay, monitor.live; "
        "heavy = {'textual', 'rich', 'serial', 'pymodbus', 'numpy'} & set(sys.modules); "
        "sys.exit(', '.join(heavy) or None)"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, timeout=60, check=False
    )
    assert done.stderr == ""
    assert done.returncode == 0


def test_a_fault_of_ours_is_one_line_too(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def broken(_: object) -> int:
        raise ZeroDivisionError("of the program")

    monkeypatch.setattr(demo, "run", broken)
    assert cli.main(["demo"]) == cli.OUR_FAULT
    error = capsys.readouterr().err
    assert error.count("\n") == 1
    assert "ZeroDivisionError" in error
    assert "test_cli_main.py:" in error


def test_an_interrupt_is_quiet(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def interrupted(_: object) -> int:
        raise KeyboardInterrupt

    monkeypatch.setattr(demo, "run", interrupted)
    assert cli.main(["demo"]) == 130
    assert capsys.readouterr().err == ""


def test_a_reader_that_goes_away_is_no_error(tmp_path: Path) -> None:
    capture = small_capture(tmp_path, 600)
    program = shlex.join(
        [sys.executable, "-m", "monitor.cli", "replay", str(capture), "--table", "-"]
    )
    done = subprocess.run(
        ["bash", "-c", f"set -o pipefail; {program} | head -1"],
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert done.stdout.startswith("t_s,stage,soc")
    assert "Traceback" not in done.stderr
    assert "Error" not in done.stderr
    assert done.returncode == 0


def test_control_c_ends_watching_cleanly(tmp_path: Path) -> None:
    config = tmp_path / "coach.toml"
    config.write_text(
        f'{BANK_TOML}[devices.shunt]\nadapter = "replay"\ncapture = "{shipped_path()}"\n'
        'device = "shunt"\nrate = 60\n'
    )
    capture = tmp_path / "run.capture"
    process = subprocess.Popen(
        [*PROGRAM, "watch", "--plain", "--config", str(config), "--capture", str(capture)],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    assert process.stdout is not None
    first = process.stdout.readline()
    deadline = time.monotonic() + 30.0
    while capture.stat().st_size < 200 and time.monotonic() < deadline:
        time.sleep(0.05)
    process.send_signal(signal.SIGINT)
    _, error = process.communicate(timeout=30)
    assert first
    assert error == ""
    assert process.returncode == 0
    assert run("capture", "verify", str(capture)).returncode == 0


def test_the_demonstration_ends_by_itself_without_a_terminal(tmp_path: Path) -> None:
    done = run("demo", "highfell", stdin=subprocess.DEVNULL, cwd=tmp_path)
    assert done.returncode == 0
    assert done.stderr == ""
    lines = done.stdout.splitlines()
    assert len(lines) > 20
    assert any("absorption" in line for line in lines)
    assert list(tmp_path.iterdir()) == []


def test_the_demonstrations_are_listed(capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["demo", "--list"]) == 0
    names = [line.split(":")[0] for line in capsys.readouterr().out.splitlines()]
    assert names[0] == demo.DEFAULT
    assert len(names) >= 3
    assert cli.main(["demo", "nowhere"]) == 2
    assert "pinewater" in capsys.readouterr().err
