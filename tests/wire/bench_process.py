"""`ampwright bench` as a process of its own: frozen, killed, started again, like a device."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
from pathlib import Path
from typing import Any, Final

from tests.wire.known import KnownBank
from tests.wire.waiting import START_SECONDS, until

#: The command as it is installed beside the interpreter that runs the tests.
AMPWRIGHT: Final = Path(sys.executable).with_name("ampwright")


class BenchProcess:
    """One device on the wire. Started anew it is at the same place: its address in a config."""

    def __init__(self, recording: Path, description: Path, wire: str, *more: str) -> None:
        self._folder = description.parent
        self._name = f"{recording.name}-{wire}".replace(".", "-")
        self._words = [str(recording), "--description", str(description), "--wire", wire, *more]
        self.wire = wire
        self.link = self._folder / f"port-of-{self._name}"
        self._port = 0
        self._process: subprocess.Popen[bytes] | None = None
        self.place: dict[str, Any] = {}

    @classmethod
    def of(cls, bank: KnownBank, folder: Path) -> BenchProcess:
        """The device that measures a known bank."""
        description = folder / f"{bank.device}.toml"
        description.write_text(bank.description, encoding="utf-8")
        return cls(bank.table(folder), description, bank.wire, "--loop")

    def start(self) -> None:
        """Start it and wait until it can be reached."""
        where = ["--port", str(self._port)] if self.wire == "modbus-tcp" else []
        where += ["--link", str(self.link)] if self.wire != "modbus-tcp" else []
        out, err = self._folder / f"{self._name}.out", self._folder / f"{self._name}.err"
        with out.open("wb") as told, err.open("wb") as said:
            self._process = subprocess.Popen(
                [AMPWRIGHT, "bench", *self._words, *where],
                stdin=subprocess.DEVNULL,
                stdout=told,
                stderr=said,
            )
        line = until(
            lambda: out.read_text() if out.read_bytes().endswith(b"\n") else "",
            START_SECONDS,
            f"bench {self.wire} can be reached",
            err.read_text,
        )
        self.place = json.loads(line)
        self._port = self.place.get("port", 0) if self.wire == "modbus-tcp" else 0

    def freeze(self) -> None:
        """Stop it in the middle of whatever it does: it is there, and answers nothing."""
        os.kill(self._alive().pid, signal.SIGSTOP)

    def thaw(self) -> None:
        os.kill(self._alive().pid, signal.SIGCONT)

    def kill(self) -> None:
        """As by pulling its plug: it has no moment to close anything."""
        process = self._alive()
        process.kill()
        process.wait()
        self._process = None

    def start_again(self) -> None:
        """Start it where it is dead, let it go on where it is frozen."""
        if self._process is None:
            self.start()
        else:
            self.thaw()

    def end(self) -> None:
        if self._process is not None:
            self.kill()

    def config(self, name: str, description: str, bank: str) -> str:
        """Its table in a configuration."""
        options = "".join(f"{key} = {json.dumps(value)}\n" for key, value in self.place.items())
        return f'\n[devices.{name}]\n{options}description = "{description}"\nbank = "{bank}"\n'

    def _alive(self) -> subprocess.Popen[bytes]:
        assert self._process is not None, "not started"
        assert self._process.poll() is None, "has ended by itself"
        return self._process
