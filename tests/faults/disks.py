"""Small disks of our own for faults: a tmpfs, and an ext4 in a file. Root, mount and loop devices
are needed; `Skipped` says what is missing."""

from __future__ import annotations

import contextlib
import os
import shutil
import subprocess
from collections.abc import Iterator
from pathlib import Path

from tests.faults.result import Skipped


def _run(*words: object) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [str(word) for word in words], capture_output=True, text=True, check=False
    )


def _need(*tools: str) -> None:
    if os.geteuid() != 0:
        raise Skipped("only root can mount")
    for tool in tools:
        if shutil.which(tool) is None and not Path("/usr/sbin", tool).exists():
            raise Skipped(f"no {tool} on this machine")


@contextlib.contextmanager
def tmpfs(where: Path, kilobytes: int) -> Iterator[Path]:
    _need("mount", "umount")
    where.mkdir(parents=True)
    made = _run("mount", "-t", "tmpfs", "-o", f"size={kilobytes}k", "none", where)
    if made.returncode:
        raise Skipped("this machine lets nobody mount a tmpfs")
    try:
        yield where
    finally:
        _run("umount", "-l", where)


@contextlib.contextmanager
def ext4(folder: Path, name: str = "disk", megabytes: int = 24) -> Iterator[tuple[Path, Path]]:
    """The file that is the disk, and where it is mounted."""
    _need("mount", "umount", "mkfs.ext4", "losetup")
    image = folder / f"{name}.img"
    with image.open("wb") as file:
        file.truncate(megabytes * 1_000_000)
    made = _run("mkfs.ext4", "-q", "-F", "-b", "4096", image)
    if made.returncode:
        raise Skipped("mkfs.ext4 refused")
    with mounted(image, folder / name) as where:
        yield image, where


@contextlib.contextmanager
def mounted(image: Path, where: Path) -> Iterator[Path]:
    """The journal is played back as after a power cut."""
    where.mkdir(parents=True, exist_ok=True)
    if _run("mount", "-o", "loop", image, where).returncode:
        raise Skipped("this machine has no loop devices")
    try:
        yield where
    finally:
        if _run("umount", where).returncode:
            _run("umount", "-l", where)


def abort(where: Path) -> None:
    """What ext4 does when a card fails: from now on it can only be read."""
    if _run("mount", "-o", "remount,abort", where).returncode:
        raise Skipped("this ext4 cannot be made to fail")
