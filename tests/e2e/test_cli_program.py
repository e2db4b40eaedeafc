"""The program as a whole process: exit codes, streams, and no display."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

import advisor
from advisor.__main__ import main
from tests.e2e.cli_shop import product

READ = ("check", "--air", "18", "--rh", "60", "--surface", "16")


def program(root: Path, folder: Path, *argv: str, **extra: str) -> subprocess.CompletedProcess[str]:
    """Run `python -m advisor` from another folder, without a display."""
    hidden = {"DISPLAY", "WAYLAND_DISPLAY", "QT_QPA_PLATFORM"}
    env = {key: value for key, value in os.environ.items() if key not in hidden}
    env |= {"PYTHONPATH": str(root), "PYTHONIOENCODING": "utf-8", "XDG_DATA_HOME": str(folder)}
    env |= extra
    return subprocess.run(
        [sys.executable, "-W", "error", "-m", "advisor", *argv],
        cwd=folder, env=env, capture_output=True, text=True, encoding="utf-8", check=False,
    )  # fmt: skip


def test_verdict_is_the_exit_code(root: Path, tmp_path: Path) -> None:
    done = program(root, tmp_path, *READ, "--json", "--product", str(product("alkyd")))
    assert (done.returncode, done.stderr) == (0, "")
    assert json.loads(done.stdout)["verdict"] == "go"
    assert not list(tmp_path.iterdir())  # asking leaves nothing behind


def test_a_mistake_is_one_line(root: Path, tmp_path: Path) -> None:
    done = program(root, tmp_path, "check", "--air", "eighteen")
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr.count("\n") == 1


def test_an_old_console_gets_the_text_too(root: Path, tmp_path: Path) -> None:
    done = program(root, tmp_path, *READ, PYTHONIOENCODING="ascii")
    assert done.returncode == 0, done.stderr
    assert "K ? 0.7 above dew point" in done.stdout or "above dew point" in done.stdout


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="displays are a matter of Linux")
def test_without_a_display_the_demo_plan_is_text(root: Path, tmp_path: Path) -> None:
    done = program(root, tmp_path, "--demo")
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.startswith("No display was found")
    assert "Dunlin" in done.stdout
    # Which verdicts stand there depends on the hour: test_no_display asks at a fixed one.
    assert re.search(r"^  (Go|Close call) +\S+ to \S+", done.stdout, re.MULTILINE)
    assert not list(tmp_path.iterdir())  # the demo never touches the user's own database


def test_a_reader_that_has_seen_enough_is_no_error(root: Path, tmp_path: Path) -> None:
    env = os.environ | {"PYTHONPATH": str(root)}
    argv = [sys.executable, "-m", "advisor", "products", "show", "alkyd"]
    with subprocess.Popen(
        argv, cwd=tmp_path, env=env, stdout=subprocess.PIPE, stderr=subprocess.PIPE
    ) as running:
        assert running.stdout is not None
        assert running.stderr is not None
        running.stdout.close()
        assert running.stderr.read() == b""
        assert running.wait() == 0


def test_version_and_help(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["--version"]) == 0
    assert capsys.readouterr().out.strip() == advisor.__version__
    for argv in (["--help"], ["check", "--help"], ["windows", "--help"], ["readings", "--help"]):
        assert main(argv) == 0
        assert "data sheet" in capsys.readouterr().out


def test_common_options_stand_before_or_after_the_command(
    capsys: pytest.CaptureFixture[str],
) -> None:
    before = main(["--json", "--time-zone", "Europe/Oslo", *READ, "--at", "2025-05-01T10:00"])
    first = capsys.readouterr().out
    after = main([*READ, "--at", "2025-05-01T10:00", "--json", "--time-zone", "Europe/Oslo"])
    assert (before, first) == (after, capsys.readouterr().out)
    assert json.loads(first)["at"] == "2025-05-01T10:00:00+02:00"
