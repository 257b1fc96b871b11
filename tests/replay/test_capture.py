"""A capture gives back what went in, survives damage, and says what it lost."""

from __future__ import annotations

import gzip
import random
from pathlib import Path

import pytest

from adapters.adapter import Frame
from adapters.reading import Input, Tick
from replay.capture import (
    Capture,
    CaptureError,
    CaptureWriter,
    Header,
    compress,
    open_capture,
    repair,
    verify,
)
from replay.sealed_lines import seal
from tests.replay.values import evening, reading

HEADER = Header(
    config='[banks.house]\nchemistry = "agm"\n',
    descriptions={"shunt.toml": 'kind = "modbus"\n'},
    state={"version": 1, "soc": 0.1 + 0.2},
    software="0.1.0",
    wall_offset=1.7e9,
    title="an evening at the lake",
    origin="invented for a test",
)


def write(path: Path, values: list[Input], header: Header = HEADER) -> Path:
    writer = CaptureWriter(path, header)
    for value in values:
        writer.append(value)
    closing = writer.close()
    assert closing.written == len(values)
    assert closing.lost == 0
    assert closing.trouble is None
    return path


@pytest.fixture
def whole(tmp_path: Path) -> Path:
    return write(tmp_path / "a.capture", evening())


def test_inputs_and_frames_come_back_in_order(tmp_path: Path) -> None:
    path = tmp_path / "a.capture"
    writer = CaptureWriter(path, HEADER)
    frames = [Frame(float(at), "shunt", at % 2 == 0, bytes([at, 255])) for at in range(20)]
    for value, frame in zip(evening(20), frames, strict=False):
        writer.frame(frame)
        writer.append(value)
    writer.close()
    capture = open_capture(path)
    assert capture.header == HEADER
    assert list(capture.inputs()) == evening(20)[:20]
    assert list(capture.frames()) == frames
    assert capture.problems.lossless
    assert capture.problems.words() == ()


def test_compressed_capture_is_the_same_and_reproducible(whole: Path, tmp_path: Path) -> None:
    first = compress(whole, tmp_path / "one.capture.gz")
    second = compress(first, tmp_path / "two.capture.gz")
    assert first.read_bytes() == second.read_bytes()
    assert list(open_capture(first).inputs()) == evening()
    assert gzip.decompress(first.read_bytes()) == whole.read_bytes()
    for capture in (open_capture(first), open_capture(whole)):
        assert (capture.start, capture.end) == (0.0, evening()[-1].seconds)


def test_nothing_is_written_over(whole: Path, tmp_path: Path) -> None:
    before = whole.read_bytes()
    other = write(tmp_path / "b.capture", evening(3))
    for attempt in (
        lambda: CaptureWriter(whole, HEADER),
        lambda: repair(other, whole),
        lambda: compress(other, whole),
    ):
        with pytest.raises(CaptureError, match="exists already") as error:
            attempt()
        assert str(whole) in str(error.value)
    assert whole.read_bytes() == before


def test_rows_reach_the_disk_at_each_interval_and_on_demand(tmp_path: Path) -> None:
    path = tmp_path / "a.capture"
    writer = CaptureWriter(path, HEADER, commit_seconds=10.0)
    for at in range(10):
        writer.append(reading(float(at), 12.5))
    assert list(open_capture(path).inputs()) == []
    writer.append(reading(10.0, 12.5))
    assert len(list(open_capture(path).inputs())) == 11
    writer.append(reading(10.5, 12.6))
    assert writer.waiting == 1
    assert writer.commit()
    assert writer.waiting == 0
    assert len(list(open_capture(path).inputs())) == 12


