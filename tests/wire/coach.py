"""The coach of these tests: three known banks, each on a wire of its own, and its configuration."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from tests.wire.bench_process import BenchProcess
from tests.wire.known import BANKS, KnownBank


@dataclass(slots=True)
class Coach:
    """`config` names the devices of all banks; each is at the same place however often it dies."""

    folder: Path
    config: Path
    devices: dict[str, BenchProcess]

    def device(self, bank: KnownBank) -> BenchProcess:
        return self.devices[bank.device]

    @property
    def environment(self) -> dict[str, str]:
        """For programs: clock times in UTC, nothing of the person's own, the cautions read."""
        state = self.folder / "state" / "ampwright"
        state.mkdir(parents=True, exist_ok=True)
        (state / "cautions-read").touch()
        return {
            "TZ": "UTC",
            "HOME": str(self.folder),
            "XDG_STATE_HOME": str(self.folder / "state"),
            "XDG_CONFIG_HOME": str(self.folder / "config"),
        }

    def of(self, bank: KnownBank) -> Path:
        """A configuration with but one of the banks."""
        path = self.folder / f"{bank.bank}.toml"
        path.write_text(_text(bank, self.device(bank)), encoding="utf-8")
        return path

    def all_running(self) -> None:
        """Whatever a test did to the devices, the next one finds them alive."""
        for device in self.devices.values():
            device.start_again()

    def end(self) -> None:
        for device in self.devices.values():
            device.end()


def coach_in(folder: Path) -> Coach:
    """Start every device and write the configuration that reaches them."""
    devices = {bank.device: BenchProcess.of(bank, folder) for bank in BANKS}
    coach = Coach(folder, folder / "coach.toml", devices)
    try:
        for device in devices.values():
            device.start()
    except BaseException:
        coach.end()
        raise
    text = "".join(_text(bank, devices[bank.device]) for bank in BANKS)
    coach.config.write_text(text, encoding="utf-8")
    return coach


def _text(bank: KnownBank, device: BenchProcess) -> str:
    return bank.config + device.config(bank.device, f"{bank.device}.toml", bank.bank) + "\n"
