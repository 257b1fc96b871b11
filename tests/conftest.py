"""What holds for every test: nothing of this machine's own services is seen or touched."""

from __future__ import annotations

import gc
import os
import shutil
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest

from monitor.service import places
from tests.wire.coach import Coach, coach_in

# Six thousand tests keep millions of objects that nothing frees, and looking through them again and
# again took a tenth of the time. What a test measures of memory it collects for itself.
gc.set_threshold(200_000, 20, 100)


@pytest.fixture(scope="session", autouse=True)
def runtime_folder() -> Iterator[str]:
    """Sockets and notes of owners go to a folder of the test run; its path is short, as that of a
    socket must be. No service of this machine is found beside them."""
    folder = tempfile.mkdtemp(prefix="aw-")
    before = os.environ.get("XDG_RUNTIME_DIR")
    os.environ["XDG_RUNTIME_DIR"] = folder
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(places, "SYSTEM_FOLDER", Path(folder) / "system")
        yield folder
    if before is None:
        del os.environ["XDG_RUNTIME_DIR"]
    else:
        os.environ["XDG_RUNTIME_DIR"] = before
    shutil.rmtree(folder, ignore_errors=True)


@pytest.fixture(scope="session")
def wired_coach(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Coach]:
    """Devices on real wires, each a process of its own; started once, for they start slowly."""
    coach = coach_in(tmp_path_factory.mktemp("coach"))
    yield coach
    coach.end()


@pytest.fixture
def coach(wired_coach: Coach) -> Coach:
    """The same, alive and unfrozen, whatever the test before did to them."""
    wired_coach.all_running()
    return wired_coach
