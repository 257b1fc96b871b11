"""`ampwright notify`: the user's own command for alarms, tried and looked after."""

from __future__ import annotations

import argparse

from monitor.commands.options import add_config, config_path
from monitor.mishaps import Refusal


def arguments(parser: argparse.ArgumentParser) -> None:
    add_config(parser)
    parser.add_argument(
        "--test", action="store_true", help="run the command now, with a message that says so"
    )


def run(arguments: argparse.Namespace) -> int:
    import time

    from monitor.config import load_config
    from monitor.notices import iso, trial_notice
    from monitor.notify import notify_folder, send_once
    from monitor.outbox import load_outbox
    from monitor.user_command import log_run

    config = load_config(config_path(arguments.config))
    notify, folder = config.notify, notify_folder()
    if not notify.command:
        raise Refusal(
            f'{config.name}: expected a command, found none; add [notify] and command = ["program"]'
        )
    log = folder / "command.log"
    if not arguments.test:
        waiting = load_outbox(folder / "waiting.json").waiting
        print(f"command: {' '.join(notify.command)}")
        print(f"waiting: {len(waiting)}")
        print(f"log: {log if log.exists() else 'none yet'}")
        print("try it with: ampwright notify --test")
        return 0
    wall = time.time()
    outcome = send_once(notify, trial_notice(wall), wall)
    folder.mkdir(parents=True, exist_ok=True)
    log_run(log, iso(wall), "test", outcome)
    if outcome.output.strip():
        print(outcome.output.rstrip("\n"))
    if not outcome.done:
        raise Refusal(f"{outcome.reason}; its output is in {log}")
    print(f"{notify.command[0]}: sent")
    return 0
