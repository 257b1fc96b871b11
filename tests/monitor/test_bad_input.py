"""Everything a person can get wrong: one clear line, exit status 2, nothing recorded lost."""

from __future__ import annotations

import errno
import json
import os
import pty
import re
import shutil
import socket
from collections.abc import Iterator
from pathlib import Path

import pytest

from adapters.reading import Reading
from monitor.cli import main
from replay.capture import open_capture
from replay.sealed_lines import seal
from tests.monitor.recordings import BANK_TOML, small_capture


@pytest.fixture(scope="module")
def sound(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return small_capture(tmp_path_factory.mktemp("bad"), 300)


class Told:
    """What a command told: its one line."""

    def __init__(self, capsys: pytest.CaptureFixture[str]) -> None:
        self._capsys = capsys

    def by(self, *words: object) -> str:
        """Run a command that must fail by the rules, and give what it said."""
        self._capsys.readouterr()
        assert main([str(word) for word in words]) == 2
        line = self._capsys.readouterr().err
        assert line.count("\n") == 1, line
        assert "Traceback" not in line
        assert "Errno" not in line
        return line


@pytest.fixture
def told(capsys: pytest.CaptureFixture[str]) -> Told:
    return Told(capsys)


def coach(folder: Path, device: str, bank: str = BANK_TOML) -> Path:
    path = folder / "coach.toml"
    path.write_text(f"{bank}[sources.shore]\n[devices.shunt]\n{device}\n")
    return path


RTU = 'adapter = "modbus-rtu"\nport = "{port}"\ndescription = "{description}"'
TCP = 'adapter = "modbus-tcp"\nhost = "127.0.0.1"\nport = {port}\ndescription = "{description}"'
DESCRIPTION = """\
kind = "modbus"

[[registers]]
quantity = "bank_volts"
address = 100
type = "uint16"
scale = 0.01
unit = "V"
"""


def described(folder: Path, text: str = DESCRIPTION) -> str:
    (folder / "shunt.toml").write_text(text)
    return "shunt.toml"


# Files that are not there, or not what they should be.


@pytest.mark.parametrize(
    "words",
    [
        ("replay", "{none}"),
        ("replay", "{none}", "--bank", "{bank}"),
        ("replay", "{sound}", "--bank", "{none}"),
        ("capture", "verify", "{none}"),
        ("capture", "repair", "{none}", "{out}"),
        ("capture", "export", "{none}", "{out}"),
        ("capture", "import", "{none}", "{out}", "--bank", "{bank}"),
        ("watch", "--config", "{none}"),
        ("now", "--config", "{none}"),
        ("check", "--config", "{none}"),
        ("record", "{out}", "--config", "{none}"),
        ("bench", "{none}", "--description", "modbus-template.toml"),
        ("bench", "{sound}", "--description", "{none}"),
    ],
)
def test_a_missing_file_is_named(
    words: tuple[str, ...], tmp_path: Path, sound: Path, told: Told
) -> None:
    bank, none, out = tmp_path / "bank.toml", tmp_path / "none.toml", tmp_path / "out"
    bank.write_text(BANK_TOML)
    line = told.by(*(word.format(none=none, bank=bank, out=out, sound=sound) for word in words))
    assert "none.toml" in line
    assert not out.exists()


@pytest.mark.parametrize(
    ("text", "place", "says"),
    [
        ("[banks.house\n", "1", "expected TOML"),
        (BANK_TOML + "amphours = 1\n", "5", 'did you mean "amp_hours"?'),
        (BANK_TOML + "lowest_soc = 50\n", "5", "0.5 for 50 %"),
        (BANK_TOML.replace("230", '"230 Ah"'), "4", "without quotes or unit"),
        (BANK_TOML + "[banks.house.set_points]\nabsorption = 144\n", "6", "volts of the whole"),
        (BANK_TOML + "[banks.house.set_points]\nabsorption = 28.8\n", "6", "12.0 to 17.4 V"),
    ],
    ids=["malformed", "unknown key", "impossible range", "wrong unit", "slip", "another bank"],
)
def test_a_bad_configuration_is_told_by_line(
    text: str, place: str, says: str, tmp_path: Path, sound: Path, told: Told
) -> None:
    path = tmp_path / "coach.toml"
    path.write_text(text)
    commands: list[tuple[object, ...]] = [
        ("check", "--config", path),
        ("watch", "--config", path),
        ("replay", sound, "--bank", path, "--headless"),
    ]
    for words in commands:
        line = told.by(*words)
        assert f"{path}:{place}: " in line
        assert says in line


def test_a_bad_device_description_is_told_by_line(tmp_path: Path, told: Told) -> None:
    text = DESCRIPTION.replace('unit = "V"', 'unit = "A"')
    config = coach(tmp_path, TCP.format(port=502, description=described(tmp_path, text)))
    for words in (("check", "--config", config), ("watch", "--config", config)):
        line = told.by(*words)
        assert re.search(r"shunt\.toml\D*8", line)
        assert '"A"' in line


def test_an_adapter_that_is_not_installed(tmp_path: Path, told: Told) -> None:
    line = told.by("watch", "--config", coach(tmp_path, 'adapter = "modbus-rtuu"'))
    assert "coach.toml:6" in line
    assert 'did you mean "modbus-rtu"?' in line


# Ports and devices.


def test_a_port_that_is_not_there(tmp_path: Path, told: Told) -> None:
    device = RTU.format(port=tmp_path / "ttyGONE", description=described(tmp_path))
    line = told.by("check", "--config", coach(tmp_path, device))
    assert "ttyGONE" in line


@pytest.fixture
def line_end() -> Iterator[str]:
    """A serial line of our own, that answers nothing."""
    ours, theirs = pty.openpty()
    yield os.ttyname(theirs)
    os.close(ours)
    os.close(theirs)


def test_a_port_in_use(tmp_path: Path, told: Told, line_end: str) -> None:
    import serial

    config = coach(tmp_path, RTU.format(port=line_end, description=described(tmp_path)))
    with serial.Serial(line_end, exclusive=True):
        line = told.by("check", "--config", config)
    assert line_end in line
    assert "another program" in line


def test_a_port_that_may_not_be_opened(
    tmp_path: Path, told: Told, line_end: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Root may open anything, so the refusal of the system is put on."""
    real = os.open

    def refused(path: object, *rest: object, **more: object) -> int:
        if str(path) == line_end:
            raise PermissionError(errno.EACCES, "Permission denied", line_end)
        return real(path, *rest, **more)  # type: ignore[arg-type]

    monkeypatch.setattr(os, "open", refused)
    config = coach(tmp_path, RTU.format(port=line_end, description=described(tmp_path)))
    line = told.by("check", "--config", config)
    assert line_end in line
    assert "permission denied" in line
    assert "group" in line


def test_a_device_that_says_nothing(tmp_path: Path, told: Told, line_end: str) -> None:
    device = RTU.format(port=line_end, description=described(tmp_path)) + "\ntimeout_seconds = 0.1"
    line = told.by("check", "--config", coach(tmp_path, device))
    assert line.startswith("shunt: ")


def test_a_network_port_that_refuses(tmp_path: Path, told: Told) -> None:
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    config = coach(tmp_path, TCP.format(port=port, description=described(tmp_path)))
    line = told.by("check", "--config", config)
    assert str(port) in line
    assert "refuses" in line


def test_a_bench_at_a_port_in_use(sound: Path, told: Told) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        words = ("bench", sound, "--description", "modbus-template.toml")
        line = told.by(*words, "--device", "shunt", "--port", port)
    assert str(port) in line
    assert "in use" in line


async def _serve_exception_2(reader: object, writer: object) -> None:
    """A Modbus TCP device that refuses every address (exception 2)."""
    while request := await reader.read(260):  # type: ignore[attr-defined]
        head = request[:4] + b"\x00\x03" + request[6:7]
        writer.write(head + bytes([request[7] | 0x80, 2]))  # type: ignore[attr-defined]
        await writer.drain()  # type: ignore[attr-defined]


@pytest.fixture
def refusing_port() -> Iterator[int]:
    """The port of a device, in a thread of its own, that has none of the registers."""
    import asyncio
    import threading

    loop = asyncio.new_event_loop()
    server = loop.run_until_complete(asyncio.start_server(_serve_exception_2, "127.0.0.1", 0))
    thread = threading.Thread(target=loop.run_forever)
    thread.start()
    yield server.sockets[0].getsockname()[1]

    async def end() -> None:
        server.close()
        others = asyncio.all_tasks() - {asyncio.current_task()}
        for task in others:
            task.cancel()
        await asyncio.gather(*others, return_exceptions=True)

    asyncio.run_coroutine_threadsafe(end(), loop).result(10)
    loop.call_soon_threadsafe(loop.stop)
    thread.join()
    loop.close()


def test_a_register_map_that_the_device_refuses(
    tmp_path: Path, told: Told, refusing_port: int
) -> None:
    config = coach(tmp_path, TCP.format(port=refusing_port, description=described(tmp_path)))
    line = told.by("check", "--config", config)
    assert "100" in line
    assert "exception 2" in line


# Recordings.


def test_a_truncated_capture_keeps_what_is_sound(tmp_path: Path, sound: Path, told: Told) -> None:
    whole = sound.read_bytes()
    cut, mended, out = tmp_path / "cut.capture", tmp_path / "mended.capture", tmp_path / "t.csv"
    cut.write_bytes(whole[: len(whole) * 2 // 3])
    line = told.by("capture", "verify", cut)
    assert "torn" in line
    assert "ampwright capture repair" in line
    line = told.by("replay", cut, "--table", out)
    assert "ampwright capture repair" in line
    readings = sum(isinstance(value, Reading) for value in open_capture(cut).inputs())
    assert readings > 100
    assert len(out.read_text().splitlines()) == readings + 1
    before = cut.read_bytes()
    assert main(["capture", "repair", str(cut), str(mended)]) == 0
    assert cut.read_bytes() == before
    assert main(["capture", "verify", str(mended)]) == 0
    assert main(["replay", str(mended), "--headless"]) == 0


def test_a_capture_cut_in_its_header(tmp_path: Path, sound: Path, told: Told) -> None:
    cut = tmp_path / "cut.capture"
    cut.write_bytes(sound.read_bytes()[:100])
    assert "header" in told.by("replay", cut)
    cut.write_bytes(b"")
    assert "empty" in told.by("replay", cut)


def test_a_capture_of_newer_software(tmp_path: Path, sound: Path, told: Told) -> None:
    first, _, rest = sound.read_bytes().partition(b"\n")
    row = json.loads(first)
    del row["n"], row["crc"]
    newer = tmp_path / "newer.capture"
    newer.write_bytes(seal(0, {**row, "version": [99, 0]}) + rest)
    for words in (("replay", newer), ("capture", "verify", newer)):
        line = told.by(*words)
        assert "99" in line
        assert "update ampwright" in line


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "empty"),
        ("t_s,v_bank,i_net\n", "no rows"),
        ("a,b\n1,2\n", "t_s"),
        ("t_s;v_bank\n0;12\n", "separate names with commas"),
        ("t_s,v_bank\n0,12.6\n5,12.6,99\n", "line 3"),
        ("t_s,v_bank\n0,twelve\n", "'twelve'"),
        ("t_s,v_bank\n,12.6\n", "a time in seconds"),
        ("t_s,v_bank,v_bank\n0,1,2\n", "twice"),
    ],
)
def test_a_table_of_the_wrong_shape(text: str, says: str, tmp_path: Path, told: Told) -> None:
    table, bank = tmp_path / "x.csv", tmp_path / "bank.toml"
    table.write_text(text)
    bank.write_text(BANK_TOML)
    line = told.by("replay", table, "--bank", bank, "--table", tmp_path / "out.csv")
    assert "x.csv" in line
    assert says in line
    assert not (tmp_path / "out.csv").exists()


def test_a_column_that_is_not_there(tmp_path: Path, told: Told) -> None:
    table, bank = tmp_path / "x.csv", tmp_path / "bank.toml"
    table.write_text("t_s,v_bank\n0,12.6\n")
    bank.write_text(BANK_TOML)
    words = ("replay", table, "--bank", bank)
    assert "Volts" in told.by(*words, "--columns", "v_bank=Volts")
    assert "volts_of_bank" in told.by(*words, "--columns", "volts_of_bank=v_bank")


# Places that cannot be written to.


def test_nothing_is_written_over(tmp_path: Path, sound: Path, told: Told) -> None:
    mine = tmp_path / "mine"
    mine.write_text("mine")
    bank = tmp_path / "bank.toml"
    bank.write_text(BANK_TOML)
    table = tmp_path / "x.csv"
    table.write_text("t_s,v_bank\n0,12.6\n")
    config = coach(tmp_path, f'adapter = "replay"\ncapture = "{sound}"\ndevice = "shunt"')
    commands: list[tuple[object, ...]] = [
        ("init", mine),
        ("record", mine, "--config", config),
        ("watch", "--plain", "--capture", mine, "--config", config),
        ("capture", "repair", sound, mine),
        ("capture", "import", table, mine, "--bank", bank),
        ("capture", "export", sound, mine),
    ]
    for words in commands:
        assert str(mine) in told.by(*words)
        assert mine.read_text() == "mine"


def test_a_folder_that_is_not_there(tmp_path: Path, sound: Path, told: Told) -> None:
    away = tmp_path / "none" / "out"
    config = coach(tmp_path, f'adapter = "replay"\ncapture = "{sound}"\ndevice = "shunt"')
    commands: list[tuple[object, ...]] = [
        ("record", away, "--config", config),
        ("replay", sound, "--table", away),
        ("capture", "repair", sound, away),
        ("capture", "export", sound, away),
    ]
    for words in commands:
        assert str(tmp_path / "none") in told.by(*words)


def test_a_table_on_a_full_disk_is_not_left_half_done(
    tmp_path: Path, sound: Path, told: Told
) -> None:
    if not Path("/dev/full").exists():
        pytest.skip("this system has no /dev/full")
    line = told.by("replay", sound, "--table", "/dev/full")
    assert "no space left" in line
    assert list(tmp_path.iterdir()) == []


def test_a_disk_full_while_recording_keeps_what_it_had(
    tmp_path: Path, sound: Path, told: Told, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The first rows get to the disk, later ones do not; none of the first is lost."""
    config = coach(
        tmp_path, f'adapter = "replay"\ncapture = "{sound}"\ndevice = "shunt"\nrate = 60'
    )
    write, room = os.pwrite, [2]

    def pwrite(file: int, data: bytes, offset: int) -> int:
        if not (out.exists() and os.path.samestat(os.fstat(file), out.stat())):
            return write(file, data, offset)  # a lock, which is somewhere else
        if not room[0]:
            raise OSError(errno.ENOSPC, "No space left on device")
        room[0] -= 1
        return write(file, data, offset)

    out = tmp_path / "out.capture"
    monkeypatch.setattr(os, "pwrite", pwrite)
    capsys = told._capsys
    assert main(["record", str(out), "--config", str(config), "--for", "2"]) == 2
    lines = capsys.readouterr().err.splitlines()
    assert lines[0].startswith("recording into ")
    assert "rows were not written" in lines[-1]
    assert "free some space" in lines[-1]
    monkeypatch.undo()
    assert main(["capture", "verify", str(out)]) == 0
    assert list(open_capture(out).inputs())


def test_disk_is_large_enough_for_these_tests(tmp_path: Path) -> None:
    """A full disk here would make the tests above pass for the wrong reason."""
    assert shutil.disk_usage(tmp_path).free > 10_000_000


# Options.


@pytest.mark.parametrize(
    ("words", "says"),
    [
        ("report example -o x", "ampwright report example: unrecognized arguments: -o; see: ampwr"),
        ("find", "see: ampwright find --help"),
        ("find --baud x", "--baud: expected a whole number, found 'x'; see: ampwright find --help"),
        ("find --timeout x --port p", "--timeout: expected a number, found 'x'"),
        ("bench {sound} --description modbus-template.toml --of nosuch", "--of: expected a bank"),
        ("bench {sound} --description modbus-template.toml --from -5", "--from: expected seconds"),
        ("bench {sound} --description modbus-template.toml --from 1e9", "found 1e+09"),
        ("bench {sound} --description modbus-template.toml --from nan", "found nan"),
        ("bench {sound} --description modbus-template.toml --port x", "--port: expected a whole"),
        ("capture export {sound} x.csv --from 2026-03-02 --to 2026-03-01", "the earlier day first"),
    ],
)
def test_an_option_that_cannot_be_is_told_with_its_own_help(
    words: str, says: str, sound: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    try:
        status = main([word.format(sound=sound) for word in words.split()])
    except SystemExit as ended:
        status = int(ended.code or 0)
    assert status == 2
    line = capsys.readouterr().err
    assert line.count("\n") == 1
    assert says in line


def test_damage_is_told_once(
    tmp_path: Path, sound: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    cut = tmp_path / "cut.capture"
    cut.write_bytes(sound.read_bytes()[: 2 * sound.stat().st_size // 3])
    assert main(["capture", "verify", str(cut)]) == 2
    out, err = capsys.readouterr()
    assert "damaged" in out
    assert (out + err).count("torn") == 1
