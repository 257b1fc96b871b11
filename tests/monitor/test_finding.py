"""`ampwright find` as a user meets it: a device without a map, a meter, switches, and nothing
written but a file."""

from __future__ import annotations

import asyncio
import os
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from adapters.adapter import LinkError
from adapters.description import load_text
from adapters.finder.sweep import Sweeper
from adapters.reading import Quantity
from adapters.registers import Block, ModbusDescription
from monitor.cli import main
from monitor.finding import Finding, parse_reading
from tests.adapters.scripted_device import Reply, Request
from tests.monitor.served import served
from tests.monitor.virtual_time import run_virtual, virtual_now
from tests.reference.unknown_device import Unknown

Person = Callable[[Unknown], str | None]


class Bus:
    """The random device behind a link that answers in made time."""

    def __init__(self, device: Unknown) -> None:
        self.device = device
        self.at: float | None = None
        self.image: dict[tuple[str, int], int] = {}
        self.silent = False

    async def read(self, block: Block) -> list[int]:
        await asyncio.sleep(0.05)
        if self.silent:
            raise LinkError("device 1 gave no answer within 1 s")
        now = virtual_now()
        if self.at is None or now - self.at > 0.25:  # a sweep is of one moment
            self.device.step(now - self.at if self.at is not None else 0.1)
            self.at, self.image = now, self.device.image()
        image = self.image
        if block.table != "holding" or block.end > 200:
            from adapters.modbus_link import Refused

            raise Refused(1 if block.table != "holding" else 2)
        return [image["holding", at] for at in range(block.address, block.end)]


def conversation(device: Unknown, script: list[Person]) -> tuple[list[str], Finding]:
    """What is said while a person follows the script; each step may switch things."""
    said: list[str] = []
    made: list[Finding] = []

    async def talk() -> None:
        bus = Bus(device)
        steps = iter(script)

        async def ask(prompt: str) -> str | None:
            del prompt
            await asyncio.sleep(45.0)  # it settles
            step = next(steps, None)
            if step is None:
                return None
            line = step(device)
            if line is not None and line.startswith("wait:"):
                bus.silent = line.endswith("silent")
                return ""
            return line

        async def reopen() -> None:
            await asyncio.sleep(0.1)

        sweeper = Sweeper(bus, [Block("holding", 0, 300), Block("input", 0, 300)], virtual_now)
        finding = Finding(sweeper, said.append, virtual_now, device_id=9, reopen=reopen)
        made.append(finding)
        await finding.converse(ask)

    run_virtual(talk())
    return said, made[0]


def switch(charger: bool, load: bool) -> Person:
    def step(device: Unknown) -> str | None:
        device.charger, device.load = charger, load
        return ""

    return step


def volts(device: Unknown) -> str:
    return f"{device.meter(True)} V"


def amps(device: Unknown) -> str:
    return f"{device.meter(False)} A"


def say(line: str) -> Person:
    return lambda _: line


SWITCHED: list[Person] = [
    volts,
    switch(True, False),
    volts,
    amps,
    switch(False, True),
    volts,
    amps,
    switch(True, False),
    volts,
    amps,
]


@pytest.mark.parametrize("seed", [3, 8, 21])
def test_readings_going_up_and_down_end_in_a_description_that_reads_the_truth(
    seed: int, tmp_path: Path
) -> None:
    device = Unknown(seed)
    path = tmp_path / "found.toml"
    said, finding = conversation(device, [*SWITCHED, say(f"write {path}")])
    assert finding.written == path
    assert any("it never writes a register" in line for line in said)
    assert any(line.startswith("Not sure yet: ") for line in said)
    assert "That is the voltage. Read another quantity, or: write FILE" in said
    description = load_text(path.read_text(), "found.toml")
    assert isinstance(description, ModbusDescription)
    assert description.device_id == 9
    figures = {
        measurand.quantity: figure
        for measurand, figure in description.decode(device.image()).figures.items()
    }
    assert figures[Quantity.BANK_VOLTS] == pytest.approx(device.volts, rel=0.01)
    assert figures[Quantity.BANK_AMPS] == pytest.approx(device.amps, rel=0.03, abs=0.2)


