"""The program's own files, parsed once per test run."""

from __future__ import annotations

import ast
from dataclasses import dataclass
from functools import cache
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
PACKAGE = ROOT / "advisor"

Function = ast.FunctionDef | ast.AsyncFunctionDef


@dataclass(frozen=True)
class Source:
    """One file: its path below the checkout, its text and its syntax tree."""

    path: str
    text: str
    tree: ast.Module

    @property
    def module(self) -> str:
        """The dotted name, such as `advisor.base.units`."""
        return self.path.removesuffix(".py").removesuffix("/__init__").replace("/", ".")


@cache
def sources() -> tuple[Source, ...]:
    """Parse every Python file of the package."""
    found = []
    for path in sorted(PACKAGE.rglob("*.py")):
        text = path.read_text(encoding="utf-8")
        found.append(Source(path.relative_to(ROOT).as_posix(), text, ast.parse(text)))
    return tuple(found)


def functions(tree: ast.AST) -> list[Function]:
    """Return all functions and methods, nested ones too."""
    return [node for node in ast.walk(tree) if isinstance(node, Function)]


def body_lines(function: Function) -> int:
    """Count the lines of a body without its docstring."""
    body = function.body[1:] if ast.get_docstring(function) is not None else function.body
    return (body[-1].end_lineno or 0) - body[0].lineno + 1 if body else 0


def imported(node: ast.AST) -> set[str]:
    """Return the modules that an import statement names; empty for any other node."""
    if isinstance(node, ast.Import):
        return {alias.name for alias in node.names}
    if isinstance(node, ast.ImportFrom) and node.level == 0:
        return {node.module or ""}
    return set()


def imports(tree: ast.AST) -> set[str]:
    """Return every module imported anywhere below a node."""
    return set().union(*(imported(node) for node in ast.walk(tree)))


def within(name: str, packages: frozenset[str]) -> bool:
    """Tell whether a dotted name belongs to one of the packages."""
    return name.split(".", maxsplit=1)[0] in packages


def docstrings(tree: ast.AST) -> set[int]:
    """Return the ids of all string nodes that stand alone as a statement."""
    return {
        id(node.value)
        for node in ast.walk(tree)
        if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant)
    }


def shown_strings(tree: ast.AST) -> list[tuple[int, str]]:
    """Return line and text of every string that may reach the user: all but docstrings."""
    silent = docstrings(tree)
    return [
        (node.lineno, node.value)
        for node in ast.walk(tree)
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in silent
    ]
