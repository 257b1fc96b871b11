"""Sealed segments: frames that fail alone, torn tails, thinning, Parquet."""

from __future__ import annotations

import builtins
import zlib
from pathlib import Path
from random import Random
from typing import Any

import pytest

from adapters.adapter import Frame
from adapters.reading import Action, Channel, Command, LinkState, Quantity, Reading, Tick
from replay.capture import CaptureError, CaptureWriter, Header, open_capture, verify
from replay.csv_export import export_csv
from replay.parquet_export import column_name, export_parquet
from replay.seal import FRAME_BYTES, Grade, ending, seal_segment, thin_segment
from replay.segments import pin, pins, segments, unpin
from replay.tail import find_tail
from replay.thin import thinned
from tests.replay.values import reading

SUMMARY = {"banks": [], "words": "what it amounted to"}


def write(path: Path, count: int, **header: Any) -> list[Reading]:
    values = [reading(float(at), 12.0 + at / 1000) for at in range(count)]
    writer = CaptureWriter(path, Header(segment={"number": 1}, state={"a": 1.5}, **header), 7.0)
    for value in values:
        writer.append(value)
    writer.close()
    return values


@pytest.fixture(scope="module")
def sealed(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, list[Reading]]:
    folder = tmp_path_factory.mktemp("sealed")
    values = write(folder / "a.capture", 3000)
    seal_segment(folder / "a.capture", folder / "a.capture.gz", dict(SUMMARY))
    return folder / "a.capture.gz", values


def test_a_sealed_segment_reads_the_same(sealed: tuple[Path, list[Reading]]) -> None:
    path, values = sealed
    assert list(open_capture(path).inputs()) == values
    assert verify(path).sound
    assert path.stat().st_size < 0.2 * path.with_suffix("").stat().st_size
    assert ending(path) == (SUMMARY, True)


def test_one_flipped_bit_costs_one_frame_and_no_wrong_row(
    sealed: tuple[Path, list[Reading]], tmp_path: Path
) -> None:
    path, values = sealed
    data, chance = path.read_bytes(), Random(5)
    header_ends = len(data) - len(_rest_after_first_frame(data))
    in_frame = FRAME_BYTES // 100
    for _ in range(6):
        damaged = bytearray(data)
        damaged[chance.randrange(header_ends, len(data))] ^= 1 << chance.randrange(8)
        broken = tmp_path / "broken.gz"
        broken.write_bytes(bytes(damaged))
        capture = open_capture(broken)
        found = list(capture.inputs())
        remaining = iter(values)
        assert all(value in remaining for value in found), "a row that was never written"
        assert len(found) >= len(values) - in_frame - 2
        assert len(found) == len(values) or not capture.problems.lossless


def _rest_after_first_frame(data: bytes) -> bytes:
    inflate = zlib.decompressobj(wbits=31)
    inflate.decompress(data)
    return inflate.unused_data


def test_a_torn_tail_is_gone_on_with(tmp_path: Path) -> None:
    """Cut anywhere in the last commit (here at each third byte), the writer goes on and every row
    before it is there."""
    path = tmp_path / "a.capture"
    values = write(path, 12)
    data = path.read_bytes()
    start = data.rindex(b'{"n":10,')
    more = reading(100.0, 13.0)
    for cut in range(start, len(data) + 1, 3):
        path.write_bytes(data[:cut])
        tail = find_tail(path)
        assert tail.whole
        writer = CaptureWriter.go_on_with(path, tail)
        writer.append(more)
        assert writer.close().written == 1
        found = list(open_capture(path).inputs())
        sound = sum(line[-1:] == b"}" for line in data[:cut].split(b"\n")) - 1
        assert found == [*values[:sound], more]
        assert verify(path).sound


@pytest.mark.parametrize("garbage", [b"\0" * 700, b"\xff" * 40, b'{"n":13,"k":"tick"', b"\n\n"])
def test_garbage_behind_the_last_row_is_cut_off(tmp_path: Path, garbage: bytes) -> None:
    path = tmp_path / "a.capture"
    values = write(path, 12)
    with path.open("ab") as file:
        file.write(garbage)
    tail = find_tail(path)
    assert (tail.last, tail.torn_bytes) == (12, len(garbage))
    CaptureWriter.go_on_with(path, tail).close()
    assert list(open_capture(path).inputs()) == values
    assert verify(path).sound


