"""Libraries that only some need, and the command that installs each where this program runs.

Two environments are easily confused: the system's `pip` puts nothing into a checkout's own. So the
command names the very Python that runs, and the library itself; a test holds the versions to those
of pyproject.toml.
"""

from __future__ import annotations

import shlex
import sys
from typing import Final

EXTRAS: Final = {
    "can": "python-can==4.6.1",
    "mqtt": "aiomqtt==2.5.1",
    "parquet": "pyarrow==22.0.0",
    "report": "reportlab==5.1.0",
    "web": "textual-serve==1.1.3",
}


def install(extra: str) -> str:
    """`/home/ann/ampwright/.venv/bin/python -m pip install aiomqtt==2.5.1`."""
    return f"{shlex.quote(sys.executable or 'python3')} -m pip install {EXTRAS[extra]}"
