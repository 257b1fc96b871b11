"""Remake the frozen names of OPC 10000-9 (alarms and conditions) from a library's own node ids.

    python -m tests.reference.remake_alarm_names [OUTDIR]

Needs asyncua (version in requirements.txt), whose node ids are generated from the published
NodeSet. OPC 10000-9 is designed to IEC 62682 and ISA-18.2 (its clause 1) and free to read, so its
names stand for theirs.
"""

from __future__ import annotations

import json
import re
import sys
from importlib.metadata import version
from pathlib import Path

from asyncua import ua

TYPES = (
    "ConditionType",
    "AcknowledgeableConditionType",
    "AlarmConditionType",
    "ShelvedStateMachineType",
    "LimitAlarmType",
    "AlarmMetricsType",
)
#: Parts of parts: what every state variable or method has.
DETAIL = re.compile(
    r"_|Placeholder|\d$|(Id|Name|Number|TransitionTime|TrueState|FalseState|Arguments)$"
)


def main() -> None:
    folder = Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parent / "frozen"
    ids = dir(ua.ObjectIds)
    rows = {
        kind: sorted(
            part
            for name in ids
            if name.startswith(f"{kind}_") and not DETAIL.search(part := name[len(kind) + 1 :])
        )
        for kind in TYPES
    }
    record = {
        "what": "names of alarm states, methods and properties of OPC 10000-9",
        "source": "node ids of the OPC UA NodeSet as carried by asyncua",
        "made_with": f"asyncua {version('asyncua')}",
        "types": rows,
    }
    path = folder / "opc_10000_9_names.json"
    path.write_text(json.dumps(record, indent=1, ensure_ascii=False) + "\n")


if __name__ == "__main__":
    main()
