"""Plain CSV: what is read, what counts as missing, and one line for each wrong shape."""

from __future__ import annotations

import gzip
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from adapters.reading import Channel, LinkState, Quantity, Reading
from replay.capture import CaptureError
from replay.csv_export import export_csv
from replay.plain_csv import read_csv
from replay.recording import open_recording
from tests.replay import values


def table(folder: Path, text: str, name: str = "t.csv") -> Path:
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return path


def test_figures_come_under_their_owners(tmp_path: Path) -> None:
    path = table(
        tmp_path,
        "t_s,v_bank,i_net,temp_c,soc_true,v_source,i_source\n"
        "0.5,12.71,-3.2,18.5,0.9,12.9,4\n"
        "5.5,12.70,,nan,0.9,inf,-inf\n",
    )
    got = list(read_csv(path, bank="house", source="shore").inputs())
    assert got == [
        Reading(
            0.5,
            "csv",
            (
                (Channel("house", Quantity.BANK_VOLTS), 12.71),
                (Channel("house", Quantity.BANK_AMPS), -3.2),
                (Channel("house", Quantity.BANK_CELSIUS), 18.5),
                (Channel("shore", Quantity.SOURCE_VOLTS), 12.9),
                (Channel("shore", Quantity.SOURCE_AMPS), 4.0),
            ),
        ),
        Reading(5.5, "csv", ((Channel("house", Quantity.BANK_VOLTS), 12.70),)),
    ]


def test_times_are_kept_as_they_stand(tmp_path: Path) -> None:
    path = table(tmp_path, "t_s,v_bank\n5,12\n3,12\n3,12.1\n9,\n8,12\n")
    got = read_csv(path)
    assert [value.seconds for value in got.inputs()] == [5, 3, 3, 9, 8]
    assert list(got.inputs())[3].values == ()
    assert (got.start, got.end, got.rows) == (5, 9, 5)


def test_columns_by_other_names_and_in_any_order(tmp_path: Path) -> None:
    path = table(
        tmp_path,
        '\ufeffTime,"Amps, net",v_bank,Battery volts,reported_stage,load_amps\r\n'
        "1,2.5,99,13.1,bulk,7\r\n\r\n2,2.6,99,13.2,,8\r\n",
    )
    columns = {"t_s": "Time", "v_bank": "Battery volts", "i_net": "Amps, net"}
    got = list(read_csv(path, "house", "shore", columns).inputs())
    assert dict(got[0].values) == {
        values.VOLTS: 13.1,
        values.AMPS: 2.5,
        Channel("shore", Quantity.REPORTED_STAGE): "bulk",
        Channel("house", Quantity.LOAD_AMPS): 7.0,
    }
    assert len(got) == 2


def test_compressed_by_content_not_by_name(tmp_path: Path) -> None:
    text = "t_s,v_bank\n" + "".join(f"{at},12.5\n" for at in range(50_000))
    path = tmp_path / "t.csv"
    path.write_bytes(gzip.compress(text.encode()))
    assert read_csv(path).rows == 50_000
    path.write_bytes(gzip.compress(text.encode())[:-2000])
    with pytest.raises(CaptureError, match=r"cut short or damaged after line \d+; copy it again"):
        read_csv(path)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", r"is empty"),
        ("\n\n", r"is empty; expected a line of column names first"),
        ("t_s,v_bank\n", r"no rows below the column names"),
        ("v_bank,i_net\n1,2\n", r"line 1: expected a column t_s, found 'v_bank,i_net'"),
        ("t_s;v_bank\n1;2\n", r"line 1: expected a column t_s, found 't_s;v_bank'.*commas"),
        ("t_s,voltage\n1,2\n", r"line 1: expected a column v_bank, found 't_s,voltage'"),
        ("t_s,v_bank,v_bank\n1,2,3\n", r"line 1: column v_bank stands there twice"),
        ("t_s,v_bank,bank_volts\n1,2,3\n", r"columns v_bank and bank_volts are both bank_volts"),
        ("t_s,v_bank\n1,2\n2\n", r"line 3: expected 2 cells as in line 1, found 1"),
        ("t_s,v_bank\n1,2\n\n2,3,4\n", r"line 4: expected 2 cells as in line 1, found 3"),
        ("t_s,v_bank\n1,2\n,3\n", r"line 3: column t_s: expected a time in seconds, found ''"),
        ("t_s,v_bank\nnan,2\n", r"line 2: column t_s: expected a time in seconds, found 'nan'"),
        ("t_s,v_bank\n1,12.5 V\n", r"line 2: column v_bank: expected a number or nothing, found"),
        ('t_s,v_bank\n1,"12\n', r"line 2: not a CSV table"),
    ],
)
def test_wrong_shapes_are_one_clear_line(tmp_path: Path, text: str, said: str) -> None:
    path = table(tmp_path, text)
    with pytest.raises(CaptureError, match=said) as error:
        read_csv(path)
    assert str(error.value).startswith(str(path))
    assert "\n" not in str(error.value)


