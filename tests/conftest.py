"""What holds for every test: nothing of this machine's own services is seen or touched."""

from __future__ import annotations

import gc
import os
import shutil
import tempfile
from collections.abc import Iterator

import pytest

# Six thousand tests keep millions of objects that nothing frees, and looking through them again and
# again took a tenth of the time. What a test measures of memory it collects for itself.
gc.set_threshold(200_000, 20, 100)


@pytest.fixture(scope="session", autouse=True)
def runtime_folder() -> Iterator[str]:
    """Sockets and notes of owners go to a folder of the test run; its path is short, as that of a
    socket must be."""
    folder = tempfile.mkdtemp(prefix="aw-")
    before = os.environ.get("XDG_RUNTIME_DIR")
    os.environ["XDG_RUNTIME_DIR"] = folder
    yield folder
    if before is None:
        del os.environ["XDG_RUNTIME_DIR"]
    else:
        os.environ["XDG_RUNTIME_DIR"] = before
    shutil.rmtree(folder, ignore_errors=True)
