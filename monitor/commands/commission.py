"""`ampwright commission`: a new installation proved, on the screen or as a talk in plain text."""

from __future__ import annotations

import argparse
import os
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from monitor.commands.attaching import add_socket, refuse_own, service_for
from monitor.commands.options import add_config, add_keeping, add_looks, config_of, on_a_terminal
from monitor.mishaps import Refusal

if TYPE_CHECKING:
    from monitor.attached import Attached
    from monitor.bank import Bank, Site
    from monitor.commission.procedure import Procedure
    from monitor.commission.record import CommissionRecord, Evidence
    from monitor.commission.session import Session
    from monitor.live import Live

#: Exit status where a defect stands; the lines say which.
DEFECTS = 1


def arguments(parser: argparse.ArgumentParser) -> None:
    add_config(parser)
    add_socket(parser)
    parser.add_argument("--bank", metavar="NAME", help="which bank, where there are several")
    parser.add_argument(
        "--installation", type=Path, metavar="FILE", help="what was installed (see --template)"
    )
    parser.add_argument(
        "--record",
        type=Path,
        metavar="FILE",
        help="where the outcomes are kept and gone on from (commissioning-BANK.json)",
    )
    parser.add_argument(
        "--capture", type=Path, metavar="NEW", help="record everything into a new capture"
    )
    parser.add_argument(
        "--play", type=Path, metavar="CAPTURE", help="a recording instead of the devices"
    )
    add_keeping(parser)
    parser.add_argument("--headless", action="store_true", help="in plain text, no screen")
    parser.add_argument("--list", action="store_true", help="print the checks and their limits")
    parser.add_argument(
        "--template", action="store_true", help="print an installation file to fill in"
    )
    parser.add_argument(
        "--who", default=os.environ.get("USER") or "installer", help=argparse.SUPPRESS
    )
    add_looks(parser)


def run(arguments: argparse.Namespace) -> int:
    if arguments.play is not None:
        return _play(arguments)
    if arguments.list or arguments.template:
        return _print(arguments)
    service = service_for(arguments)
    return _acquire(arguments) if service is None else _attach(service, arguments)


def _print(arguments: argparse.Namespace) -> int:
    """The checks, or an installation file to fill in; no device is touched."""
    site = config_of(arguments.config, devices=False).site
    bank = _bank(arguments.bank, site)
    if arguments.template:
        from monitor.commission.installation_file import template

        print(template(site, bank), end="")
        return 0
    return _list(_procedure(arguments, site, bank, _path(arguments, bank))[0])


def _acquire(arguments: argparse.Namespace) -> int:
    """The devices read here; nobody else reads them meanwhile."""
    from monitor.entries import entries_folder
    from monitor.live import Live
    from monitor.service.owner import owning

    config = config_of(arguments.config)
    bank = _bank(arguments.bank, config.site)
    path = _path(arguments, bank)
    procedure, kept = _procedure(arguments, config.site, bank, path)
    with owning(config.name, "commission"):
        live = Live(
            config,
            capture_path=arguments.capture,
            state_path=arguments.state,
            entries=entries_folder(),
        )
        session = _session(live, procedure, path, arguments.who, _unread(arguments.capture, kept))
        _hold(live, session, arguments)
        from monitor.commands.screens import ended_well

        ended_well(live)
    if arguments.capture is not None:
        from monitor.commission.session import evidence_of

        session.evidence = evidence_of(arguments.capture, 0.0, live.now())
        session.save()
    return _told(session.procedure)


def _attach(service: Path, arguments: argparse.Namespace) -> int:
    """Beside a running service: it reads the devices, and keeps in its record what is said here."""
    from monitor.attached import Attached
    from monitor.service.caller import call

    refuse_own(arguments, service, "capture", "state")
    greeted = call(service)
    bank = _bank(arguments.bank, greeted.site)
    path = _path(arguments, bank)
    procedure, kept = _procedure(arguments, greeted.site, bank, path)
    feed = Attached(greeted)
    session = _session(feed, procedure, path, arguments.who, _unread(None, kept))
    _hold(feed, session, arguments)
    return _told(session.procedure)


def _session(
    feed: Live | Attached, procedure: Procedure, path: Path, who: str, evidence: Evidence
) -> Session:
    """Refused at once where its record cannot be written."""
    from monitor.commission.session import Session

    session = Session(feed, procedure, path, who, evidence)
    session.save()
    if session.trouble:
        raise Refusal(session.trouble)
    return session


