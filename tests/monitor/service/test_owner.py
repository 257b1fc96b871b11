"""One owner of the devices: the second is told, and a killed one leaves nothing behind."""

from __future__ import annotations

import fcntl
import os
import subprocess
import sys
from pathlib import Path

import pytest

from monitor.mishaps import Refusal
from monitor.service import places
from monitor.service.owner import owner_of, owning
from monitor.service.places import folders, own_folder

HOLD = """\
import sys
from monitor.service.owner import owning
with owning(sys.argv[1], "serve", "/run/there/socket"):
    print("held", flush=True)
    sys.stdin.read()
"""


@pytest.fixture
def config(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(tmp_path / "run"))
    return tmp_path / "coach.toml"


def test_the_second_is_told_who_and_how_to_attach(config: Path) -> None:
    assert owner_of(config) is None
    with owning(str(config), "serve", "/run/there/socket"):
        owner = owner_of(config)
        assert owner is not None
        assert (owner.pid, owner.command) == (os.getpid(), "serve")
        with pytest.raises(Refusal) as caught, owning(str(config), "watch"):
            pass
        words = str(caught.value)
        assert f"process {os.getpid()} (serve) since " in words
        assert "ampwright watch --socket /run/there/socket" in words
        with owning(str(config.with_name("other.toml")), "watch"):
            pass
    assert owner_of(config) is None
    with owning(str(config), "watch"), pytest.raises(Refusal, match="end that one first"):  # noqa: SIM117
        with owning(str(config), "record"):
            pass


def test_an_owner_that_ends_leaves_no_file(config: Path) -> None:
    with owning(str(config), "watch"):
        (file,) = own_folder().glob("*.owner")
    assert not file.exists()
    assert list(own_folder().iterdir()) == []


def test_a_file_that_lost_its_name_while_it_was_locked_guards_nothing(
    config: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The first owner ends between the second's opening and its lock."""
    lock, once = fcntl.flock, []

    def late(handle: int, how: int) -> None:
        if how & fcntl.LOCK_EX and not once:
            once.append(True)
            for file in own_folder().glob("*.owner"):
                file.unlink()
        lock(handle, how)

    monkeypatch.setattr(fcntl, "flock", late)
    with owning(str(config), "serve"):
        assert once
        assert owner_of(config) is not None


def test_the_same_file_by_another_way_is_the_same(config: Path) -> None:
    config.touch()
    config.with_name("way").symlink_to(config)
    with owning(str(config), "serve"):
        assert owner_of(config.with_name("way")) is not None


def test_a_killed_owner_leaves_nothing_that_is_in_the_way(config: Path) -> None:
    held = subprocess.Popen(
        [sys.executable, "-c", HOLD, str(config)], stdin=subprocess.PIPE, stdout=subprocess.PIPE
    )
    assert held.stdout is not None
    assert held.stdout.readline() == b"held\n"
    owner = owner_of(config)
    assert owner is not None
    assert owner.pid == held.pid
    held.kill()
    held.communicate()
    assert owner_of(config) is None
    with owning(str(config), "watch"):
        pass


def test_where_no_note_can_be_made_nothing_is_in_the_way(
    config: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    config.write_text("a file, and no folder can be made below it")
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(config))
    with owning(str(config), "watch"):
        pass


def test_where_things_are_at_run_time() -> None:
    assert own_folder({"RUNTIME_DIRECTORY": "/run/a:/run/b", "XDG_RUNTIME_DIR": "/u"}, 7) == Path(
        "/run/a"
    )
    assert own_folder({"XDG_RUNTIME_DIR": "/run/user/7"}, 7) == Path("/run/user/7/ampwright")
    assert own_folder({}, 0) == places.SYSTEM_FOLDER
    assert own_folder({}, 7) == Path("/tmp/ampwright-7")
    assert folders({"XDG_RUNTIME_DIR": "/u"}) == (Path("/u/ampwright"), places.SYSTEM_FOLDER)
