"""The engine is pure: nothing below it reads a clock, a file, a socket, or shows anything.

Twice proved: by the source of every module in `monitor/engine`, and by what a fresh interpreter
has loaded once the engine is imported.
"""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import monitor.engine.engine

ENGINE = Path(monitor.engine.engine.__file__).parent

#: All that a pure module may import from outside the project.
ALLOWED = frozenset(
    {
        "__future__",
        "bisect",
        "collections",
        "collections.abc",
        "dataclasses",
        "copy",
        "enum",
        "functools",
        "itertools",
        "math",
        "operator",
        "types",
        "typing",
    }
)
OURS = ("adapters.reading", "monitor.bank", "monitor.engine")
FORBIDDEN_CALLS = frozenset(
    {"open", "print", "input", "exec", "eval", "compile", "__import__", "breakpoint", "id", "hash"}
)
#: What must not be loaded by importing the engine, beyond what the interpreter loads itself.
FORBIDDEN_MODULES = frozenset(
    {
        "asyncio",
        "concurrent.futures",
        "csv",
        "datetime",
        "json",
        "logging",
        "multiprocessing",
        "numpy",
        "pathlib",
        "pymodbus",
        "random",
        "rich",
        "secrets",
        "select",
        "serial",
        "signal",
        "socket",
        "sqlite3",
        "ssl",
        "subprocess",
        "tempfile",
        "textual",
        "threading",
        "uuid",
    }
)


def modules() -> list[Path]:
    return sorted(ENGINE.glob("**/*.py"))


def offences(source: str) -> list[str]:
    """What a module does that a pure one may not."""
    found = []
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            names = ["." * node.level + (node.module or "")]
            if names == ["monitor.engine"]:
                names = [f"monitor.engine.{alias.name}" for alias in node.names]
        elif isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
            if node.func.id in FORBIDDEN_CALLS:
                found.append(f"line {node.lineno}: calls {node.func.id}")
            continue
        elif isinstance(node, ast.Global):
            found.append(f"line {node.lineno}: keeps state in the module")
            continue
        else:
            continue
        found += [f"line {node.lineno}: imports {name}" for name in names if not allowed(name)]
    return found


def allowed(name: str) -> bool:
    return name in ALLOWED or any(name == own or name.startswith(f"{own}.") for own in OURS)


def test_every_module_of_the_engine_imports_and_calls_only_what_is_pure() -> None:
    assert len(modules()) > 20
    found = {
        path.name: bad for path in modules() if (bad := offences(path.read_text(encoding="utf-8")))
    }
    assert found == {}


def test_the_scan_sees_what_it_should() -> None:
    impure = """
import time, math
from os import path
from monitor import feed
from monitor.dashboard.app import App
def now():
    import datetime
    global last
    with open("x") as f:
        print(f)
"""
    assert set(offences(impure)) == {
        "line 2: imports time",
        "line 3: imports os",
        "line 4: imports monitor",
        "line 5: imports monitor.dashboard.app",
        "line 7: imports datetime",
        "line 8: keeps state in the module",
        "line 9: calls open",
        "line 10: calls print",
    }


def test_importing_the_engine_loads_nothing_with_an_outside() -> None:
    """In a fresh interpreter, without site-packages' start-up files."""
    program = (
        "import sys\n"
        f"sys.path.insert(0, {str(ENGINE.parent.parent)!r})\n"
        "before = set(sys.modules)\n"
        "import monitor.engine.engine\n"
        "print('\\n'.join(sorted(set(sys.modules) - before)))\n"
    )
    done = subprocess.run(
        [sys.executable, "-I", "-S", "-c", program],
        capture_output=True,
        text=True,
        check=True,
        timeout=60,
    )
    loaded = set(done.stdout.split())
    assert "monitor.engine.rooms" in loaded
    assert loaded & FORBIDDEN_MODULES == set()
    ours = {name for name in loaded if name.split(".")[0] in ("adapters", "monitor", "replay")}
    assert ours - {"adapters", "monitor", "adapters.reading", "monitor.bank"} == {
        name for name in ours if name == "monitor.engine" or name.startswith("monitor.engine.")
    }
