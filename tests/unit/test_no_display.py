"""Without a display: the demo never passes for the plan of a database that was named."""

from __future__ import annotations

import time
from datetime import UTC, datetime
from pathlib import Path

import pytest

from advisor.__main__ import main


@pytest.fixture(autouse=True)
def no_display(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("advisor.__main__._has_display", lambda: False)


def test_a_named_database_is_said_not_to_be_the_plan(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    mine = tmp_path / "mine.sqlite3"
    assert main(["--database", str(mine)]) == 0
    said = capsys.readouterr().out
    assert f"The job in {mine} was not read" in said.split("\n\n")[0]


def test_the_plain_demo_says_nothing_of_a_database(capsys: pytest.CaptureFixture[str]) -> None:
    assert main([]) == 0
    assert "was not read" not in capsys.readouterr().out


def test_in_the_morning_the_demo_plan_has_a_go(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """At a fixed hour: in the afternoon the chance of staying dry falls under what go asks."""
    morning_s = datetime(2031, 5, 14, 9, tzinfo=UTC).timestamp()
    monkeypatch.setattr(time, "time", lambda: morning_s)
    assert main(["--demo"]) == 0
    assert "Go " in capsys.readouterr().out
