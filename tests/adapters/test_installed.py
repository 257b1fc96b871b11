"""Adapters are listed without being imported; a package from outside adds one."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tomllib
import zipfile
from pathlib import Path

import pytest

from adapters import installed
from adapters.adapter import SettingsError

ROOT = Path(__file__).parents[2]
OUTSIDE = ROOT / "tests" / "outside_adapter"


def run_python(code: str, *extra_paths: Path) -> str:
    """What a fresh interpreter prints; it must not complain."""
    paths = os.pathsep.join(str(path) for path in (ROOT, *extra_paths))
    done = subprocess.run(
        [sys.executable, "-c", code],
        env={**os.environ, "PYTHONPATH": paths},
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert (done.returncode, done.stderr) == (0, "")
    return done.stdout


def test_our_own_adapters_are_listed_and_loaded() -> None:
    names = installed.installed()
    assert {"modbus-rtu", "modbus-tcp", "serial-lines"} <= set(names)
    assert names == sorted(names)
    assert installed.load("modbus-tcp").__name__ == "tcp"  # type: ignore[attr-defined]


def test_an_unknown_adapter_is_told_with_those_there_are() -> None:
    with pytest.raises(SettingsError) as mistake:
        installed.load("modbus-tpc", where="coach.toml line 7 [devices.shunt]")
    message = str(mistake.value)
    assert message.startswith('coach.toml line 7 [devices.shunt], key adapter: no adapter "modbus')
    assert 'did you mean "modbus-tcp"' in message
    assert "installed: modbus-rtu, modbus-tcp" in message


def test_listing_imports_no_adapter() -> None:
    loaded = run_python(
        "import sys, adapters.installed as i; i.installed(); print(*sys.modules)"
    ).split()
    assert "adapters.installed" in loaded
    assert not {"adapters.modbus", "adapters.lines", "pymodbus", "serial"} & set(loaded)


def test_what_may_enter_needs_neither_driver_nor_screen() -> None:
    loaded = run_python(
        "import sys, adapters.reading, adapters.adapter, adapters.supervise, "
        "adapters.description; print(*sys.modules)"
    ).split()
    assert not {"pymodbus", "serial", "textual", "rich", "monitor"} & set(loaded)


def wheel_of(project: Path, folder: Path) -> Path:
    """The project as a wheel, made by hand: no build backend need be installed to run the tests.

    Layout: Binary distribution format, PyPA specifications.
    """
    table = tomllib.loads((project / "pyproject.toml").read_text())["project"]
    name, version = table["name"].replace("-", "_"), table["version"]
    info = f"{name}-{version}.dist-info"
    points = "".join(
        f"[{group}]\n" + "".join(f"{key} = {value}\n" for key, value in entries.items())
        for group, entries in table["entry-points"].items()
    )
    files = {
        "tin_can.py": (project / "tin_can.py").read_text(),
        f"{info}/METADATA": f"Metadata-Version: 2.1\nName: {table['name']}\nVersion: {version}\n",
        f"{info}/WHEEL": "Wheel-Version: 1.0\nRoot-Is-Purelib: true\nTag: py3-none-any\n",
        f"{info}/entry_points.txt": points,
    }
    files[f"{info}/RECORD"] = "".join(f"{path},,\n" for path in [*files, f"{info}/RECORD"])
    wheel = folder / f"{name}-{version}-py3-none-any.whl"
    with zipfile.ZipFile(wheel, "w") as archive:
        for path, text in files.items():
            archive.writestr(path, text)
    return wheel


def test_the_log_of_pymodbus_never_reaches_the_screen() -> None:
    """Not even where the program logs to the terminal: pymodbus warns of a refused connection."""
    code = """
import asyncio, logging, socket
logging.basicConfig(level=logging.DEBUG)
from adapters.adapter import LinkError
from adapters.modbus_link import connect_tcp

with socket.create_server(("127.0.0.1", 0)) as closed:
    port = closed.getsockname()[1]
logging.getLogger("asyncio").setLevel(logging.WARNING)
try:
    asyncio.run(connect_tcp("127.0.0.1", port, 1, 1.0, lambda sent, data: None))
except LinkError as refused:
    print(refused)
"""
    assert "refuses connections" in run_python(code)


@pytest.fixture(scope="module")
def outside(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The outside package, installed for real into a folder of its own."""
    target = tmp_path_factory.mktemp("outside")
    wheel = wheel_of(OUTSIDE, tmp_path_factory.mktemp("wheel"))
    done = subprocess.run(
        [sys.executable, "-m", "pip", "install", "--quiet", "--no-index", "--no-deps",
         "--disable-pip-version-check", "--target", target, wheel],
        capture_output=True, text=True, timeout=120, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    return target


def test_a_package_from_outside_adds_an_adapter(outside: Path) -> None:
    code = """
import asyncio, json, sys
from adapters import installed
from adapters.adapter import DeviceSettings

names = installed.installed()
listed_only = "tin_can" not in sys.modules
factory = installed.load("tin-can")
can = factory(DeviceSettings("can", {"volts": 12.7}, bank="house"), lambda sent, data: None)

async def main():
    await can.open()
    return await can.poll()

print(json.dumps([names, listed_only, asyncio.run(main())]))
"""
    names, listed_only, values = json.loads(run_python(code, outside))
    assert "tin-can" in names
    assert "modbus-tcp" in names
    assert listed_only
    assert values == [[["house", "bank_volts"], 12.7]]
    assert "tin-can" not in installed.installed()


def test_a_broken_package_is_one_line(tmp_path: Path) -> None:
    info = tmp_path / "broken-1.0.dist-info"
    info.mkdir()
    (info / "METADATA").write_text("Metadata-Version: 2.1\nName: broken\nVersion: 1.0\n")
    (info / "entry_points.txt").write_text("[ampwright.adapters]\nbroken = no_such_module:it\n")
    code = """
from adapters import installed
from adapters.adapter import SettingsError
assert "broken" in installed.installed()
try:
    installed.load("broken")
except SettingsError as mistake:
    print(mistake)
"""
    assert run_python(code, tmp_path).strip() == (
        'the adapter "broken" (no_such_module:it) cannot be loaded: ModuleNotFoundError: '
        "No module named 'no_such_module'; install its package again"
    )
