"""What was acknowledged survives: the writer killed at any moment, a disk that is full.

The writer runs in a process of its own and prints the number of every acknowledged row; whatever
happens to it, the file must hold all of those and nothing that was never written.
"""

from __future__ import annotations

import os
import random
import shutil
import subprocess
import sys
import textwrap
from collections.abc import Iterator
from pathlib import Path

import pytest

from replay import writer as writer_module
from replay.capture import open_capture, repair, verify
from tests.replay.values import reading

_ROOT = Path(__file__).parents[2]

_WRITER = """
import itertools, sys
from replay.capture import CaptureWriter, Header
from tests.replay.values import reading
writer = CaptureWriter(sys.argv[1], Header(config="x" * 500), commit_seconds=7.0)
for number in itertools.count():
    writer.append(reading(float(number), 12.0 + number / 1000))
    if number % 23 == 0:
        writer.commit()
    if not writer.waiting:
        print(number, flush=True)
"""

_FULL = """
import resource, signal, sys
from replay.capture import CaptureWriter, Header, open_capture
from tests.replay.values import reading
path, limit = sys.argv[1], int(sys.argv[2])
writer = CaptureWriter(path, Header())
if limit:
    resource.setrlimit(resource.RLIMIT_FSIZE, (limit, resource.RLIM_INFINITY))
acknowledged = number = 0
while writer.trouble is None:
    writer.append(reading(float(number), 12.0 + number / 1000))
    number += 1
    if not writer.waiting:
        acknowledged = number
    assert number < 100_000
print(acknowledged, writer.waiting, writer.trouble, sep="|")
if len(sys.argv) > 3:
    resource.setrlimit(resource.RLIMIT_FSIZE, (resource.RLIM_INFINITY, resource.RLIM_INFINITY))
closing = writer.close()
assert closing == writer.close()
print(closing.written, closing.lost, closing.trouble, sep="|")
"""


class Disk:
    """Remembers every write and what was certainly on disk, to make up what a power cut leaves.

    Until the next sync, any 512 byte sectors of a write may be on disk and any others not, in no
    order: what a disk promises is no more than that.
    """

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.certain = bytearray()
        self.pending: list[tuple[int, bytes]] = []
        self._pwrite, self._sync = os.pwrite, writer_module._put_on_disk
        monkeypatch.setattr(os, "pwrite", self.write)
        monkeypatch.setattr(writer_module, "_put_on_disk", self.sync)

    def write(self, file: int, data: bytes, offset: int) -> int:
        for at in range(0, len(data), 512):
            self.pending.append((offset + at, bytes(data[at : at + 512])))
        return self._pwrite(file, data, offset)

    def sync(self, file: int) -> None:
        self._sync(file)
        self.certain = self._with(self.pending)
        self.pending = []

    def after_power_cut(self, chance: random.Random) -> bytes:
        return bytes(self._with([w for w in self.pending if chance.random() < 0.5]))

    def _with(self, writes: list[tuple[int, bytes]]) -> bytearray:
        image = bytearray(self.certain)
        for at, data in writes:
            image.extend(bytes(max(0, at + len(data) - len(image))))
            image[at : at + len(data)] = data
        return image


