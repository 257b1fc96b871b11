"""The very first start, as a stranger lives it: cautions, a typing error, a wrong port, the plug.

In a real terminal, on a real device: a person who has never run the program reads the safety
cautions before anything else, is told in one line what is wrong with a configuration, and is shown
a device that is not there as not there, until it is.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from monitor.words.texts import CAUTIONS_HEADING
from tests.wire.bench_process import AMPWRIGHT, BenchProcess
from tests.wire.known import WINCH
from tests.wire.tmux import Terminal, has_large, needs_tmux
from tests.wire.waiting import BACK_SECONDS, SEEN_SECONDS, START_SECONDS, until

pytestmark = needs_tmux


class Stranger:
    """A person with one device, a configuration of it, and nothing of the program at home yet."""

    def __init__(self, folder: Path, device: BenchProcess) -> None:
        self.folder = folder
        self.device = device
        (folder / f"{WINCH.device}.toml").write_text(WINCH.description, encoding="utf-8")
        self.config = self.write("coach.toml", self.words())

    @property
    def environment(self) -> dict[str, str]:
        return {
            "TZ": "UTC",
            "HOME": str(self.folder),
            "XDG_STATE_HOME": str(self.folder / "state"),
            "XDG_CONFIG_HOME": str(self.folder / "config"),
        }

    def words(self) -> str:
        device = self.device.config(WINCH.device, f"{WINCH.device}.toml", WINCH.bank)
        return f"{WINCH.config}{device}"

    def write(self, name: str, words: str) -> Path:
        path = self.folder / name
        path.write_text(words, encoding="utf-8")
        return path


@pytest.fixture(scope="module")
def device(tmp_path_factory: pytest.TempPathFactory) -> Iterator[BenchProcess]:
    device = BenchProcess.of(WINCH, tmp_path_factory.mktemp("device"))
    device.start()
    yield device
    device.end()


@pytest.fixture
def stranger(tmp_path: Path, device: BenchProcess) -> Stranger:
    device.start_again()
    return Stranger(tmp_path, device)


def test_cautions_come_first_and_only_once(stranger: Stranger) -> None:
    """No figure before they are read; left unread they come again, once read they do not."""
    watch = (AMPWRIGHT, "watch", "--config", stranger.config)
    with Terminal(40, 15, stranger.environment) as terminal:
        terminal.run(*watch)
        seen = terminal.until(CAUTIONS_HEADING, START_SECONDS, "y I read this", "Measure it")
        assert WINCH.volts not in seen
        until(lambda: turned(terminal, "Local codes"), SEEN_SECONDS, "the last page", terminal.text)
        terminal.type("q")
        assert terminal.status() == 0
        terminal.resize(80, 24)
        terminal.run(*watch)
        terminal.until(CAUTIONS_HEADING, START_SECONDS, "y I read this")
        terminal.type("y")
        seen = terminal.until(WINCH.volts, START_SECONDS, WINCH.celsius)
        assert CAUTIONS_HEADING not in seen
        terminal.type("q")
        assert terminal.status() == 0
        terminal.run(*watch)
        terminal.until_large(WINCH.amps_large, START_SECONDS)
        assert CAUTIONS_HEADING not in terminal.text()
        terminal.type("q")
        assert terminal.status() == 0


def turned(terminal: Terminal, words: str) -> bool:
    """Whether the page has these words; turns to the next one where not, as a reader does."""
    if words in terminal.text():
        return True
    terminal.type("n")
    return False


def test_a_typing_error_is_told_in_one_line(stranger: Stranger) -> None:
    """What is wrong, in which line, what would be right; the screen is never opened."""
    wrong = stranger.write("wrong.toml", stranger.words().replace("chemistry", "chemistri"))
    with Terminal(240, 10, stranger.environment) as terminal:
        terminal.run(AMPWRIGHT, "watch", "--config", wrong)
        terminal.until("status=2", START_SECONDS)
        assert terminal.status() == 2
        told = [line for line in terminal.rows() if line.startswith("ampwright: ")]
    assert len(told) == 1
    assert re.search(r'wrong\.toml:\d+: .*"chemistri"; did you mean "chemistry"\?', told[0])


def test_a_device_that_is_not_there_at_first(stranger: Stranger) -> None:
    """Nothing is invented for it, the alarm names what to do, and it goes live by itself."""
    stranger.device.kill()
    with Terminal(80, 24, stranger.environment) as terminal:
        terminal.run(AMPWRIGHT, "watch", "--config", stranger.config)
        terminal.until(CAUTIONS_HEADING, START_SECONDS)
        terminal.type("y")
        seen = terminal.until(
            "Device silent", START_SECONDS, "Stage not known yet", "ampwright check"
        )
        assert has_large(seen, "--"), seen
        assert " V" not in seen
        stranger.device.start()
        # What was wrong and is over stays on the first line until a person has seen it.
        terminal.until(WINCH.volts, BACK_SECONDS, WINCH.celsius, "over, unseen")
        terminal.until_large(WINCH.amps_large)
        stranger.device.kill()
        seen = terminal.until("Stage not known now", BACK_SECONDS, "No reading")
        assert WINCH.volts not in seen
        assert not has_large(seen, WINCH.amps_large), seen
        terminal.type("q")
        assert terminal.status() == 0
