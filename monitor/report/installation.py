"""The installation as it was entered: batteries, sources, cables, fuses, instruments."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from monitor.commission.record import Charger, CommissionRecord, SetPoint
from monitor.report.document import Block, Heading, Pairs, Paragraph, Table
from monitor.report.making import Making
from monitor.report.told import NOT_GIVEN, amount, given

#: The check whose figure `held` is a set-point as measured.
_HELD_BY: Final = {"absorption": "absorption", "float": "float"}


def described(making: Making) -> Iterator[Block]:
    entered = making.record.installation
    yield Heading("The installation as described")
    yield Paragraph("As entered by whoever commissioned it; nothing here was measured.")
    yield Pairs(
        (
            ("Bank", given(entered.bank)),
            ("Chemistry", given(entered.chemistry)),
            ("Nominal", amount(entered.nominal_volts, "V")),
            ("Capacity, 20 h rate", amount(entered.amp_hours, "Ah")),
            ("In series, parallel", f"{_count(entered.series)}, {_count(entered.parallel)}"),
            ("Layout", given(entered.layout)),
            ("Large loads", given(", ".join(entered.large_loads))),
            ("Generator", given(entered.generator)),
            ("AC supply", "two legs and a neutral" if entered.split_supply else "one leg"),
            ("Note", entered.note.strip() or "none"),
        )
    )
    yield from _batteries(making.record)
    yield from _chargers(making.record)
    yield from _protection(making.record)
    yield from _cables(making.record)


def _count(number: int | None) -> str:
    return NOT_GIVEN if number is None else str(number)


def _batteries(record: CommissionRecord) -> Iterator[Block]:
    yield Heading("Batteries", 3)
    rows = tuple(
        (
            each.name,
            given(each.model),
            given(each.serial),
            given(each.date_code),
            f"{amount(each.nominal_volts, 'V')}, {amount(each.amp_hours, 'Ah')}",
            f"string {each.string}" if each.string is not None else NOT_GIVEN,
        )
        for each in record.installation.batteries
    )
    yield from _table(
        ("Battery", "Model", "Serial", "Date code", "Rating", "Place"),
        rows,
        (0.2, 0.18, 0.16, 0.14, 0.18, 0.14),
    )


def _chargers(record: CommissionRecord) -> Iterator[Block]:
    yield Heading("Chargers and other sources", 3)
    chargers = record.installation.chargers
    rows = tuple(
        (
            each.id,
            given(each.kind),
            given(each.model),
            f"{given(each.serial)}; {given(each.date_code)}",
            amount(each.rated_amps, "A"),
            _ac(each),
        )
        for each in chargers
    )
    yield from _table(
        ("Source", "Kind", "Model", "Serial; date code", "Rated", "AC side"),
        rows,
        (0.15, 0.13, 0.17, 0.2, 0.1, 0.25),
    )
    points = tuple(
        (
            each.id,
            point.name,
            amount(point.found, point.unit),
            amount(point.set, point.unit),
            _as_measured(record, each, point),
        )
        for each in chargers
        for point in each.set_points
    )
    if points:
        yield Heading("Set-points", 3)
        yield Paragraph(
            "Volts of the whole bank at 25 °C; compensation in mV for each °C and cell. As "
            "measured: at the bank's temperature of that hour."
        )
        yield Table(
            ("Source", "Set-point", "As found", "As set", "As measured"),
            points,
            (0.18, 0.24, 0.16, 0.16, 0.26),
        )


def _ac(charger: Charger) -> str:
    if charger.ac_volts is None:
        return "none" if charger.kind not in ("", "ac-charger") else NOT_GIVEN
    factor = "" if charger.power_factor is None else f", power factor {charger.power_factor:g}"
    whole = "" if charger.efficiency is None else f", efficiency {charger.efficiency:g}"
    return f"{charger.ac_volts:g} V{factor}{whole}"


def _as_measured(record: CommissionRecord, charger: Charger, point: SetPoint) -> str:
    key = f"{_HELD_BY.get(point.name, '')}@{charger.id}"
    for outcome in record.outcomes:
        if outcome.key == key:
            for each in outcome.figures:
                if each.name == "held":
                    return amount(round(each.figure, 2), each.unit)
    return "not measured"


def _protection(record: CommissionRecord) -> Iterator[Block]:
    rows = tuple(
        (each.name, given(each.model), given(each.serial), given(each.opens_at))
        for each in record.installation.protection
    )
    if rows:
        yield Heading("Protection of the battery", 3)
        yield Table(("Protection", "Model", "Serial", "Opens at"), rows, (0.25, 0.2, 0.2, 0.35))


def _cables(record: CommissionRecord) -> Iterator[Block]:
    yield Heading("Cables", 3)
    rows = tuple(
        (
            each.name,
            each.source or "the bank",
            given(each.conductor),
            amount(each.one_way_metres, "m"),
            amount(each.insulation_celsius, "°C"),
            given(each.crimps),
            amount(each.torque_newton_metres, "N m"),
        )
        for each in record.installation.cables
    )
    yield from _table(
        ("Cable", "Of", "Conductor", "One way", "Insulation", "Crimps", "Torque"),
        rows,
        (0.22, 0.13, 0.13, 0.11, 0.13, 0.17, 0.11),
    )


def instruments(making: Making) -> Iterator[Block]:
    entered = making.record.installation
    yield Heading("Instruments and ambient")
    rows = tuple(
        (
            each.name,
            given(each.serial),
            given(each.calibrated),
            given(each.unit),
            _error(each.share, each.digits, each.unit),
        )
        for each in entered.instruments
    )
    yield from _table(
        ("Instrument", "Serial", "Calibrated", "For", "Its own error"),
        rows,
        (0.24, 0.2, 0.2, 0.1, 0.26),
    )
    yield Pairs((("Ambient temperature", amount(entered.ambient_celsius, "°C")),))


def _error(share: float | None, digits: float | None, unit: str) -> str:
    if share is None:
        return "not given: a usual one was taken"
    return f"{100.0 * share:g} % of the reading and {digits or 0.0:g} {unit}".strip()


def breaking(making: Making) -> Iterator[Block]:
    yield Heading("Fuses, breakers and disconnects")
    rows = tuple(
        (
            each.name,
            given(each.kind),
            amount(each.amps, "A"),
            amount(each.dc_volts, "V DC"),
            amount(each.interrupting_amps, "A"),
            given(each.protects),
            given(each.place),
            {True: "yes", False: "NO", None: "not said"}[each.seen],
        )
        for each in making.record.installation.breaking
    )
    yield from _table(
        ("Name", "Kind", "Rating", "Volts", "Interrupts", "Protects", "Where", "Seen"),
        rows,
        (0.18, 0.11, 0.1, 0.1, 0.12, 0.14, 0.17, 0.08),
    )


def _table(
    columns: tuple[str, ...], rows: tuple[tuple[str, ...], ...], widths: tuple[float, ...]
) -> Iterator[Block]:
    if rows:
        yield Table(columns, rows, widths)
    else:
        yield Paragraph("None was entered.")
