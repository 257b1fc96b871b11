"""The tables [computer] and [lay_up]: the computer that watches as a load, and months without crew.

[computer]
watts = 4.5                  # what it draws, with its adapters and screen, as a meter says
bank = "house"               # left out where there is one bank
through_shunt = true         # false: the shunt does not see it: counted as standing_amps
slow_seconds = 60            # below the lowest planned charge devices are polled so often; 0: no
last_soc = 0.1               # at this charge: last words, and the end
last_volts = 11.0            # or at this voltage while nothing charges
shut_down = false            # and then this machine is shut down, by the command below
shut_down_command = ["systemctl", "poweroff"]

[lay_up]
on = true                    # nobody lives aboard: what only they could use is not told
poll_seconds = 60            # devices are polled so often
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

from monitor.bank import Bank, Override
from monitor.config_keys import Key, Problems, number, read_table, text, truth
from monitor.config_notify import a_command

#: A few watts empty a bank in weeks; above this it is no small computer any more.
MOST_WATTS: Final = 500.0

COMPUTER: Final[Mapping[str, Key]] = {
    "watts": number("watts above 0 up to 500", 0.0, MOST_WATTS, above=True),
    "bank": text("the name of a bank"),
    "through_shunt": Key("true or false", truth),
    "slow_seconds": number("seconds from 0 (as ever) to 600", 0.0, 600.0, "it is in seconds"),
    "last_soc": number(
        "a fraction above 0 up to 0.9", 0.0, 0.9, "write a fraction: 0.1 for 10 %", above=True
    ),
    "last_volts": number("volts of the whole bank above 0 up to 60", 0.0, 60.0, above=True),
    "shut_down": Key("true or false", truth),
    "shut_down_command": Key("a program and its arguments, as a list", a_command),
}

LAY_UP: Final[Mapping[str, Key]] = {
    "on": Key("true or false", truth),
    "poll_seconds": number("seconds from 1 to 600", 1.0, 600.0, "it is in seconds"),
}

#: What nobody can use while nobody lives aboard: rows of charging by day, of loads and of comfort.
#: Heat, frost, over-voltage, emptiness, protection and everything of the devices stay.
IDLE_ROWS: Final = (
    "absorption-cut-short",
    "charge-in-vain",
    "charge-interrupted",
    "inverter-cut-off-near",
    "no-float-after-full",
    "not-full-for-days",
    "source-gives-less",
    "sources-share-unevenly",
    "sun-blocked",
)

#: Shares of the nominal volts between which last words make sense (common practice: 10.5 to 12.5 V
#: of 12 V).
_LAST_SHARE: Final = (0.8, 1.06)


@dataclass(frozen=True, slots=True)
class Computer:
    """The computer as a load on the bank it guards; `bank` is None where none was named.

    `slow_seconds` 0: never slower. `last_soc`, `last_volts` None: it goes on to the very end.
    """

    watts: float | None = None
    bank: str | None = None
    through_shunt: bool = True
    slow_seconds: float = 60.0
    last_soc: float | None = None
    last_volts: float | None = None
    shut_down: bool = False
    shut_down_command: tuple[str, ...] = ("systemctl", "poweroff")
    #: Seconds between polls while laid up; None: somebody lives aboard.
    lay_up_seconds: float | None = None


def read_computer(
    top: Mapping[str, object],
    banks: Mapping[str, Mapping[str, object]],
    known: Sequence[str] | None,
    problems: Problems,
) -> Computer:
    """Both tables as they are meant; what is wrong with them becomes a problem.

    `known` are the names of the banks, None where these are wrong already.
    """
    before = len(problems.found)
    values = read_table(_table(top, "computer"), COMPUTER, ("computer",), problems)
    season = read_table(_table(top, "lay_up"), LAY_UP, ("lay_up",), problems)
    if len(problems.found) > before:
        return Computer()
    if known is None:
        return Computer()
    bank = values.get("bank", known[0] if len(known) == 1 else None)
    if values and bank not in known:
        found = f'"{bank}"' if bank else "none"
        advice = f"known are {', '.join(known)}"
        problems.add(("computer", "bank"), "the name of a bank", found, advice)
        return Computer()
    computer = Computer(**{**values, "bank": bank if values else None})
    _check(computer, banks.get(bank or "", {}), problems)
    if season.get("on", False):
        computer = replace(computer, lay_up_seconds=season.get("poll_seconds", 60.0))
    return computer


def _table(top: Mapping[str, object], name: str) -> Mapping[str, object]:
    table = top.get(name, {})
    return table if isinstance(table, Mapping) else {}


def _check(computer: Computer, bank: Mapping[str, object], problems: Problems) -> None:
    nominal, volts = bank.get("nominal_volts"), computer.last_volts
    if volts is not None and isinstance(nominal, int):
        low, high = (share * nominal for share in _LAST_SHARE)
        if not low <= volts <= high:
            problems.add(
                ("computer", "last_volts"),
                f"{low:g} to {high:g} V for a bank of {nominal} V",
                f"{volts:g}",
                "give the volts of the whole bank",
            )
    lowest, last = bank.get("lowest_soc"), computer.last_soc
    if last is not None and isinstance(lowest, int | float) and last >= lowest:
        problems.add(
            ("computer", "last_soc"),
            f"less than the lowest_soc of the bank, {lowest:g}",
            f"{last:g}",
            "last words come after everything else",
        )
    if computer.shut_down and computer.last_soc is None and volts is None:
        problems.add(
            ("computer", "shut_down"), "last_soc or last_volts beside it", "neither", "add one"
        )


def drawing(bank: Bank, computer: Computer) -> Bank:
    """The bank with what this computer draws from it, and with nobody living on it, as told.

    What the shunt does not see is counted as a standing draw, unless the owner gave one: his
    figure holds this computer's too.
    """
    bank = replace(bank, laid_up=computer.lay_up_seconds is not None)
    if computer.bank != bank.id or computer.watts is None:
        return bank
    bank = replace(bank, own_watts=computer.watts)
    if computer.through_shunt or bank.standing_amps is not None:
        return bank
    return replace(bank, standing_amps=computer.watts / bank.nominal_volts)


def lay_up_overrides(computer: Computer) -> tuple[Override, ...]:
    """The rows that are not judged while nobody lives aboard; the owner's own limits come after."""
    if computer.lay_up_seconds is None:
        return ()
    return tuple(Override(name, off=True) for name in IDLE_ROWS)
