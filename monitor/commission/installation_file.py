"""The installation as entered: a TOML file, written at a table and not on a phone.

Its keys are the fields of `record.Installation`; a wrong one is refused with its place. `template`
writes one to fill in for a site, with what the configuration knows already.
"""

from __future__ import annotations

import dataclasses
import difflib
import tomllib
import typing
from collections.abc import Iterator
from typing import Any

from monitor.bank import Bank, Site
from monitor.commission.record import Installation, OwnLimits
from monitor.commission.record_file import NotMeantError, value_of
from monitor.mishaps import Refusal


def read_installation(text: str, name: str) -> Installation:
    """Refusal in one line, which begins with `name`."""
    try:
        document = tomllib.loads(text)
    except (ValueError, RecursionError) as error:  # no TOML, or a number of thousands of digits
        raise Refusal(f"{name}: expected TOML: {str(error).splitlines()[0]}") from None
    _refuse_unknown(Installation, document, name)
    try:
        return value_of(Installation, document, name)
    except NotMeantError as error:
        raise Refusal(f"{error}; see: ampwright commission --template") from None


def from_site(site: Site, bank: Bank) -> Installation:
    """What the configuration tells, where nothing was entered."""
    chemistry = bank.chemistry
    cells = bank.cells
    high = (chemistry.equalize or chemistry.absorption).high * cells
    del site
    return Installation(
        bank=bank.id,
        chemistry=chemistry.name,
        nominal_volts=bank.nominal_volts,
        amp_hours=bank.amp_hours,
        series=bank.series,
        parallel=bank.parallel,
        limits=OwnLimits(
            highest_volts=round(high, 2),
            lowest_volts=round(chemistry.rest_volts[0][1] * cells, 2),
            charge_amps=chemistry.charge_amps * bank.amp_hours,
            charge_low_celsius=chemistry.charge_celsius[0],
            charge_high_celsius=chemistry.charge_celsius[1],
            source=f"usual for {chemistry.words}: its own sheet was not entered",
        ),
    )


def completed(entered: Installation, site: Site, bank: Bank) -> Installation:
    """What was entered, with the configuration where it says nothing of the bank."""
    plain = from_site(site, bank)
    names = ("bank", "chemistry", "nominal_volts", "amp_hours", "series", "parallel")
    missing = {n: getattr(plain, n) for n in names if getattr(entered, n) in ("", None)}
    if entered.limits == OwnLimits():
        missing["limits"] = plain.limits
    return dataclasses.replace(entered, **missing)


def _refuse_unknown(kind: Any, document: dict[str, Any], where: str) -> None:
    hints = typing.get_type_hints(kind)
    for key, value in document.items():
        if key not in hints:
            close = difflib.get_close_matches(key, hints, n=1)
            advice = f'did you mean "{close[0]}"' if close else f"one of {', '.join(hints)}"
            raise Refusal(f'{where}: expected a known key, found "{key}"; {advice}')
        inner = hints[key]
        if typing.get_origin(inner) is tuple:
            inner = typing.get_args(inner)[0]
        if not dataclasses.is_dataclass(inner):
            continue
        many = value if isinstance(value, list) else [value]
        for number, each in enumerate(many):
            if isinstance(each, dict):
                place = f"{where}: {key}" + (f"[{number}]" if isinstance(value, list) else "")
                _refuse_unknown(inner, each, place)


def template(site: Site, bank: Bank) -> str:
    """A file to fill in. What is left commented out is told as not entered."""
    return "\n".join(_lines(site, bank)) + "\n"


def _lines(site: Site, bank: Bank) -> Iterator[str]:
    yield "# The installation as it stands. Lengths are one way, there only, in metres."
    yield 'name = ""'
    yield 'who = ""                      # who commissions'
    yield 'owner = ""'
    yield "# ambient_celsius = 20.0"
    yield '# large_loads = ["inverter", "water heater"]   # switched one at a time'
    yield '# generator = ""               # its label, if there is one'
    yield "# split_supply = true          # AC on two legs and a neutral"
    yield "# ac_hertz = 60.0              # 60 with 120 V, 50 with 230 V unless told here"
    strings = bank.parallel or 1
    for string in range(1, strings + 1):
        for place in range(1, (bank.series or 1) + 1):
            yield ""
            yield "[[batteries]]"
            yield f'name = "string {string} battery {place}"'
            yield f"string = {string}"
            yield '# model = ""'
            yield '# serial = ""'
            yield '# date_code = ""'
            yield f"# nominal_volts = {bank.nominal_volts / (bank.series or 1):.1f}"
            yield f"# amp_hours = {bank.amp_hours / strings:.1f}"
    for source in site.sources:
        if source.bank == bank.id:
            yield from _source_lines(source.id, str(source.kind))
    yield from _rest_lines()


def _source_lines(source: str, kind: str) -> Iterator[str]:
    yield ""
    yield "[[chargers]]"
    yield f'id = "{source}"'
    yield f'kind = "{kind}"'
    yield '# serial = ""'
    yield '# date_code = ""'
    yield "# rated_amps = 40.0"
    if kind == "ac-charger":
        yield "# ac_volts = 120.0"
        yield "# power_factor = 0.95          # by its sheet"
        yield "# efficiency = 0.88"
    for name in ("absorption", "float", "compensation", "absorption hours"):
        unit = {"compensation": "mV", "absorption hours": "h"}.get(name, "V")
        yield "# [[chargers.set_points]]       # compensation: mV per °C and cell"
        yield f'# name = "{name}"'
        yield f'# unit = "{unit}"'
        yield "# found = 0.0"
        yield "# set = 0.0"
    yield ""
    yield "[[cables]]"
    yield f'name = "{source} to bank"'
    yield f'source = "{source}"'
    yield '# conductor = "2 AWG"           # or "35 mm2"'
    yield "# one_way_metres = 3.0"
    yield '# crimps = "hexagonal, each pulled"'
    yield "# torque_newton_metres = 9.0"


def _rest_lines() -> Iterator[str]:
    yield ""
    yield "# [[protection]]                # what opens by itself"
    yield '# name = "battery protection"'
    yield '# serial = ""'
    yield '# opens_at = ""'
    yield ""
    yield "# [[breaking]]                  # each fuse, breaker and disconnect"
    yield '# name = "bank fuse"'
    yield '# kind = "fuse"'
    yield "# amps = 200.0"
    yield "# dc_volts = 58.0"
    yield "# interrupting_amps = 10000.0"
    yield '# place = "at the positive post"'
    yield ""
    yield "# [[instruments]]               # share of the reading and digits, as on its sheet"
    yield '# name = "multimeter"'
    yield '# serial = ""'
    yield '# calibrated = "2026-01-31"'
    yield '# unit = "V"                    # one table each for V, mV, A, °C'
    yield "# share = 0.005"
    yield "# digits = 0.01"
    yield ""
    yield "# [limits]                      # the battery's own, from its sheet, of the whole bank"
    yield "# highest_volts = 14.8"
    yield "# lowest_volts = 10.5"
    yield "# charge_amps = 60.0"
    yield "# discharge_amps = 200.0"
    yield "# charge_low_celsius = 0.0"
    yield "# charge_high_celsius = 50.0"
    yield '# source = "its data sheet"'