def test_acknowledged_rows_survive_a_cut_at_any_byte(tmp_path: Path) -> None:
    """Cut anywhere in the last lines: every line that is whole is there, and no wrong one."""
    values = evening(40)
    data = write(tmp_path / "whole.capture", values).read_bytes()
    torn = tmp_path / "torn.capture"
    lines = data.splitlines(keepends=True)
    begin = len(data) - sum(len(line) for line in lines[-4:])
    for size in range(begin, len(data) + 1):
        torn.write_bytes(data[:size])
        capture = open_capture(torn)
        found = list(capture.inputs())
        # A line whose every byte but the line end is there proves itself too.
        entire = data[: size + 1].count(b"\n", 0, size + 1) - 1
        assert found == values[:entire], size
        partial = data[:size].rpartition(b"\n")[2]
        unfinished = 0 if size + 1 <= len(data) and data[size : size + 1] == b"\n" else len(partial)
        assert capture.problems.torn_bytes == unfinished


def test_no_wrong_row_is_accepted_after_a_flipped_bit(whole: Path, tmp_path: Path) -> None:
    data = whole.read_bytes()
    values = evening()
    header_bytes = data.index(b"\n") + 1
    chance = random.Random(7)
    bad = tmp_path / "bad.capture"
    for _ in range(200):
        at = chance.randrange(header_bytes, len(data))
        damaged = bytearray(data)
        damaged[at] ^= 1 << chance.randrange(8)
        bad.write_bytes(damaged)
        capture = open_capture(bad)
        found = list(capture.inputs())
        remaining = iter(values)
        assert all(value in remaining for value in found), "a row that was never written"
        assert len(values) - len(found) in (0, 1, 2)  # two where a line end was hit
        if len(found) < len(values):
            assert not capture.problems.lossless


def test_numbers_tell_of_missing_and_repeated_rows(whole: Path, tmp_path: Path) -> None:
    lines = whole.read_bytes().splitlines(keepends=True)
    other = tmp_path / "other.capture"
    other.write_bytes(b"".join(lines[:10] + lines[13:20] + lines[18:]))
    capture = open_capture(other)
    values = evening()
    assert list(capture.inputs()) == values[:9] + values[12:]
    assert capture.problems.missing == 3
    assert capture.problems.repeated == 2