#: A device whose charger lifts the voltage by well over 0.3 V.
STRONG = next(n for n in range(99) if Unknown(n).charge_amps * Unknown(n).ohms > 0.6)


def test_it_is_not_sure_of_what_only_rises_and_does_not_write_it(tmp_path: Path) -> None:
    path = tmp_path / "found.toml"
    script = [volts, switch(True, False), volts, say(f"write {path}"), say("use V 1"), say("show")]
    said, finding = conversation(Unknown(STRONG), script)
    assert any(line.startswith("not written: voltage: the voltage has only risen") for line in said)
    assert not path.exists()
    assert finding.written is None


def test_a_choice_of_ones_own_is_written_and_says_so(tmp_path: Path) -> None:
    path = tmp_path / "found.toml"
    conversation(Unknown(3), [volts, say("use V 1"), say(f"write {path}")])
    assert "# chosen by hand among several answers" in path.read_text()


def test_nothing_is_overwritten(tmp_path: Path) -> None:
    path = tmp_path / "mine.toml"
    path.write_text("precious")
    said, _ = conversation(Unknown(3), [volts, say("use V 1"), say(f"write {path}")])
    assert said[-1] == f"not written: {path} is there already; choose another name"
    assert path.read_text() == "precious"
    said, _ = conversation(Unknown(3), [volts, say("use V 1"), say("write /nowhere/at/all.toml")])
    assert said[-1].startswith("not written: /nowhere/at/all.toml: No such file")


def test_a_mistyped_reading_is_found_out_and_left_out() -> None:
    script = [say("98765.4 V"), volts, say("16.2 V"), volts, say("drop V"), volts]
    said, finding = conversation(Unknown(3), script)
    assert "not taken: expected 2 to 80 V, found 98765.4" in said
    assert sum(line.startswith("Left out: no register agrees") for line in said) == 1
    assert any(line.startswith("The voltage begins again.") for line in said)
    assert len(finding.searches[Quantity.BANK_VOLTS].seen) == 1


def test_a_silent_device_is_told_once_and_taken_up_again() -> None:
    script = [volts, say("wait:silent"), volts, say("wait:"), volts]
    said, finding = conversation(Unknown(3), script)
    assert sum(line.startswith("no answer: device 1 gave") for line in said) == 1
    assert "the device answers again" in said
    assert any(line.startswith("not taken: device 1 gave no answer") for line in said)
    assert len(finding.searches[Quantity.BANK_VOLTS].seen) == 2


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("13.4 W", 'expected a reading such as 13.42 V, or a word; found "13.4 W": see help'),
        ("use", 'expected such as "use V 2": a unit that was read, and a number of the list'),
        ("drop A", 'expected such as "drop V": a unit that was read'),
        ("write", "not written: nothing was found yet; type what your meter shows"),
        ("show", "nothing was read yet; type what your meter shows, such as 13.42 V"),
    ],
)
def test_a_slip_is_answered_in_one_line(line: str, said: str) -> None:
    assert conversation(Unknown(3), [say(line)])[0][-1] == said


def test_readings_as_people_type_them() -> None:
    assert parse_reading("13,42v") == ("V", False, 13.42, 0.01)
    assert parse_reading(" -8.5 A ") == ("A", False, -8.5, 0.1)
    assert parse_reading("13.9 V source") == ("V", True, 13.9, 0.1)
    fahrenheit = parse_reading("77 °F")
    assert fahrenheit is not None
    assert (fahrenheit.kind, fahrenheit.figure) == ("C", 25.0)
    assert parse_reading("thirteen volts") is None


