"""The dashboard in a language that nobody speaks: every text as much longer as German would be.

`monitor.words` is where all texts are, so a translation is that package with other words. This one
is made while it is imported: each string of it is drawn out, short ones most (common practice of
translators, from memory: up to twice for words under ten letters, a half more under twenty, a
third more beyond, and sentences by a third). Units, signs and forms of numbers stay.
"""

from __future__ import annotations

import ast
import importlib
import re
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import fields, is_dataclass, replace
from importlib.abc import Loader, MetaPathFinder
from importlib.machinery import ModuleSpec, PathFinder
from importlib.util import spec_from_loader
from pathlib import Path
from types import ModuleType
from typing import Any, Final

from monitor.words.figures import UNITS

#: A short text on its own, of so many letters at most, and how much longer it gets.
_GROWS: Final = ((5, 1.0), (9, 0.7), (20, 0.5), (10_000, 0.35))
#: What is part of a sentence grows as sentences do.
_IN_SENTENCE: Final = 0.35
_WORD: Final = re.compile(r"[A-Za-zäöü]+")
#: Calls of these take forms and patterns, not words.
_TECHNICAL: Final = ("compile", "sub", "getattr", "escape", "fullmatch", "match")
#: Fields of the engine's values that hold sentences.
_SENTENCES: Final = ("words", "reason", "first", "caution", "causes", "assumptions")


def longer(text: str, more: float | None = None) -> str:
    """Each word drawn out until the whole is as much longer as it has to be."""
    words = [each for each in _WORD.findall(text) if len(each) > 1 and each not in UNITS]
    letters = sum(map(len, words))
    if not letters or ("%" in text and "%a" in text):
        return text
    share = more if more is not None else next(s for most, s in _GROWS if letters <= most)
    owed = 0.0

    def drawn(found: re.Match[str]) -> str:
        nonlocal owed
        word = found[0]
        if len(word) < 2 or word in UNITS:
            return word
        owed += share * len(word)
        extra = int(owed + 1e-6)
        owed -= extra
        return word[:-1] + word[-2].lower() * extra + word[-1] if extra else word

    return _WORD.sub(drawn, text)


class _Longer(ast.NodeTransformer):
    """Strings that people read; not documents, keys of tables, patterns, annotations."""

    def _document(self, node: Any) -> Any:
        body = node.body
        first = body[0] if body and isinstance(body[0], ast.Expr) else None
        kept = first if first is not None and isinstance(first.value, ast.Constant) else None
        rest = body[1:] if kept is not None else body
        node.body = [*([kept] if kept is not None else []), *map(self.visit, rest)]
        return node

    visit_Module = visit_ClassDef = _document

    def visit_FunctionDef(self, node: ast.FunctionDef) -> Any:
        return self._document(node)

    def visit_AnnAssign(self, node: ast.AnnAssign) -> Any:
        if getattr(node.target, "id", "") != "UNITS" and node.value is not None:
            node.value = self.visit(node.value)
        return node

    def visit_Dict(self, node: ast.Dict) -> Any:
        node.values = [self.visit(value) for value in node.values]
        return node

    def visit_Subscript(self, node: ast.Subscript) -> Any:
        node.value = self.visit(node.value)
        return node

    def visit_Call(self, node: ast.Call) -> Any:
        name = getattr(node.func, "attr", getattr(node.func, "id", ""))
        node.func = self.visit(node.func)
        if name not in _TECHNICAL:
            node.args = [self.visit(each) for each in node.args]
            node.keywords = [self.visit(each) for each in node.keywords]
        return node

    def visit_Compare(self, node: ast.Compare) -> Any:
        return node  # a code that came from the engine, not a word that is shown

    def visit_FormattedValue(self, node: ast.FormattedValue) -> Any:
        node.value = self.visit(node.value)
        return node

    def visit_JoinedStr(self, node: ast.JoinedStr) -> Any:
        node.values = [
            ast.Constant(longer(str(part.value), _IN_SENTENCE))
            if isinstance(part, ast.Constant)
            else self.visit(part)
            for part in node.values
        ]
        return node

    def visit_Constant(self, node: ast.Constant) -> Any:
        known = isinstance(node.value, str) and "{" not in node.value
        return ast.copy_location(ast.Constant(longer(node.value)), node) if known else node


class _Words(MetaPathFinder, Loader):
    """Finds `monitor.words.*` and loads it drawn out."""

    def find_spec(self, name: str, path: Any, target: Any = None) -> ModuleSpec | None:
        if not name.startswith("monitor.words.") or name.endswith(".degrees"):
            return None
        found = PathFinder.find_spec(name, path, target)
        assert found is not None
        return spec_from_loader(name, self, origin=found.origin)

    def exec_module(self, module: ModuleType) -> None:
        assert module.__spec__ is not None
        path = Path(str(module.__spec__.origin))
        tree = _Longer().visit(ast.parse(path.read_text(encoding="utf-8")))
        exec(compile(ast.fix_missing_locations(tree), str(path), "exec"), module.__dict__)


def _afresh() -> dict[str, ModuleType]:
    """The modules with words in them, and those that took words from them."""
    rooms = ("monitor.words.", "monitor.dashboard")
    return {name: each for name, each in sys.modules.items() if name.startswith(rooms)}


#: The modules in the long language, once they were asked for.
_MADE: Final[dict[str, ModuleType]] = {}


def _put(modules: dict[str, ModuleType]) -> None:
    """These in place of those that are there."""
    for name in _afresh():
        del sys.modules[name]
    sys.modules.update(modules)
    for name, module in modules.items():
        room, _, last = name.rpartition(".")
        if room in sys.modules:
            setattr(sys.modules[room], last, module)


@contextmanager
def long_language() -> Iterator[ModuleType]:
    """`monitor.dashboard.app` with all its words drawn out; afterwards all is as it was."""
    before, finder = _afresh(), _Words()
    _put(_MADE)
    sys.meta_path.insert(0, finder)
    try:
        yield importlib.import_module("monitor.dashboard.app")
    finally:
        sys.meta_path.remove(finder)
        _MADE.update(_afresh())
        _put(before)


def longer_value(value: Any) -> Any:
    """The engine's own sentences drawn out too."""
    if isinstance(value, tuple):
        made = [longer_value(each) for each in value]
        return getattr(type(value), "_make", tuple)(made)
    if is_dataclass(value) and not isinstance(value, type):
        return replace(
            value,
            **{
                field.name: _sentences(field.name, getattr(value, field.name))
                for field in fields(value)
                if field.init
            },
        )
    return value


def _sentences(name: str, value: Any) -> Any:
    if name not in _SENTENCES:
        return longer_value(value)
    if isinstance(value, str):
        return longer(value, _IN_SENTENCE)
    return tuple(longer(each, _IN_SENTENCE) for each in value)
