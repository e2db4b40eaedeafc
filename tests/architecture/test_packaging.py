"""What is shipped: an sdist that builds, a wheel with its resources, a lock without addresses."""

from __future__ import annotations

import re
import subprocess
import sys
import tarfile
import tomllib
import zipfile
from pathlib import Path

import pytest

from tests.architecture.sources import ROOT

NAME = re.compile(r"^[A-Za-z0-9._-]+")


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Build the sdist from the checkout, and the wheel from that sdist."""
    folder = tmp_path_factory.mktemp("dist")
    command = [sys.executable, "-m", "build", "--no-isolation", "--outdir", str(folder), str(ROOT)]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
    return folder


def resource_names() -> set[str]:
    folder = ROOT / "resources"
    files = [path for path in folder.rglob("*") if path.is_file()]
    return {path.relative_to(folder).as_posix() for path in files if path.name[0] != "."}


@pytest.mark.slow
@pytest.mark.xdist_group("packaging")
def test_wheel_has_all_resources_and_no_tests(built: Path) -> None:
    with zipfile.ZipFile(next(built.glob("*.whl"))) as wheel:
        names = set(wheel.namelist())
    assert {f"advisor/_resources/{name}" for name in resource_names()} <= names
    assert "advisor/base/units.py" in names
    assert not [name for name in names if name.startswith(("tests/", "scripts/", "resources/"))]


@pytest.mark.slow
@pytest.mark.xdist_group("packaging")
def test_sdist_has_what_a_contributor_needs(built: Path) -> None:
    with tarfile.open(next(built.glob("*.tar.gz"))) as sdist:
        names = {name.split("/", 1)[-1] for name in sdist.getnames()}
    wanted = {
        "README.md",
        "DEVELOPERS.md",
        "pyproject.toml",
        "scripts/test.py",
        "tests/conftest.py",
    }
    assert wanted | {f"resources/{name}" for name in resource_names()} <= names


@pytest.mark.slow
@pytest.mark.xdist_group("packaging")
def test_wheel_finds_its_resources_from_another_folder(built: Path, tmp_path: Path) -> None:
    with zipfile.ZipFile(next(built.glob("*.whl"))) as wheel:
        wheel.extractall(tmp_path / "installed")
    code = (
        f"import sys; sys.path.insert(0, {str(tmp_path / 'installed')!r})\n"
        "from advisor.base.paths import resource\n"
        "print(resource('changelog.md'))"
    )
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=elsewhere, capture_output=True, text=True, check=False
    )
    found = Path(done.stdout.strip())
    assert found == tmp_path / "installed" / "advisor" / "_resources" / "changelog.md", done.stderr
    assert found.is_file()


def lock_text() -> str:
    return (ROOT / "scripts" / "requirements.lock").read_text(encoding="utf-8")


def locked_names(text: str) -> set[str]:
    lines = [line for line in text.splitlines() if "==" in line and line[0] not in "# "]
    return {line.split("==")[0] for line in lines}


def test_lock_has_hashes_and_no_addresses() -> None:
    entries = re.sub(r" \\\n *", " ", lock_text()).splitlines()
    for entry in entries:
        if not entry.startswith("#"):
            assert re.fullmatch(r"[a-z0-9.-]+==[\w.+!]+( --hash=sha256:[0-9a-f]{64})+", entry)
    assert "://" not in lock_text()


def test_lock_covers_what_pyproject_asks_for() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    program, tests = lock_text().split("# == tests ==")

    def names(requirements: list[str]) -> set[str]:
        found = [NAME.match(line) for line in requirements]
        return {match[0].lower().replace("_", "-") for match in found if match}

    assert names(project["dependencies"]) <= locked_names(program)
    extra = names(project["optional-dependencies"]["test"])
    assert extra <= locked_names(program) | locked_names(tests)


def test_changelog_starts_with_this_version() -> None:
    import advisor

    versions = re.findall(
        r"^## (\S+)$", (ROOT / "resources" / "changelog.md").read_text("utf-8"), re.M
    )
    assert versions[0] == advisor.__version__
