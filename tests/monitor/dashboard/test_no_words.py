"""No screen and no widget has words of its own: all of them come from `monitor.words`.

Every string of two letters and more in `monitor/dashboard` must stand where only a program reads
it: an id, a class, a style, an action, the name of a file. What is left are words.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Final

import pytest

import monitor.dashboard

DASHBOARD: Final = Path(next(iter(monitor.dashboard.__path__)))
#: Commands for contributors: what they print is not on a screen.
COMMANDS: Final = ("contact_sheet.py", "picture.py")
#: What is written to a file, not shown: SVG, and the colours of a theme.
FORMATS: Final = ("svg.py", "themes.py")
MODULES: Final = [
    path
    for path in sorted(DASHBOARD.rglob("*.py"))
    if path.name not in (*COMMANDS, *FORMATS, "__init__.py")
]

#: Calls whose strings name things: all of them, or the first so many.
NAMING: Final = {
    "query_one": 9,
    "query": 9,
    "getattr": 9,
    "has_class": 9,
    "set_class": 9,
    "mark": 1,
    "get_component_rich_style": 9,
    "import_module": 9,
    "Binding": 2,
    "Own": 2,
    "Deed": 2,
    "_figure": 1,
    "_line": 1,
    "_say": 1,
    "_ask_words": 9,
    "open": 9,
    "write_text": 9,
    "with_suffix": 9,
    "action_open": 9,
    "watch": 9,
}
NAMED: Final = {"id", "classes", "name", "encoding", "screen", "who", "group", "repaint"}
ASSIGNED: Final = {
    "CSS_PATH",
    "DEFAULT_CSS",
    "COMPONENT_CLASSES",
    "HORIZONTAL_BREAKPOINTS",
    "VERTICAL_BREAKPOINTS",
    "MODES",
    "DEFAULT_MODE",
    "TITLE",
    "_PRIORITY_CLASSES",
    "_CLASSES",
    "_SHARES",
}
STYLES: Final = {"bold", "bold reverse", "bold $foreground"}
#: Names used as keys of a table, or compared with, file by file.
NAMES: Final = {
    "actions.py": {"next_bank"},
    "app.py": {
        "dashboard",
        "none",
        "NO_COLOR",
        "commands",
        "action_",
        "monitor.dashboard.screens.",
    },
    "run.py": {"dashboard"},
    "keeping.py": {"foreground", "background", "ampwright-", ".txt"},
    "playing.py": {"--at: "},
    "alarms.py": {"shelve", "service", "128cy"},
    "commission.py": {"#figure", "#next", "begin", "enter", "done", "xq"},
    "line_noise.py": {"win32", "replace"},
    "glance.py": {"doubt", "wait", "stage"},
    "help.py": {"leave", "cautions"},
    "now.py": {"soc", "wait", "flow", "low", "medium", "high", "unseen", "seen"},
    "blocks.py": {"blocks", "letters"},
    "sheet_rows.py": {"amps", "volts", "soc", "celsius"},
    "page.py": {"np"},
    "devices.py": {"np"},
    "tonight.py": {"np"},
    "journal.py": {"np"},
}
#: Ends of names: `#soc-label`.
_NAME_PART: Final = re.compile(r"-(?:label|doubt|box)")


def _docstrings(tree: ast.Module) -> set[int]:
    kinds = ast.Module | ast.ClassDef | ast.FunctionDef | ast.AsyncFunctionDef
    return {
        id(node.body[0].value)
        for node in ast.walk(tree)
        if isinstance(node, kinds) and node.body and isinstance(node.body[0], ast.Expr)
    }


def _called(call: ast.Call) -> str:
    return call.func.attr if isinstance(call.func, ast.Attribute) else getattr(call.func, "id", "")


def _strings(node: ast.AST) -> Iterator[ast.Constant]:
    for each in ast.walk(node):
        if isinstance(each, ast.Constant) and isinstance(each.value, str):
            yield each


def _technical(tree: ast.Module) -> set[int]:
    """The strings that only a program reads."""
    found = _docstrings(tree)
    for node in ast.walk(tree):
        if isinstance(node, ast.Call):
            for argument in node.args[: NAMING.get(_called(node), 0)]:
                found |= {id(each) for each in _strings(argument)}
            for keyword in node.keywords:
                if keyword.arg in NAMED:
                    found |= {id(each) for each in _strings(keyword.value)}
        elif isinstance(node, ast.Assign | ast.AnnAssign) and node.value is not None:
            targets = node.targets if isinstance(node, ast.Assign) else [node.target]
            if any(getattr(target, "id", "") in ASSIGNED for target in targets):
                found |= {id(each) for each in _strings(node.value)}
        elif isinstance(node, ast.Raise) and node.exc is not None:
            # a mistake in a table is for contributors; what people are told is a Refusal
            if isinstance(node.exc, ast.Call) and _called(node.exc) in ("KeyError", "LookupError"):
                found |= {id(each) for each in _strings(node.exc)}
        elif isinstance(node, ast.Subscript):  # the key of a table of words
            found |= {id(each) for each in _strings(node.slice)}
        elif isinstance(node, ast.arg) and node.annotation is not None:
            found |= {id(each) for each in _strings(node.annotation)}
    return found


def words_in(source: str, name: str) -> list[str]:
    """The strings of a module that people could read."""
    tree = ast.parse(source)
    technical = _technical(tree)
    return [
        each.value
        for each in _strings(tree)
        if id(each) not in technical
        and re.search("[A-Za-z]{2}", each.value)
        and each.value not in STYLES
        and each.value not in NAMES.get(name, ())
        and not _NAME_PART.fullmatch(each.value)
    ]


@pytest.mark.parametrize("path", MODULES, ids=lambda path: path.stem)
def test_a_module_of_the_screens_has_no_words_of_its_own(path: Path) -> None:
    found = words_in(path.read_text(encoding="utf-8"), path.name)
    assert not found, f"these belong in monitor/words: {found}"


@pytest.mark.parametrize(
    "line",
    [
        'self.query_one("#text", Text).show("No reading")',
        'self._figure("soc", (), "charged", past)',
        'line.show(f"Note: {note}")',
        'heading: Final = "stage"',
        'Own("x", "back", Key("back", "back"), 1)',
        'Binding("b", "next", "next bank")',
    ],
)
def test_words_are_noticed(line: str) -> None:
    assert words_in(line, "now.py")


def test_all_modules_are_looked_at() -> None:
    assert len(MODULES) > 30
