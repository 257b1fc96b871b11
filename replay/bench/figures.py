"""What a device that is played has to tell at this moment: figures by what they measure.

Figures go by quantity alone on the wire, while a recording knows whose they are; where it holds
several banks, sources or devices, the one that is played must be named.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Final

from adapters.conversion import Measurand
from adapters.reading import QUANTITIES, Channel, Input, LinkState, Reading, Scope
from replay.recording import Recording

#: What a person writes to name the one that is played (`--bank` names a file everywhere else).
_OPTIONS: Final = {"bank": "--of", "source": "--source"}

_OF_BANK: Final = frozenset({Scope.BANK, Scope.CELL})


class BenchError(Exception):
    """The bench cannot be set up; the text is one line with what to do."""


@dataclass(frozen=True, slots=True)
class Chosen:
    """Whose figures of a recording the bench tells. None: the only one there is."""

    device: str | None = None
    bank: str | None = None
    source: str | None = None


class Figures:
    """The newest figures of the chosen device, and whether it is silent.

    Each reading replaces all that its device told before: a figure that is missing from it is
    missing from then on. `last` has each figure as it was last told, or first will be.
    """

    def __init__(
        self,
        recording: Recording,
        measurands: Iterable[Measurand],
        chosen: Chosen,
        name: str = "",
    ) -> None:
        self._name = name or recording.title
        self._wanted = frozenset(measurands)
        self._chosen = chosen
        self._by_device: dict[str, dict[Measurand, float | str]] = {}
        self._silent: set[str] = set()
        self.last: dict[Measurand, float | str] = {}
        self._devices = self._look_through(recording)

    @property
    def silent(self) -> bool:
        """Every device that is played was silent here in the recording."""
        return self._devices <= self._silent

    @property
    def now(self) -> dict[Measurand, float | str]:
        merged: dict[Measurand, float | str] = {}
        for device, figures in self._by_device.items():
            if device not in self._silent:
                merged.update(figures)
        return merged

    def take(self, value: Input) -> bool:
        """Whether anything that the device tells may have changed."""
        match value:
            case Reading() if value.device in self._devices:
                self._by_device[value.device] = dict(self._told(value))
                self.last.update(self._by_device[value.device])
                self._silent.discard(value.device)
                return True
            case LinkState() if value.device in self._devices:
                (self._silent.discard if value.up else self._silent.add)(value.device)
                return True
        return False

    def _told(self, reading: Reading) -> Iterator[tuple[Measurand, float | str]]:
        for channel, figure in reading.values:
            measurand = _measurand(channel)
            if measurand in self._wanted and self._is_chosen(channel):
                yield measurand, figure

    def _is_chosen(self, channel: Channel) -> bool:
        wanted = self._chosen.bank if _is_of_bank(channel) else self._chosen.source
        return wanted is None or _owner(channel) == wanted

    def _look_through(self, recording: Recording) -> set[str]:
        """The devices that tell something wanted; refuses what would have to be guessed."""
        devices: set[str] = set()
        owners: dict[str, set[str]] = {"bank": set(), "source": set()}
        there: dict[str, set[str]] = {"device": set(), "bank": set(), "source": set()}
        for value in recording.inputs():
            if not isinstance(value, Reading):
                continue
            there["device"].add(value.device)
            for channel, _ in value.values:
                there["bank" if _is_of_bank(channel) else "source"].add(_owner(channel))
            if self._chosen.device not in (None, value.device):
                continue
            for channel, figure in value.values:
                measurand = _measurand(channel)
                if measurand in self._wanted and self._is_chosen(channel):
                    devices.add(value.device)
                    owners["bank" if _is_of_bank(channel) else "source"].add(_owner(channel))
                    self.last.setdefault(measurand, figure)
        self._refuse_unknown(there)
        for kind, found in owners.items():
            if len(found) > 1:
                listed = ", ".join(sorted(found))
                raise BenchError(
                    f"{self._name}: holds the {kind}s {listed}; "
                    f"name the one to serve with {_OPTIONS[kind]}"
                )
        if not devices:
            wanted = ", ".join(str(measurand) for measurand in sorted(self._wanted))
            of = f" of {self._named()}" if self._named() else ""
            raise BenchError(
                f"{self._name}: holds nothing{of} that the description tells ({wanted}); "
                "choose another recording or description"
            )
        return devices

    def _refuse_unknown(self, there: dict[str, set[str]]) -> None:
        """Whoever was chosen must be in the recording."""
        chosen = {
            "device": self._chosen.device,
            "bank": self._chosen.bank,
            "source": self._chosen.source,
        }
        for kind, name in chosen.items():
            if name is not None and name not in there[kind]:
                known = ", ".join(sorted(there[kind])) or "none"
                raise BenchError(
                    f"{_OPTIONS.get(kind, '--device')}: expected a {kind} of {self._name} "
                    f'({known}), found "{name}"'
                )

    def _named(self) -> str:
        named = (
            ("device", self._chosen.device),
            ("bank", self._chosen.bank),
            ("source", self._chosen.source),
        )
        return ", ".join(f"{kind} {name}" for kind, name in named if name)


def _is_of_bank(channel: Channel) -> bool:
    return QUANTITIES[channel.quantity].scope in _OF_BANK


def _owner(channel: Channel) -> str:
    """The bank or source, without the number of a cell."""
    if QUANTITIES[channel.quantity].scope is Scope.CELL:
        return channel.owner.rpartition("#")[0]
    return channel.owner


def _measurand(channel: Channel) -> Measurand:
    if QUANTITIES[channel.quantity].scope is Scope.CELL:
        number = channel.owner.rpartition("#")[2]
        return Measurand(channel.quantity, int(number) if number.isdecimal() else None)
    return Measurand(channel.quantity)
