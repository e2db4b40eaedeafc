"""The scripts a newcomer runs first need nothing but Python, and speak plainly."""

from __future__ import annotations

import ast
import importlib.util
import subprocess
import sys
from pathlib import Path
from types import ModuleType

import pytest

from tests.architecture.sources import ROOT, imports

SCRIPTS = ROOT / "scripts"
FIRST = ("environment", "run", "test", "check")


@pytest.fixture
def environment(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> ModuleType:
    """The set-up module, with its lock and stamp in a temporary folder."""
    spec = importlib.util.spec_from_file_location("environment", SCRIPTS / "environment.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    monkeypatch.setattr(module, "LOCK", tmp_path / "requirements.lock")
    monkeypatch.setattr(module, "STAMP", tmp_path / "installed.txt")
    return module


@pytest.mark.parametrize("name", FIRST)
def test_standard_library_only(name: str) -> None:
    tree = ast.parse((SCRIPTS / f"{name}.py").read_text(encoding="utf-8"))
    used = {module.split(".", maxsplit=1)[0] for module in imports(tree)}
    assert used <= {*sys.stdlib_module_names, "environment"}


@pytest.mark.parametrize("name", FIRST)
def test_an_old_python_can_read_them(name: str) -> None:
    """So that it can say that it is too old."""
    ast.parse((SCRIPTS / f"{name}.py").read_text(encoding="utf-8"), feature_version=(3, 8))


def test_an_old_python_is_told(
    environment: ModuleType, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(environment, "OLDEST", (99, 0))
    with pytest.raises(SystemExit):
        environment.require_python()
    assert "Python 99.0 or newer is needed" in capsys.readouterr().err


def test_a_missing_library_is_named_by_its_package(environment: ModuleType) -> None:
    if not environment.on_linux():
        pytest.skip("packages are named on Linux only")
    missing = environment.missing_packages([("libno-such-thing.so.9", "libno-such-thing9")])
    assert "libno-such-thing9" in missing
    assert "libc6" not in environment.missing_packages([("libc.so.6", "libc6")])


def lock_for(system: str, machine: str, versions: str) -> str:
    head = f"# Made by a script.\n# for: {system} {machine} Python {versions}\n"
    return f"{head}# == program ==\na==1 --hash=sha256:00\n# == tests ==\nb==2 --hash=sha256:11\n"


@pytest.mark.parametrize(
    ("system", "machine", "versions", "fits"),
    [
        ("here", "here", "3.0 here", True),
        ("here", "here", "3.0", False),
        ("here", "abacus", "here", False),
        ("dos", "here", "here", False),
    ],
)
def test_lock_is_used_only_where_it_fits(
    environment: ModuleType, system: str, machine: str, versions: str, fits: bool
) -> None:
    system = system.replace("here", environment.platform.system().lower())
    machine = machine.replace("here", environment.platform.machine().lower())
    versions = versions.replace("here", f"{sys.version_info[0]}.{sys.version_info[1]}")
    assert not environment.lock_fits()
    environment.LOCK.write_text(lock_for(system, machine, versions), encoding="utf-8")
    assert environment.lock_fits() == fits


def test_the_program_needs_only_its_own_part_of_the_lock(environment: ModuleType) -> None:
    environment.LOCK.write_text(lock_for("linux", "x86_64", "3.11"), encoding="utf-8")
    assert "b==2" not in environment.lock_lines(False)
    assert "b==2" in environment.lock_lines(True)


def test_set_up_is_reused_until_the_lock_changes(environment: ModuleType) -> None:
    environment.LOCK.write_text(lock_for("linux", "x86_64", "3.11"), encoding="utf-8")
    environment.STAMP.write_text(environment._wanted(True), encoding="utf-8")
    assert environment._stamp_fits(environment._wanted(True), True)
    assert environment._stamp_fits(environment._wanted(False), False)
    environment.LOCK.write_text(lock_for("linux", "x86_64", "3.12"), encoding="utf-8")
    assert not environment._stamp_fits(environment._wanted(True), True)
    environment.STAMP.write_text(environment._wanted(False), encoding="utf-8")
    assert not environment._stamp_fits(environment._wanted(True), True)


@pytest.mark.parametrize("script", ["check.py", "bench.py"])
def test_an_unknown_name_is_answered_with_the_known_ones(script: str) -> None:
    done = subprocess.run(
        [sys.executable, str(SCRIPTS / script), "tea"], capture_output=True, text=True, check=False
    )
    assert done.returncode == 2
    assert "tea" in done.stderr
    assert "accepted: " in done.stderr
    assert len(done.stderr.splitlines()) == 1
