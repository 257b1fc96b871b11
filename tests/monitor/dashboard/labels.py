"""Everything short that stands on a screen, collected from where it is defined.

Labels are the strings of up to five words in the tables and constants of `monitor.words` that the
screens use; what is longer is a sentence, not a label. Keys come with what the bottom line calls
them, colours with the theme and the use they have.
"""

from __future__ import annotations

import ast
import importlib
import re
from pathlib import Path
from typing import Final

from textual.screen import Screen

from monitor.chemistries import CHEMISTRIES
from monitor.commission.table import CHECKS
from monitor.dashboard.actions import DEEDS
from monitor.dashboard.screens.alarms import QUESTIONS
from monitor.dashboard.themes import THEMES
from monitor.engine.snapshot import AlarmState, Stage
from monitor.words import texts

WORDS: Final = Path(texts.__file__).parent
#: Modules of words that the screens use; the others print to a terminal or a file.
SHOWN: Final = (
    "account",
    "alarm_line",
    "alarm_states",
    "alarms",
    "bank",
    "commission",
    "conditions",
    "devices",
    "explained",
    "figures",
    "journal",
    "keys",
    "own_draw",
    "plans",
    "replay",
    "sentences",
    "sources",
    "texts",
    "tonight",
    "trend",
)
_MOST_WORDS: Final = 5
SCREENS: Final = WORDS.parent / "dashboard" / "screens"


def labels() -> set[str]:
    """Short words of the screens."""
    found = {stage.value for stage in Stage} | {state.value for state in AlarmState}
    found |= {chemistry.words for chemistry in CHEMISTRIES.values()}
    for name in SHOWN:
        found |= _constants(WORDS / f"{name}.py")
    for check in CHECKS:
        found |= {check.title, check.group}
    found |= _constants(WORDS / "sheets.py")
    for name in REPORT:
        found |= _headings(WORDS.parent / "report" / f"{name}.py")
    for path in sorted((WORDS.parent / "commands" / "sizes").glob("*.py")):
        found |= _headings(path)
    for question, answers in QUESTIONS.values():
        found |= {question, *(answer.word for answer in answers)}
    return {each for each in found if _is_label(each)}


#: Modules of the report that name things; and what makes a heading or a labelled line there and in
#: the sheets of sizing: the first of a pair, an argument of these.
REPORT: Final = ("contents", "installation", "checks", "recording", "owner")
_NAMING: Final = frozenset({"Heading", "Table", "Sheet", "Pairs", "_pane"})


def _headings(path: Path) -> set[str]:
    """Headings, heads of columns and names of figures, wherever they are made."""
    found: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        named: list[ast.expr] = []
        if isinstance(node, ast.Call) and getattr(node.func, "id", "") in _NAMING:
            named = [
                *node.args[:1],
                *(k.value for k in node.keywords if k.arg in ("title", "heads")),
            ]
            if len(node.args) > 1 and isinstance(node.args[1], ast.Tuple):
                named += node.args[1].elts
        elif isinstance(node, ast.Tuple) and len(node.elts) == 2:
            named = node.elts[:1]
        for each in named:
            for text in each.elts if isinstance(each, ast.Tuple) else (each,):
                if isinstance(text, ast.Constant) and isinstance(text.value, str):
                    found.add(text.value)
    return found


def _is_label(text: str) -> bool:
    letters = any(sign.isalpha() for sign in text)
    return letters and "{" not in text and "\\" not in text and len(text.split()) <= _MOST_WORDS


def _constants(path: Path) -> set[str]:
    """Strings in the values of a module's own names; not those inside functions."""
    found: set[str] = set()
    body = ast.parse(path.read_text(encoding="utf-8")).body
    named = [node for node in body if isinstance(node, ast.Assign | ast.AnnAssign)]
    for kind in body:
        if isinstance(kind, ast.ClassDef):
            named += [node for node in kind.body if isinstance(node, ast.AnnAssign)]
    for node in named:
        if node.value is not None:
            found |= _shown(node.value)
    return found


def _shown(value: ast.AST) -> set[str]:
    """Strings that a person may read; the keys of a table and the forms of numbers are no words."""
    hidden: set[int] = set()
    for node in ast.walk(value):
        if isinstance(node, ast.Dict):
            hidden |= {id(key) for key in node.keys}
        elif isinstance(node, ast.FormattedValue) and node.format_spec is not None:
            hidden |= {id(each) for each in ast.walk(node.format_spec)}
    return {
        node.value
        for node in ast.walk(value)
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in hidden
    }


def keys() -> set[str]:
    """`a alarms`: a key and its name, on whichever screen."""
    found = {f"{deed.key} {deed.hint}" for deed in DEEDS}
    for path in sorted(SCREENS.glob("*.py")):
        module = importlib.import_module(f"monitor.dashboard.screens.{path.stem}")
        for value in vars(module).values():
            if isinstance(value, type) and issubclass(value, Screen):
                found |= {f"{key} {word}" for key, word, _ in getattr(value, "HINTS", [])}
    return found


#: What only the library asks for: its own names for greys that are listed already.
_LIBRARY: Final = re.compile(r"^(ansi-|scrollbar)")


def colours() -> set[str]:
    """`dark high #a5001d`: a theme, a use and the colour it has there."""
    found = set()
    for theme in THEMES:
        uses = {"foreground": theme.foreground, "background": theme.background}
        ours = (name for name in theme.variables if not _LIBRARY.search(name))
        uses |= {name: theme.variables[name] for name in ours}
        found |= {f"{theme.name} {use} {colour}" for use, colour in uses.items()}
    return found
