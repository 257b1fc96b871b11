"""The figures before the screen: within the terminal, nothing left behind, never invented."""

from __future__ import annotations

import gc
import io
import os
import re
import signal
from pathlib import Path

import pytest

from monitor.commands.at_once import figures, first_figures, first_lines, loading, waiting_for
from monitor.config import load_config
from monitor.mishaps import Refusal
from monitor.plain import now_text
from monitor.recorded import open_recorded
from monitor.words.texts import OPENING
from tests.monitor.dashboard.fake_feed import NORMAL, FakeFeed
from tests.monitor.dashboard.pseudo_terminal import terminal
from tests.monitor.dashboard.screen_text import running
from tests.monitor.dashboard.test_deaf_terminal import coach, homes
from tests.monitor.recordings import shipped_path

ENTER, LEAVE = "\x1b[?1049h", "\x1b[?1049l"
CLEAR = "\x1b[H\x1b[2J"


class Screen(io.StringIO):
    """A terminal that takes everything."""

    def isatty(self) -> bool:
        return True


def shown(columns: int, rows: int) -> list[str]:
    out = Screen()
    with first_lines(out, os.terminal_size((columns, rows))) as lines:
        lines.say(figures(NORMAL))
        lines.give_over()
    return out.getvalue().removeprefix(ENTER + CLEAR).split("\r\n")


def test_it_says_what_now_says() -> None:
    said = now_text(NORMAL).splitlines()
    assert any("V" in line for line in said)
    assert shown(80, 24) == [*said, "", OPENING]
    assert shown(0, 0) == shown(80, 24)  # no size is told


def test_nothing_is_drawn_beyond_the_terminal() -> None:
    lines = shown(20, 4)
    assert len(lines) == 4
    assert max(len(line) for line in lines) == 20


def test_later_lines_take_the_place_of_earlier_ones() -> None:
    out = Screen()
    with first_lines(out, os.terminal_size((80, 24))) as lines:
        lines.say("first")
        lines.say("second")
        lines.give_over()
    parts = out.getvalue().split(CLEAR)
    assert parts[0] == ENTER
    assert [part.split("\r\n")[0] for part in parts[1:]] == ["first", "second"]


def test_the_terminal_is_given_back_where_no_screen_comes() -> None:
    out = Screen()

    def refuse() -> None:
        with first_lines(out, os.terminal_size((80, 24))) as lines:
            lines.say("house")
            raise Refusal("--theme: expected dark")

    with pytest.raises(Refusal):
        refuse()
    assert out.getvalue().endswith(LEAVE)


def test_the_screen_that_came_is_left_alone() -> None:
    out = Screen()
    with first_lines(out, os.terminal_size((80, 24))) as lines:
        lines.say("house")
        lines.give_over()
    assert LEAVE not in out.getvalue()


def test_where_there_is_no_terminal_nothing_is_said() -> None:
    out = io.StringIO()
    with first_lines(out) as lines:
        lines.say("house")
    assert out.getvalue() == ""


def test_told_to_end_before_the_screen_came_it_gives_the_terminal_back() -> None:
    out, before = Screen(), signal.getsignal(signal.SIGTERM)

    def be_told() -> None:
        with first_lines(out, os.terminal_size((9, 9))) as lines:
            lines.say("house")
            signal.raise_signal(signal.SIGTERM)

    with pytest.raises(SystemExit) as left:
        be_told()
    assert left.value.code == 128 + signal.SIGTERM
    assert out.getvalue().endswith(LEAVE)
    assert signal.getsignal(signal.SIGTERM) is before


def test_garbage_is_looked_for_again_once_all_is_loaded() -> None:
    assert gc.isenabled()
    with loading():
        with loading():
            assert not gc.isenabled()
        assert not gc.isenabled(), "what is within another ends with it"
    assert gc.isenabled()


async def test_and_by_a_screen_that_stands() -> None:
    with loading():
        async with running(FakeFeed()):
            assert gc.isenabled()


def test_the_first_figures_of_a_recording_are_its_own() -> None:
    """Every device was heard, and the first reading of the shunt stands there as recorded."""
    recorded = open_recorded(shipped_path())
    look = first_figures(recorded)
    assert all(link.up for link in look.links)
    assert 0.0 <= look.seconds - recorded.recording.start <= 30.0
    first = next(v for v in recorded.recording.inputs() if getattr(v, "values", ()))
    told = {round(figure, 2) for _, figure in first.values if isinstance(figure, float)}  # type: ignore[union-attr]
    assert round(look.banks[0].volts.figure or 0.0, 2) in told


def test_devices_that_have_not_spoken_are_waited_for(tmp_path: Path) -> None:
    assert waiting_for(load_config(coach(tmp_path))) == "house: waiting for shunt"


def first_bytes(folder: Path, *words: str, size: tuple[int, int] = (80, 24)) -> tuple[str, str]:
    """What stands on the terminal before the toolkit takes it over, and all that follows."""
    with terminal(folder, module=["monitor.cli", *words], size=size, **homes(folder)) as board:
        sent = board.read(20, until=b"quit").decode()
        sent += board.read(0.5).decode()
        board.type(b"q")
        code, _, last = board.wait()
    assert code == 0
    before, taken, after = sent.removeprefix(ENTER).partition(ENTER)
    assert taken, "the screen never came"
    assert LEAVE not in before
    assert last.decode().count(LEAVE) == 1, "left once, by the toolkit"
    return before, after


def test_a_demo_shows_its_figures_first(tmp_path: Path) -> None:
    """And the first whole screen has them as well."""
    before, after = first_bytes(tmp_path, "demo", size=(40, 15))
    assert OPENING in before
    assert max(map(len, before.replace(CLEAR, "").split("\r\n"))) <= 40
    volts = re.search(r"\d\d\.\d\d V", before)
    assert volts
    assert "into the bank" in before
    assert volts[0] in after


def test_own_devices_are_named_before_they_speak(tmp_path: Path) -> None:
    config = str(coach(tmp_path))
    before, _ = first_bytes(tmp_path, "watch", "--config", config)
    assert before.count("house: waiting for shunt") == 2, "at once, and with what is known"
    assert not re.search(r"\d V", before), "no figure before a device spoke"


def test_an_error_stands_on_the_terminal_as_it_was(tmp_path: Path) -> None:
    module = ["monitor.cli", "demo", "--theme", "mauve"]
    with terminal(tmp_path, module=module, **homes(tmp_path)) as board:
        code, _, sent = board.wait()
    assert code == 2
    assert sent.decode().rpartition(LEAVE)[2].startswith("ampwright: --theme: expected one of")