@pytest.mark.parametrize(
    ("options", "said"),
    [
        ([], "find: expected --port PATH or --host NAME, one of them; see: ampwright find --help"),
        (["--host", "x", "--port", "y"], "find: expected --port PATH or --host NAME"),
        (["--host", "h", "--registers", "9-1"], "--registers: expected two addresses from 0"),
        (["--host", "h", "--table", "coils"], "--table: expected holding, input or both"),
        (["--host", "h:x"], "--host: expected a port from 1 to 65535, found 'x'"),
        (["--port", "/dev/nowhere"], "no such port /dev/nowhere"),
    ],
)
def test_slips_of_the_command_are_one_line(
    options: list[str], said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["find", *options]) == 2
    error = capsys.readouterr().err
    assert said in error
    assert error.count("\n") == 1


@pytest.mark.parametrize(
    "script",
    [
        pytest.param([volts, say("use V 1"), amps, say("use A 1")], id="still"),
        pytest.param(SWITCHED, id="switched", marks=pytest.mark.slow),
    ],
)
def test_over_the_wire_with_a_person_at_a_pipe(script: list[Person], tmp_path: Path) -> None:
    """The command itself against a Modbus TCP device: found, written, and only ever read."""
    device = Unknown(8)
    requests: list[Request] = []

    def answer(request: Request) -> Reply:
        requests.append(request)
        if request.function != 3:
            return Reply(exception=1)
        if request.address + request.count > 200:
            return Reply(exception=2)
        device.step(0.05)
        image = device.image()
        at = range(request.address, request.address + request.count)
        return Reply(words=[image["holding", address] for address in at])

    path = tmp_path / "found.toml"
    with served(answer) as port:
        command = [sys.executable, "-m", "monitor.cli", "find", "--host", f"127.0.0.1:{port}"]
        person = subprocess.Popen(
            [*command, "--registers", "0-255"],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            env={**os.environ, "COLUMNS": "80"},
        )
        assert person.stdin is not None
        assert person.stdout is not None
        heard = b""
        for step in [*script, say(f"write {path}")]:
            while not heard.endswith(b"\n> "):
                data = os.read(person.stdout.fileno(), 4096)
                assert data, heard.decode()
                heard += data
            line = step(device)
            if not line:
                # it settles, and the sweeps of before are forgotten (3 s at 4 reads in 0.3 s)
                device.step(60.0)
                swept = len(requests) + 60
                deadline = time.monotonic() + 30.0
                while len(requests) < swept and time.monotonic() < deadline:
                    time.sleep(0.05)
                continue
            heard = b""
            person.stdin.write(line.encode() + b"\n")
            person.stdin.flush()
        rest = person.stdout.read()
        assert person.wait(10.0) == 0, rest.decode()
    assert b"written: " in rest
    assert {request.function for request in requests} <= {3, 4}
    description = load_text(path.read_text(), "found.toml")
    assert isinstance(description, ModbusDescription)
    assert {str(each) for each in description.measurands} == {"bank_volts", "bank_amps"}


def test_the_example_of_the_contributors_page_is_true() -> None:
    """A register table of an invented manual, and the description made of it."""
    page = (Path(__file__).parents[2] / "DEVELOPERS.md").read_text()
    section = page.partition("**A description in ten minutes")[2]
    text = section.partition("```toml\n")[2].partition("```")[0]
    description = load_text(text, "example.toml")
    assert isinstance(description, ModbusDescription)
    amps = -8500 & 0xFFFFFFFF
    words = {
        ("input", 10): 1342,
        ("input", 11): amps & 0xFFFF,
        ("input", 12): amps >> 16,
        ("holding", 101): 215,
    }
    figures = {str(key): figure for key, figure in description.decode(words).figures.items()}
    assert figures == {"bank_volts": 13.42, "bank_amps": 8.5, "bank_celsius": 21.5}
    assert not description.decode({("input", 10): 65535}).figures