def _hold(feed: Live | Attached, session: Session, arguments: argparse.Namespace) -> None:
    """The talk or the screen, until the person leaves."""
    if arguments.headless or not on_a_terminal():
        from monitor.commands.commission_headless import talk

        talk(feed, session)
        return
    from monitor.commands.screens import dashboard
    from monitor.commission.attended import Attended

    dashboard(Attended(feed, session), arguments, cautions=True)


def _play(arguments: argparse.Namespace) -> int:
    """What a recording proves: what was said is in it, so nothing is asked."""
    from monitor.recorded import open_recorded

    recorded = open_recorded(arguments.play)
    bank = _bank(arguments.bank, recorded.site)
    procedure, _ = _procedure(arguments, recorded.site, bank, arguments.record)
    if arguments.list:
        return _list(procedure)
    from monitor.commission.session import evidence_of

    evidence = evidence_of(arguments.play, recorded.recording.start, recorded.recording.end)
    if arguments.headless or not on_a_terminal():
        from monitor.commands.commission_headless import play

        play(recorded, procedure, arguments.record, evidence)
        return _told(procedure)
    from monitor.commands.screens import SCREEN_RATE, dashboard
    from monitor.commission.attended import Attended
    from monitor.commission.session import Session
    from monitor.played import Played
    from replay.player import Player

    feed = Played(Player(recorded.recording, SCREEN_RATE), recorded.site, recorded.state)
    session = Session(feed, procedure, arguments.record, arguments.who, evidence)
    dashboard(Attended(feed, session), arguments, cautions=False)
    return _told(procedure)


def _procedure(
    arguments: argparse.Namespace, site: Site, bank: Bank, path: Path | None
) -> tuple[Procedure, CommissionRecord | None]:
    """Every check of the bank, gone on with where a record lies."""
    from monitor.commission.installation_file import completed, from_site, read_installation
    from monitor.commission.procedure import Procedure
    from monitor.commission.record_file import load_record
    from monitor.commission.setting import Setting
    from monitor.software import software

    kept = load_record(path) if path is not None and not arguments.list else None
    if arguments.installation is not None:
        text = _text(arguments.installation)
        entered = completed(read_installation(text, str(arguments.installation)), site, bank)
    elif kept is not None:
        entered = kept.installation
    else:
        entered = from_site(site, bank)
    if kept is not None and kept.installation.bank not in ("", bank.id):
        raise Refusal(
            f'{path}: is of bank "{kept.installation.bank}", not "{bank.id}"; '
            "name another file: --record FILE"
        )
    setting = Setting(site, bank, entered)
    capture = arguments.play or arguments.capture
    name = capture.name if capture is not None else ""
    return Procedure(setting, kept, software=software(), capture=name), kept


def _text(path: Path) -> str:
    try:
        return path.read_text(encoding="utf-8", errors="replace")
    except FileNotFoundError:
        raise Refusal(
            f"{path}: expected an installation file, found none; write one with: "
            f"ampwright commission --template > {path}"
        ) from None


def _unread(capture: Path | None, kept: CommissionRecord | None) -> Evidence:
    """Evidence while its capture is still written: what was known before, else its name."""
    from monitor.commission.record import Evidence

    if capture is not None:
        return Evidence(capture.name)
    return kept.evidence if kept is not None else Evidence()


def _path(arguments: argparse.Namespace, bank: Bank) -> Path:
    from monitor.commission.session import record_path

    return arguments.record if arguments.record is not None else record_path(bank.id)


def _list(procedure: Procedure) -> int:
    from monitor.words.commission import listed

    for item in procedure.items:
        for line in listed(item):
            print(line)
    return 0


def _told(procedure: Procedure) -> int:
    from monitor.words.commission import summary

    outcomes = procedure.outcomes()
    for line in summary(outcomes):
        print(line)
    sys.stdout.flush()
    from monitor.commission.record import Verdict

    failed = any(each.verdict is Verdict.FAIL for each in outcomes)
    return DEFECTS if failed else 0


def _bank(name: str | None, site: Site) -> Bank:
    names = [bank.id for bank in site.banks]
    if name is None and len(names) == 1:
        return site.banks[0]
    if name not in names:
        found = f'"{name}"' if name else "none"
        raise Refusal(f"--bank: expected one of {', '.join(names)}, found {found}")
    return site.bank(name)
