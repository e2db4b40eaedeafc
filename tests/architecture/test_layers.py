"""Who may import whom: one test for each sentence of DEVELOPERS.md."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

from tests.architecture.sources import Source, functions, imported, imports, sources, within

QT = frozenset({"PySide6", "shiboken6", "pyqtgraph"})
HEAVY = frozenset({"metpy", "pandas", "scipy", "xarray", "matplotlib", "requests_cache", "pint"})
MOIST_AIR = "advisor.physics.moist_air"


def import_nodes(tree: ast.AST) -> list[ast.AST]:
    return [node for node in ast.walk(tree) if imported(node)]


def lint_imports(config: Path, folder: Path) -> subprocess.CompletedProcess[str]:
    tool = Path(sys.executable).with_name("lint-imports")
    command = [str(tool), "--config", str(config), "--no-cache"]
    return subprocess.run(command, cwd=folder, capture_output=True, text=True, check=False)


def test_each_layer_imports_only_layers_to_its_left(root: Path) -> None:
    done = lint_imports(root / "pyproject.toml", root)
    assert done.returncode == 0, done.stdout


def test_the_layer_check_can_fail(root: Path, tmp_path: Path) -> None:
    """A copy of the house with one wrong import is found out."""
    for layer in ("base", "physics", "coatings", "climate", "planning", "record", "work"):
        (tmp_path / "advisor" / layer).mkdir(parents=True)
        (tmp_path / "advisor" / layer / "__init__.py").touch()
    for layer in ("", "ui", "cli"):
        (tmp_path / "advisor" / layer).mkdir(exist_ok=True)
        (tmp_path / "advisor" / layer / "__init__.py").touch()
    config = tmp_path / "pyproject.toml"
    config.write_text((root / "pyproject.toml").read_text(encoding="utf-8"), encoding="utf-8")
    assert lint_imports(config, tmp_path).returncode == 0
    (tmp_path / "advisor" / "base" / "__init__.py").write_text("import advisor.planning\n")
    assert lint_imports(config, tmp_path).returncode == 1


@pytest.mark.parametrize("source", sources(), ids=lambda source: source.module)
def test_qt_lives_in_the_window_only(source: Source) -> None:
    if not source.module.startswith("advisor.ui"):
        assert not {name for name in imports(source.tree) if within(name, QT)}


@pytest.mark.parametrize("source", sources(), ids=lambda source: source.module)
def test_pyqtgraph_lives_in_the_plots_only(source: Source) -> None:
    if not source.module.startswith("advisor.ui.plots"):
        assert "pyqtgraph" not in {name.split(".")[0] for name in imports(source.tree)}


@pytest.mark.parametrize("source", sources(), ids=lambda source: source.module)
def test_metpy_lives_in_moist_air_inside_functions(source: Source) -> None:
    found = {name for name in imports(source.tree) if within(name, frozenset({"metpy", "pint"}))}
    if source.module != MOIST_AIR:
        assert not found
    inside = {id(node) for f in functions(source.tree) for node in import_nodes(f)}
    outside = [node for node in import_nodes(source.tree) if id(node) not in inside]
    assert not {name for node in outside for name in imported(node) if within(name, HEAVY)}


@pytest.mark.parametrize("source", sources(), ids=lambda source: source.module)
def test_no_pandas_anywhere(source: Source) -> None:
    assert not {name for name in imports(source.tree) if within(name, frozenset({"pandas"}))}