def test_mappings_that_cannot_work(tmp_path: Path) -> None:
    path = table(tmp_path, "t_s,a\n1,2\n")
    with pytest.raises(CaptureError, match=r"expected a column b \(mapped to v_bank\)"):
        read_csv(path, columns={"v_bank": "b"})
    with pytest.raises(CaptureError, match=r"'v_banc' is not known; use one of t_s, v_bank"):
        read_csv(path, columns={"v_banc": "a"})
    with pytest.raises(CaptureError, match=r"mapped to the same"):
        read_csv(path, columns={"v_bank": "a", "i_net": "a"})


def test_bytes_that_are_no_text(tmp_path: Path) -> None:
    path = tmp_path / "t.csv"
    path.write_bytes(b"t_s,v_bank\n1,\xff\xfe\n")
    with pytest.raises(CaptureError, match="UTF-8"):
        read_csv(path)
    with pytest.raises(CaptureError, match="no such file"):
        read_csv(tmp_path / "none.csv")


@settings(max_examples=150)
@given(st.binary(max_size=120) | st.text("t_sv_bank,0123456789.\n\"-e'", max_size=60))
def test_no_file_whatever_raises_anything_else(
    tmp_path_factory: pytest.TempPathFactory, content: bytes | str
) -> None:
    path = tmp_path_factory.getbasetemp() / "any"
    path.write_bytes(content if isinstance(content, bytes) else b"t_s,v_bank\n" + content.encode())
    try:
        recording = open_recording(path)
    except CaptureError as error:
        said = str(error)
    else:
        assert list(recording.inputs())
        return
    assert said
    assert "\n" not in said


def _two_devices() -> list[Reading | LinkState]:
    volts, amps = values.VOLTS, values.AMPS
    shore = Channel("shore", Quantity.SOURCE_VOLTS)
    start = Channel("start", Quantity.BANK_VOLTS)
    return [
        Reading(0.1, "shunt", ((volts, 12.1 + 0.2), (amps, 1e-17))),
        Reading(0.4, "charger", ((shore, 14.25),)),
        LinkState(0.5, "charger", False, "no answer"),
        Reading(0.6, "other", ((start, 12.9),)),
        Reading(1.1, "shunt", ((volts, 12.0), (Channel("house#1", Quantity.CELL_VOLTS), 3.2))),
    ]


def test_export_reads_back_exactly(tmp_path: Path) -> None:
    out = tmp_path / "out.csv"
    done = export_csv(_two_devices, out, bank="house")
    assert done.rows == 3
    assert done.left_out == 1
    assert out.read_text().splitlines()[0] == "t_s,v_bank,i_net,temp_c,v_source"
    back = list(read_csv(out, "house", "shore").inputs())
    assert [dict(reading.values) for reading in back] == [
        {values.VOLTS: 12.1 + 0.2, values.AMPS: 1e-17},
        {Channel("shore", Quantity.SOURCE_VOLTS): 14.25},
        {values.VOLTS: 12.0},
    ]


def test_export_asks_which_bank_and_never_writes_over(tmp_path: Path) -> None:
    out = tmp_path / "out.csv"
    with pytest.raises(CaptureError, match="holds the banks house, start; say which one"):
        export_csv(_two_devices, out)
    with pytest.raises(CaptureError, match="no bank 'cabin' in this recording; it holds house"):
        export_csv(_two_devices, out, bank="cabin")
    assert not out.exists()
    export_csv(_two_devices, out, bank="start")
    before = out.read_text()
    with pytest.raises(CaptureError, match="exists already"):
        export_csv(_two_devices, out, bank="house")
    assert out.read_text() == before
