"""What importing costs and needs, each time in a fresh interpreter."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from tests.architecture.sources import PACKAGE, sources

LATE = ("metpy", "pandas", "scipy", "xarray", "pint", "matplotlib", "requests_cache")
MODULES = [source.module for source in sources() if not source.module.endswith("__main__")]
#: A fork is a fresh interpreter without the start-up; each child imports one module of ours.
#: Other people's are loaded before, once: they cannot lean on any of ours.
ONE_BY_ONE = """
import os, sys
import numpy, PySide6.QtWidgets, PySide6.QtSvg, pyqtgraph
for name in sys.argv[1:]:
    child = os.fork()
    if child == 0:
        try:
            __import__(name)
        except BaseException as error:
            print(f"{name}: {error!r}", flush=True)
            os._exit(1)
        os._exit(0)
    os.waitpid(child, 0)
"""


def python(code: str, *arguments: str) -> str:
    """Run code in a fresh interpreter at the top of the checkout; return what it printed."""
    done = subprocess.run(
        [sys.executable, "-c", code, *arguments],
        cwd=PACKAGE.parent,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return done.stdout


def loaded_after(module: str, wanted: tuple[str, ...]) -> list[str]:
    code = f"import sys, {module}; print(*[n for n in sys.argv[1:] if n in sys.modules])"
    return python(code, *wanted).split()


@pytest.mark.skipif(not hasattr(__import__("os"), "fork"), reason="needs fork")
def test_every_module_imports_alone() -> None:
    """No module works only because another was imported before it."""
    assert python(ONE_BY_ONE, *MODULES) == ""


@pytest.mark.skipif(not hasattr(__import__("os"), "fork"), reason="needs fork")
def test_the_lone_import_check_can_fail() -> None:
    assert "no_such_module" in python(ONE_BY_ONE, "advisor", "no_such_module")


def test_the_window_starts_without_the_slow_libraries() -> None:
    if not (PACKAGE / "ui" / "app.py").is_file():
        pytest.skip("there is no window yet")
    assert loaded_after("advisor.ui.app", LATE) == []


def test_the_command_line_starts_without_qt_and_the_slow_libraries() -> None:
    if not (PACKAGE / "cli" / "main.py").is_file():
        pytest.skip("there is no command line yet")
    assert loaded_after("advisor.cli.main", (*LATE, "PySide6", "pyqtgraph")) == []


def test_the_package_itself_imports_nothing() -> None:
    assert loaded_after("advisor", ("numpy", "advisor.base", "sqlite3")) == []


def test_nothing_is_printed_on_import(tmp_path: Path) -> None:
    quiet = [name for name in MODULES if not name.startswith("advisor.ui")]
    assert (
        python("import importlib, sys\nfor n in sys.argv[1:]: importlib.import_module(n)", *quiet)
        == ""
    )
