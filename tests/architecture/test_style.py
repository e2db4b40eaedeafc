"""House rules on size, state and words."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest

from tests.architecture.sources import (
    ROOT,
    Source,
    body_lines,
    functions,
    imports,
    shown_strings,
    sources,
)

MOST_LINES = 400
MOST_BODY_LINES = 40
#: Calls whose result can be changed later.
MUTABLE_CALLS = frozenset({"list", "dict", "set", "bytearray", "defaultdict", "deque", "Counter"})
MUTABLE_NODES = (ast.List, ast.Dict, ast.Set, ast.ListComp, ast.DictComp, ast.SetComp)
CLOCKS = frozenset({"now", "utcnow", "today", "time", "time_ns"})
CLOCK_OWNERS = frozenset({"datetime", "date", "time"})
#: Layers that never ask what time it is; the fronts hand it down.
TIMELESS = ("base", "physics", "coatings", "climate", "planning", "record")
#: The word is never shown. "Safety" (as in safety data sheet) is another word.
PROMISE = re.compile(r"\b(un)?safe(r|st|ly)?\b", re.IGNORECASE)
TEXT_FILES = frozenset({".toml", ".md", ".json", ".svg", ".txt", ".csv", ".html"})

each_source = pytest.mark.parametrize("source", sources(), ids=lambda source: source.module)


@each_source
def test_files_stay_short(source: Source) -> None:
    assert len(source.text.splitlines()) <= MOST_LINES, f"{source.path}: split it by subject"


@each_source
def test_functions_stay_short(source: Source) -> None:
    long = [f.name for f in functions(source.tree) if body_lines(f) > MOST_BODY_LINES]
    assert not long, f"{source.path}: split {', '.join(long)}; 5 to 15 lines is the aim"


def is_mutable(value: ast.expr | None) -> bool:
    if isinstance(value, ast.Call):
        name = value.func.attr if isinstance(value.func, ast.Attribute) else value.func
        return (name.id if isinstance(name, ast.Name) else name) in MUTABLE_CALLS
    return isinstance(value, MUTABLE_NODES)


def mutable_globals(tree: ast.Module) -> list[str]:
    found = []
    for node in tree.body:
        targets = node.targets if isinstance(node, ast.Assign) else [getattr(node, "target", None)]
        if isinstance(node, ast.Assign | ast.AnnAssign) and is_mutable(node.value):
            found += [t.id for t in targets if isinstance(t, ast.Name) and t.id != "__all__"]
    return found + [n for g in ast.walk(tree) if isinstance(g, ast.Global) for n in g.names]


@each_source
def test_no_global_state(source: Source) -> None:
    found = mutable_globals(source.tree)
    assert not found, f"{source.path}: {', '.join(found)}: use a tuple, frozenset, MappingProxyType"


@pytest.mark.parametrize(
    ("text", "names"),
    [
        ("a = []", ["a"]),
        ("a: dict = {}", ["a"]),
        ("from collections import deque\na = deque()", ["a"]),
        ("import collections\na = collections.deque()", ["a"]),
        ("def f():\n    global a\n    a = 1", ["a"]),
        ("a = (1, 2)\nb = frozenset({1})\n__all__ = ['a']", []),
        ("from types import MappingProxyType\na = MappingProxyType({})", []),
    ],
)
def test_the_state_check_can_fail(text: str, names: list[str]) -> None:
    assert mutable_globals(ast.parse(text)) == names


@each_source
def test_the_clock_is_an_argument(source: Source) -> None:
    if source.module.split(".")[1:2] and source.module.split(".")[1] in TIMELESS:
        asked = [
            f"line {node.lineno}"
            for node in ast.walk(source.tree)
            if isinstance(node, ast.Call)
            and isinstance(node.func, ast.Attribute)
            and node.func.attr in CLOCKS
            and ast.unparse(node.func.value).split(".")[-1] in CLOCK_OWNERS
        ]
        assert not asked, f"{source.path} reads the clock: {', '.join(asked)}"


@each_source
def test_no_relative_imports(source: Source) -> None:
    levels = [n.level for n in ast.walk(source.tree) if isinstance(n, ast.ImportFrom)]
    assert not any(levels), "write the whole name, so that a search finds it"
    assert "typing.Any" not in imports(source.tree)


@each_source
def test_shown_words(source: Source) -> None:
    found = [(line, text) for line, text in shown_strings(source.tree) if PROMISE.search(text)]
    assert not found, "say what was measured against whose limit instead"


def test_words_in_resources() -> None:
    files = [path for path in (ROOT / "resources").rglob("*") if path.suffix in TEXT_FILES]
    assert files
    found = [f"{p.relative_to(ROOT)}" for p in files if PROMISE.search(p.read_text("utf-8"))]
    assert not found


@pytest.mark.parametrize(
    ("text", "is_promise"),
    [
        ("Safe to paint", True),
        ("dew-safe from 09:00", True),
        ("unsafe", True),
        ("dew_safe_h", False),
        ("safety data sheet", False),
    ],
)
def test_the_word_check_can_fail(text: str, is_promise: bool) -> None:
    assert bool(PROMISE.search(text)) == is_promise


def test_top_level_is_exactly_the_agreed_one() -> None:
    agreed = {"README.md", "DEVELOPERS.md", "pyproject.toml"}
    agreed |= {"advisor", "resources", "tests", "scripts"}
    assert {path.name for path in ROOT.iterdir() if not path.name.startswith(".")} == agreed


def test_no_paths_of_one_machine() -> None:
    """Committed text names no place that exists on one machine only."""
    place = re.compile(r"(?<![\w.])/(work|tmp|root|home)/\w")
    folders = [ROOT / name for name in ("advisor", "resources", "scripts", "tests")]
    files = [p for folder in folders for p in folder.rglob("*") if p.suffix in {".py", *TEXT_FILES}]
    found = [f"{p.relative_to(ROOT)}" for p in files if place.search(_text(p))]
    assert not found


def _text(path: Path) -> str:
    return path.read_text(encoding="utf-8", errors="replace")
