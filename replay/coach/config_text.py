"""A scenario's configuration as its owner would have written it, for the header of a capture.

Only what an owner can know goes in: the label, the set-points of the source that matters most,
who is who. What the bank has lost with age, and every fault, stays out.
"""

from __future__ import annotations

from collections.abc import Iterator

from replay.coach.models import BankModel, DeviceModel, Settings, SourceModel
from replay.coach.scenario import Scenario


def config_text(scenario: Scenario, capture: str = "") -> str:
    """TOML of the whole coach; its devices play `capture` (default: named as the scenario)."""
    lines = [f"# {scenario.words}.", f"# Simulated with seed {scenario.seed}.", "[site]"]
    lines += [f"latitude = {scenario.latitude:g}", f"longitude = {scenario.longitude:g}", ""]
    lines += _bank(scenario.bank, scenario.standing_amps)
    if scenario.set_points_known and scenario.sources:
        lines += _set_points(scenario.bank.id, _leading(scenario.sources))
    for source in scenario.sources:
        lines += _source(source, scenario.bank.id)
    name = capture or f"{scenario.name}.capture.gz"
    for device in scenario.devices:
        lines += _device(device, scenario, name)
    return "\n".join(lines).rstrip() + "\n"


def _leading(sources: tuple[SourceModel, ...]) -> Settings:
    """Whose set-points stand for the bank: the first source's."""
    return sources[0].settings


def _bank(bank: BankModel, standing_amps: float | None) -> Iterator[str]:
    yield f"[banks.{bank.id}]"
    yield f'chemistry = "{bank.chemistry}"'
    yield f"nominal_volts = {bank.nominal_volts}"
    yield f"amp_hours = {bank.amp_hours:g}"
    if bank.lowest_soc is not None:
        yield f"lowest_soc = {bank.lowest_soc:g}"
    if standing_amps is not None:
        yield f"standing_amps = {standing_amps:g}"
    yield ""


def _set_points(bank: str, settings: Settings) -> Iterator[str]:
    if settings.fixed:
        return
    yield f"[banks.{bank}.set_points]"
    figures = (
        ("absorption", settings.absorption),
        ("float", settings.float_),
        ("low_hold", settings.low_hold),
        ("equalize", settings.equalize),
        ("compensation_mv_per_celsius_per_cell", settings.compensation_mv),
        ("end_of_charge_amps", settings.end_amps),
        ("end_of_charge_seconds", None if settings.end_amps is None else settings.end_seconds),
        ("absorption_hours", settings.absorption_hours),
    )
    for key, figure in figures:
        if figure is not None:
            yield f"{key} = {figure:g}"
    low, high = settings.compensation_celsius
    yield f"compensation_celsius = [{low:g}, {high:g}]"
    yield ""


def _source(source: SourceModel, bank: str) -> Iterator[str]:
    yield f"[sources.{source.id}]"
    yield f'bank = "{bank}"'
    yield f'kind = "{source.kind}"'
    yield f"rated_amps = {source.rated_amps:g}"
    yield ""


def _device(device: DeviceModel, scenario: Scenario, capture: str) -> Iterator[str]:
    owners = {sensor.owner for sensor in device.sensors if sensor.owner is not None}
    sources = sorted(owners & {source.id for source in scenario.sources})
    if device.words:
        yield f"# {device.words}"
    yield f"[devices.{device.name}]"
    yield 'adapter = "replay"'
    yield f'capture = "{capture}"'
    yield f'device = "{device.name}"'
    yield f"period_seconds = {device.period_seconds:g}"
    yield f'bank = "{scenario.bank.id}"'
    if sources:
        yield f'source = "{sources[0]}"'
    yield ""