def test_damage_in_the_middle_is_not_whole(tmp_path: Path) -> None:
    path = tmp_path / "a.capture"
    write(path, 50)
    data = bytearray(path.read_bytes())
    data[len(data) // 2] ^= 4
    path.write_bytes(bytes(data))
    tail = find_tail(path)
    assert (tail.last, tail.whole) == (50, False)
    path.write_bytes(b"\0" * 300)
    with pytest.raises(CaptureError, match="not one sound line in it"):
        find_tail(path)


def test_thinning_keeps_the_mean_and_everything_that_is_no_reading() -> None:
    volts, stage = Channel("house", Quantity.BANK_VOLTS), Channel("shore", Quantity.REPORTED_STAGE)
    given: list[Any] = [Tick(0.0, 1.7e9)]
    for at in range(120):
        figure = float("nan") if at == 7 else float(at)
        given.append(Reading(float(at), "shunt", ((volts, figure),)))
        given.append(Reading(at + 0.5, "charger", ((stage, "bulk" if at < 100 else "float"),)))
        given.append(Tick(at + 0.6))
        given.append(Frame(at + 0.7, "shunt", True, b"x"))
    given.insert(150, LinkState(37.0, "shunt", False, "unplugged"))
    given.append(Command(120.0, "owner", Action.NOTE, "house", "hello"))
    thin = list(thinned(given))
    assert [type(value).__name__ for value in thin].count("Tick") == 1
    assert [value for value in thin if isinstance(value, LinkState | Command)] == [
        value for value in given if isinstance(value, LinkState | Command)
    ]
    shunts = [v for v in thin if isinstance(v, Reading) and v.device == "shunt"]
    # The link parts the first minute: 0..37 (without the 7) and 38..59; then comes 60..119.
    assert [each.values[0][1] for each in shunts] == [
        pytest.approx((sum(range(38)) - 7) / 37, abs=0.6),
        pytest.approx(48.5, abs=0.6),
        pytest.approx(89.5),
    ]
    chargers = [v for v in thin if isinstance(v, Reading) and v.device == "charger"]
    assert [each.values[0][1] for each in chargers] == ["bulk", "bulk", "float"]
    assert [value.seconds for value in thin] == sorted(value.seconds for value in thin)


def test_every_grade_is_smaller_and_a_capture(
    sealed: tuple[Path, list[Reading]], tmp_path: Path
) -> None:
    path, values = sealed
    minute, ledger = tmp_path / "m.gz", tmp_path / "l.gz"
    thin_segment(path, minute, Grade.MINUTE, dict(SUMMARY))
    thin_segment(minute, ledger, Grade.LEDGER, dict(SUMMARY))
    sizes = [each.stat().st_size for each in (path, minute, ledger)]
    assert sizes == sorted(sizes, reverse=True)
    assert len(list(open_capture(minute).inputs())) == len(values) / 60
    assert open_capture(minute).header.state == {"a": 1.5}
    assert list(open_capture(ledger).inputs()) == []
    assert open_capture(ledger).header.state is None
    assert ending(minute) == ending(ledger) == (SUMMARY, True)


def test_a_pin_names_whom_it_is_for(tmp_path: Path) -> None:
    assert pins(tmp_path, 7) == ()
    pin(tmp_path, 7, "report of\n March")
    pin(tmp_path, 7, "report of March")
    pin(tmp_path, 7, "the owner")
    assert pins(tmp_path, 7) == ("report of March", "the owner")
    assert unpin(tmp_path, 7, "the owner")
    assert not unpin(tmp_path, 7, "the owner")
    assert pins(tmp_path, 7) == ("report of March",)
    assert unpin(tmp_path, 7)
    assert pins(tmp_path, 7) == ()
    (tmp_path / "00008.pin").touch()
    assert pins(tmp_path, 8) == ("nobody named",)


def test_a_directory_that_is_none_is_one_line(tmp_path: Path) -> None:
    (tmp_path / "file").touch()
    with pytest.raises(CaptureError, match="is a file; name the directory of the record"):
        segments(tmp_path / "file")
    with pytest.raises(CaptureError, match="no such file"):
        segments(tmp_path / "none")


def test_parquet_holds_what_csv_holds(tmp_path: Path) -> None:
    parquet = pytest.importorskip("pyarrow.parquet", reason="the extra parquet is not installed")
    path = tmp_path / "a.capture"
    values = write(path, 300)
    capture = open_capture(path)
    made = export_parquet(capture.inputs, tmp_path / "a.parquet")
    table = parquet.read_table(tmp_path / "a.parquet")
    assert made.rows == table.num_rows == 300
    assert table.column("t_s").to_pylist() == [value.seconds for value in values]
    for place, (channel, _) in enumerate(values[0].values):
        column = table.column(column_name(channel)).to_pylist()
        assert column == [value.values[place][1] for value in values]
    export_csv(capture.inputs, tmp_path / "a.csv")
    with pytest.raises(CaptureError, match="exists already"):
        export_parquet(capture.inputs, tmp_path / "a.parquet")


def test_without_the_extra_one_line_says_how_to_get_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "a.capture"
    write(path, 3)
    real = builtins.__import__

    def without(name: str, *rest: Any, **more: Any) -> Any:
        if name.startswith("pyarrow"):
            raise ImportError(name)
        return real(name, *rest, **more)

    monkeypatch.setattr(builtins, "__import__", without)
    with pytest.raises(CaptureError, match=r"-m pip install pyarrow=="):
        export_parquet(open_capture(path).inputs, tmp_path / "a.parquet")
