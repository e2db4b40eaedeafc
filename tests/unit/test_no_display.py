"""Without a display: the demo never passes for the plan of a database that was named."""

from __future__ import annotations

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