def test_a_cut_gzip_gives_what_it_still_holds(whole: Path, tmp_path: Path) -> None:
    packed = compress(whole, tmp_path / "a.capture.gz")
    data = packed.read_bytes()
    packed.write_bytes(data[: len(data) * 3 // 4])
    capture = open_capture(packed)
    found = list(capture.inputs())
    assert found == evening()[: len(found)]
    assert len(found) > 50
    assert capture.problems.gzip_cut
    assert not verify(packed).sound


def test_verify_counts_and_finds_gaps(tmp_path: Path) -> None:
    path = write(
        tmp_path / "a.capture",
        [Tick(5.0), reading(6.0, 12.0), reading(100.0, 12.1), Tick(99.0), Tick(700.0)],
    )
    found = verify(path)
    assert found.sound
    assert found.counts["readings"] == 2
    assert found.counts["ticks"] == 3
    assert (found.first_seconds, found.last_seconds) == (5.0, 700.0)
    assert found.gaps == ((6.0, 100.0), (100.0, 700.0))
    words = "\n".join(found.words())
    assert "2 gaps" in words
    assert "600 s after 100.0 s" in words


def test_repair_saves_every_sound_row_and_notes_the_loss(whole: Path, tmp_path: Path) -> None:
    lines = whole.read_bytes().splitlines(keepends=True)
    damaged = tmp_path / "damaged.capture"
    damaged.write_bytes(b"".join([*lines[:30], b"\x00" * 40 + b"\n", *lines[31:]])[:-30])
    before = damaged.read_bytes()
    result = repair(damaged, tmp_path / "saved.capture.gz")
    values = evening()
    expected = values[:29] + values[30:-1]
    assert damaged.read_bytes() == before
    assert result.kept == len(expected)
    saved = open_capture(result.out)
    assert list(saved.inputs()) == expected
    check = verify(result.out)
    assert check.sound
    assert saved.header.config == HEADER.config
    assert len(saved.header.notes) == 1
    assert "1 damaged lines" in saved.header.notes[0]
    assert any("noted in the file: repaired" in line for line in check.words())


def test_repair_never_believes_a_damaged_header(whole: Path, tmp_path: Path) -> None:
    data = whole.read_bytes()
    assert data.count(b"agm") == 1
    whole.write_bytes(data.replace(b"agm", b"gel"))
    with pytest.raises(CaptureError, match=r"line 1: the header is damaged.*capture repair"):
        open_capture(whole)
    result = repair(whole, tmp_path / "saved.capture")
    assert not result.header_saved
    saved = open_capture(result.out)
    assert saved.header.config == ""
    assert "header was lost" in saved.header.notes[0]
    assert list(saved.inputs()) == evening()
    assert any("--bank" in line for line in result.words())


def _newer(path: Path, version: list[int]) -> Path:
    header = {"k": "header", "format": "ampwright-capture", "version": version, "mood": "blue"}
    row = {"k": "reading", "t": 1.0, "d": "shunt", "v": [["house", "bank_volts", 12.5]]}
    path.write_bytes(
        seal(0, header) + seal(1, {"k": "aurora", "t": 0.5, "x": [1]}) + seal(2, dict(row))
    )
    return path


def test_newer_minor_version_reads_what_it_knows(tmp_path: Path) -> None:
    path = _newer(tmp_path / "n.capture", [1, 9])
    capture = open_capture(path)
    assert [value.seconds for value in capture.inputs()] == [1.0]
    assert capture.problems.unknown == 1
    assert capture.problems.lossless
    saved = repair(path, tmp_path / "saved.capture")
    assert b"aurora" in saved.out.read_bytes(), "what newer software knows is kept"
    assert open_capture(saved.out).header.version == (1, 9)


def test_newer_major_version_is_one_clear_line(tmp_path: Path) -> None:
    path = _newer(tmp_path / "n.capture", [2, 0])
    for attempt in (open_capture, verify, lambda p: repair(p, tmp_path / "saved.capture")):
        with pytest.raises(CaptureError) as error:
            attempt(path)
        text = str(error.value)
        assert "2.0" in text
        assert "update" in text
        assert "\n" not in text
    assert not (tmp_path / "saved.capture").exists()


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", "is empty.*deleted"),
        (b"t_s,v_bank\n0,12\n", "line 1: not a capture, it begins with 't_s,v_bank'"),
        (b"\x00\xff" * 1000, "line 1: not a capture"),
        (b'{"n":0,"k":"header","form', "line 1: the header is damaged or cut short"),
        (gzip.compress(b"x" * 9, mtime=0)[:10], "cut short before its first line"),
        (seal(0, {"k": "tick", "t": 1.0}), "line 1: the first line is not the header"),
    ],
)
def test_files_that_are_no_capture_are_refused_in_one_line(
    tmp_path: Path, content: bytes, said: str
) -> None:
    path = tmp_path / "x.capture"
    path.write_bytes(content)
    with pytest.raises(CaptureError, match=said) as error:
        open_capture(path)
    assert str(error.value).startswith(str(path))
    assert "\n" not in str(error.value)


def test_paths_that_cannot_be_used_are_refused_in_one_line(tmp_path: Path) -> None:
    with pytest.raises(CaptureError, match="no such file"):
        open_capture(tmp_path / "none.capture")
    with pytest.raises(CaptureError, match="is a directory"):
        open_capture(tmp_path)
    with pytest.raises(CaptureError, match=r"no directory .*make it first"):
        CaptureWriter(tmp_path / "no" / "a.capture", HEADER)
    with pytest.raises(CaptureError, match="header cannot be written as JSON"):
        CaptureWriter(tmp_path / "a.capture", Header(state={"soc": float("nan")}))
    assert not (tmp_path / "a.capture").exists()
    garbage = tmp_path / "garbage"
    garbage.write_bytes(random.Random(1).randbytes(5000))
    with pytest.raises(CaptureError, match="not one sound row"):
        repair(garbage, tmp_path / "y")


def test_a_capture_without_rows_opens(tmp_path: Path) -> None:
    capture: Capture = open_capture(write(tmp_path / "a.capture", []))
    assert list(capture.inputs()) == []
    assert (capture.start, capture.end) == (0.0, 0.0)
    assert verify(capture.path).sound