def test_a_power_cut_takes_only_what_was_not_acknowledged(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    disk = Disk(monkeypatch)
    chance = random.Random(3)
    writer = writer_module.CaptureWriter(tmp_path / "a.capture", writer_module.Header(), 20.0)
    image = tmp_path / "after.capture"
    written, acknowledged, cuts = [], 0, 0

    def cut() -> None:
        nonlocal cuts
        image.write_bytes(disk.after_power_cut(chance))
        found = list(open_capture(image).inputs())
        remaining = iter(written)
        assert all(value in remaining for value in found), "a row that was never written"
        assert found[:acknowledged] == written[:acknowledged]
        cuts += 1

    sync = writer_module._put_on_disk

    def cut_before(file: int) -> None:
        cut()
        sync(file)

    monkeypatch.setattr(writer_module, "_put_on_disk", cut_before)
    for at in range(300):
        written.append(reading(float(at), 12.0 + at / 1000))
        writer.append(written[-1])
        if not writer.waiting:
            acknowledged = len(written)
            cut()
    assert acknowledged > 250
    assert cuts > 20


def _python(code: str, *arguments: str) -> list[str]:
    return [sys.executable, "-c", textwrap.dedent(code), *arguments]


@pytest.mark.parametrize("seed", range(6))
def test_killed_writer_loses_nothing_acknowledged(tmp_path: Path, seed: int) -> None:
    path = tmp_path / "a.capture"
    stop_after = random.Random(seed).randrange(1, 120)
    with subprocess.Popen(
        _python(_WRITER, str(path)), stdout=subprocess.PIPE, text=True, cwd=_ROOT
    ) as writer:
        assert writer.stdout is not None
        acknowledged = [int(next(writer.stdout)) for _ in range(stop_after)]
        writer.kill()
        acknowledged += [int(line) for line in writer.stdout if line.endswith("\n")]
    found = list(open_capture(path).inputs())
    assert len(found) > acknowledged[-1]
    assert found == [reading(float(at), 12.0 + at / 1000) for at in range(len(found))]
    saved = repair(path, tmp_path / "saved.capture")
    assert verify(saved.out).sound
    assert list(open_capture(saved.out).inputs()) == found


def _run_full(path: Path, limit: int, *more: str) -> tuple[list[str], list[str]]:
    done = subprocess.run(
        _python(_FULL, str(path), str(limit), *more),
        capture_output=True,
        text=True,
        cwd=_ROOT,
        timeout=60,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    full, closed = done.stdout.splitlines()
    return full.split("|"), closed.split("|")


def _check_full(path: Path, full: list[str], closed: list[str]) -> None:
    acknowledged, waiting = int(full[0]), int(full[1])
    assert acknowledged > 100
    assert waiting > 0
    assert closed[:2] == [str(acknowledged), str(waiting)]
    assert f"{waiting} rows were not written" in closed[2]
    assert list(open_capture(path).inputs()) == [
        reading(float(at), 12.0 + at / 1000) for at in range(acknowledged)
    ]
    assert verify(path).sound


def test_file_that_may_not_grow_keeps_what_was_acknowledged(tmp_path: Path) -> None:
    path = tmp_path / "a.capture"
    full, closed = _run_full(path, 40_000)
    _check_full(path, full, closed)
    assert "begin a new capture" in full[2]


def test_rows_that_waited_are_written_when_there_is_room_again(tmp_path: Path) -> None:
    path = tmp_path / "a.capture"
    full, closed = _run_full(path, 40_000, "then make room")
    acknowledged, waiting = int(full[0]), int(full[1])
    assert closed == [str(acknowledged + waiting), "0", "None"]
    assert len(list(open_capture(path).inputs())) == acknowledged + waiting
    assert verify(path).sound


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    where = tmp_path / "disk"
    where.mkdir()
    mount = shutil.which("mount")
    if os.geteuid() != 0 or mount is None:
        pytest.skip("only root can mount a small disk")
    made = subprocess.run(
        [mount, "-t", "tmpfs", "-o", "size=64k", "none", str(where)],
        capture_output=True,
        check=False,
    )
    if made.returncode:
        pytest.skip("this machine lets nobody mount a small disk")
    yield where
    subprocess.run(["umount", str(where)], check=True)


def test_full_disk_keeps_what_was_acknowledged(small_disk: Path) -> None:
    path = small_disk / "a.capture"
    full, closed = _run_full(path, 0)
    _check_full(path, full, closed)
    assert "free some space" in full[2]


def test_long_refusal_drops_the_oldest_rows_and_says_how_many(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(writer_module, "LONGEST_BACKLOG", 20_000)
    path = tmp_path / "a.capture"
    writer = writer_module.CaptureWriter(path, writer_module.Header())
    for at in range(50):
        writer.append(reading(float(at), 12.0))
    assert writer.commit()

    def refuse(*_: object) -> int:
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as broken:
        broken.setattr(os, "pwrite", refuse)
        for at in range(50, 1050):
            writer.append(reading(float(at), 12.0))
        assert writer.trouble is not None
        assert "No space left on device" in writer.trouble
        dropped = writer.dropped
        assert 0 < dropped < 1000
    assert writer.commit()
    assert writer.trouble is None
    closing = writer.close()
    assert (closing.written, closing.lost) == (1050 - dropped, dropped)
    assert closing.trouble is not None
    assert f"{dropped} rows were not written" in closing.trouble
    capture = open_capture(path)
    times = [value.seconds for value in capture.inputs()]
    assert times == [float(at) for at in range(1050) if not 50 <= at < 50 + dropped]
    assert capture.problems.missing == dropped
