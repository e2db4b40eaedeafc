"""Without a display: the plan of the job in a database, in the window's words, else the demo's."""

from __future__ import annotations

import time
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest

from advisor.__main__ import main
from advisor.base.store import Store
from advisor.planning.job import Laid
from advisor.planning.verdict_words import Verdict
from advisor.work.workbench import Workbench


@pytest.fixture(autouse=True)
def no_display(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("advisor.__main__._has_display", lambda: False)


MORNING_S = datetime(2031, 5, 14, 9, tzinfo=UTC).timestamp()
AFTERNOON_S = datetime(2026, 11, 28, 13, 7, tzinfo=UTC).timestamp()


@pytest.fixture
def mine(tmp_path: Path, root: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Workbench]:
    """A database with a job of the user's own in it: the demo's, by another name and place."""
    monkeypatch.setattr(time, "time", lambda: MORNING_S)
    with Store(tmp_path / "mine.sqlite3") as store:
        bench = Workbench(store, root / "resources")
        job = bench.load_demo(MORNING_S)
        bench.save_job(replace(job, name="My own boat", place="at the quay"))
        yield bench


def test_the_plan_of_a_named_database_is_that_of_its_job(
    mine: Workbench, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["--database", str(tmp_path / "mine.sqlite3")]) == 0
    said = capsys.readouterr().out
    assert f"the plan of the job in {tmp_path / 'mine.sqlite3'} as text" in said.split("\n\n")[0]
    assert "My own boat, at the quay; times in Europe/London" in said
    assert "demo" not in said
    assert "Invented" not in said
    for lane in mine.coming_days(MORNING_S).lanes:
        assert f"{lane.coat.name}, {lane.area.name} (" in said


def test_a_job_with_nothing_known_of_the_air_says_so(
    mine: Workbench, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with mine.store.write() as db:
        for table in ("reading", "forecast"):
            db.execute(f"DELETE FROM {table}")
    assert main(["--database", str(tmp_path / "mine.sqlite3")]) == 0
    said = capsys.readouterr().out
    assert "My own boat" in said
    assert "Go " not in said
    assert "no start in these days\n  now: " in said
    assert "No outlook yet" in said


def test_a_job_with_every_coat_on_says_so(
    mine: Workbench, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    job = mine.job_in_hand()
    laid = tuple(c if c.laid else replace(c, laid=Laid(1.0, 2.0)) for c in job.coats)
    mine.save_job(replace(job, coats=laid))
    assert main(["--database", str(tmp_path / "mine.sqlite3")]) == 0
    assert "Every coat of this job is on." in capsys.readouterr().out


@pytest.mark.parametrize(
    ("demo", "there", "text"),
    [
        ((), False, "There is no file {}"),
        ((), True, "{} holds no job"),
        (("--demo",), True, "--demo was asked for and {} was not read"),
    ],
)
def test_the_demo_never_passes_for_the_plan_of_a_named_database(
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    demo: tuple[str, ...],
    there: bool,
    text: str,
) -> None:
    path = tmp_path / "mine.sqlite3"
    if there:
        Store(path).close()
    assert main([*demo, "--database", str(path)]) == 0
    first = capsys.readouterr().out.split("\n\n")[0]
    assert text.format(path) in first
    assert "the invented demo, not your plan" in first
    assert path.exists() == there  # looking makes no file


def test_a_file_of_something_else_is_refused_in_one_line(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "notes.txt"
    path.write_text("no database at all, but long enough to be looked at\n" * 40)
    assert main(["--database", str(path)]) == 2
    found = capsys.readouterr()
    assert found.out == ""
    assert str(path) in found.err
    assert len(found.err.splitlines()) == 1


def test_the_plain_demo_says_how_to_get_ones_own_plan(capsys: pytest.CaptureFixture[str]) -> None:
    assert main([]) == 0
    assert "the plan of your own job: --database FILE" in capsys.readouterr().out


@pytest.mark.parametrize("now_s", [MORNING_S, AFTERNOON_S])
def test_the_plan_as_text_has_the_verdicts_and_words_of_the_window(
    tmp_path: Path,
    root: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    now_s: float,
) -> None:
    """By the record of the crew too, which the window keeps beside the demo."""
    monkeypatch.setattr(time, "time", lambda: now_s)
    assert main(["--demo"]) == 0
    said = capsys.readouterr().out
    with Store(tmp_path / "window.sqlite3") as store:
        bench = Workbench(store, root / "resources")
        bench.load_demo(now_s)
        bench.keep_demo_record(now_s)
        coat = bench.job_in_hand().next_coats()[0]
        found = bench.before_mixing(coat.id, now_s)
        until = bench.words(now_s).moment(found.latest_start_s or 0.0)
    line = next(line for line in said.splitlines() if f" to {until}" in line)
    word = {Verdict.GO: "Go", Verdict.BORDERLINE: "Close call"}[found.verdict]
    assert line.strip().startswith(word)
    assert line.endswith(f": {found.headline}") == (found.verdict is Verdict.BORDERLINE)


def test_in_the_morning_the_demo_plan_has_a_go(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """At a fixed hour: in the afternoon the chance of staying dry falls under what go asks."""
    monkeypatch.setattr(time, "time", lambda: MORNING_S)
    assert main(["--demo"]) == 0
    assert "Go " in capsys.readouterr().out
