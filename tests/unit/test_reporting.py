"""Reports written from a bench: whole files or none, nothing replaced unasked, the page Tonight."""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
import sys
from collections.abc import Iterator
from html.parser import HTMLParser
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from advisor.base.attachments import Attachments
from advisor.base.errors import InputError
from advisor.base.paths import resources_dir
from advisor.base.store import Store
from advisor.planning.words import Words
from advisor.record.report import pdf as pdf_module
from advisor.record.review_types import JobReview
from advisor.work.tonight_page import PAGE_NAME, tonight_html, write_tonight_page
from advisor.work.views import FilmTonight, Reading
from advisor.work.workbench import Workbench

#: 14 May 2026, 09:10 in London.
NOW = 1_778_746_200.0
HOUR = 3600.0
COAT = "port-gloss-2"


@pytest.fixture(scope="module")
def recorded(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo's store with one coat put on and recorded as a person would."""
    path = tmp_path_factory.mktemp("recorded") / "shop.sqlite3"
    with Store(path) as store:
        made = Workbench(store, resources_dir())
        made.load_demo(NOW)
        made.settings.set("person", "Żaneta Ořech")
        made.record.write_job_header(NOW)
        made.live.start_batch(made.live.batch_form(COAT, NOW + 60), NOW + 60)
        for n, event in enumerate(("start", "patch", "finish")):
            made.live.tap(event, NOW + 1500 + 1200 * n, patch=f"panel {n}")
        made.live.film(COAT, ("80", "85", "90"), NOW + 3000)
    return path


@pytest.fixture
def bench(recorded: Path, tmp_path: Path) -> Iterator[Workbench]:
    shutil.copy(recorded, tmp_path)
    with Store(tmp_path / recorded.name) as store:
        yield Workbench(store, resources_dir())


LATER = NOW + 30 * HOUR


def test_the_whole_report_and_the_page_for_one_coat(bench: Workbench, tmp_path: Path) -> None:
    whole = bench.reporting.pdf(tmp_path / "job.pdf", LATER).read_bytes()
    page = bench.reporting.pdf(tmp_path / "coat.pdf", LATER, COAT).read_bytes()
    assert whole.startswith(b"%PDF-")
    assert whole.count(b"/Type /Page\n") > page.count(b"/Type /Page\n") > 0


def test_nothing_that_is_there_is_replaced_unasked(bench: Workbench, tmp_path: Path) -> None:
    path = tmp_path / "job.pdf"
    path.write_text("a letter")
    with pytest.raises(InputError, match="something there already"):
        bench.reporting.pdf(path, LATER, COAT)
    assert path.read_text() == "a letter"
    bench.reporting.pdf(path, LATER, COAT, replace=True)
    assert path.read_bytes().startswith(b"%PDF-")


def test_the_same_record_at_the_same_time_gives_the_same_file(
    bench: Workbench, tmp_path: Path
) -> None:
    first = bench.reporting.pdf(tmp_path / "1.pdf", LATER, COAT).read_bytes()
    assert bench.reporting.pdf(tmp_path / "2.pdf", LATER, COAT).read_bytes() == first


def test_a_place_that_cannot_be_written_is_said_in_one_line(
    bench: Workbench, tmp_path: Path
) -> None:
    for path in (tmp_path / "none" / "job.pdf", tmp_path / "shop.sqlite3" / "job.pdf"):
        with pytest.raises(InputError, match="accepted: ") as caught:
            bench.reporting.pdf(path, LATER, COAT)
        assert "\n" not in str(caught.value)
    with pytest.raises(InputError, match="something there already"):
        bench.reporting.pdf(tmp_path, LATER, replace=True)


def test_a_failure_leaves_nothing_half_written(
    bench: Workbench, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "replace", full)
    with pytest.raises(InputError, match="no space left"):
        bench.reporting.json(tmp_path / "job.json", LATER)
    assert not [p for p in tmp_path.iterdir() if "job.json" in p.name]


def test_a_package_that_fails_is_not_there_at_all(
    bench: Workbench, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*_: object) -> bytes:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(pdf_module, "pdf_bytes", broken)
    before = set(tmp_path.iterdir())
    with pytest.raises(InputError, match="no space left"):
        bench.reporting.package(tmp_path / "given", LATER)
    assert set(tmp_path.iterdir()) == before


def test_a_package_has_everything_and_its_record_checks_out(
    bench: Workbench, tmp_path: Path
) -> None:
    folder = tmp_path / "given"
    exported = bench.reporting.package(folder, LATER)
    names = {p.relative_to(folder).as_posix() for p in folder.rglob("*") if p.is_file()}
    assert {"READ-ME.txt", "report.pdf", "report.json", "record.jsonl", "verify_record.py",
            "csv/readings.csv", "csv/entries.csv"} <= names  # fmt: skip
    found = json.loads((folder / "report.json").read_text(encoding="utf-8"))
    assert found["record"]["head"] == exported.head.hash
    done = subprocess.run(
        [sys.executable, "-I", "verify_record.py", "record.jsonl", "--head", exported.head.hash],
        cwd=folder, capture_output=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stdout
    assert exported.head.hash in (folder / "READ-ME.txt").read_text(encoding="utf-8")
    with pytest.raises(InputError, match="something there already"):
        bench.reporting.package(folder, LATER)


def test_an_entry_that_comes_while_a_package_is_written_is_in_none_of_it(
    bench: Workbench, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The head on the paper is the head of the record beside it."""
    kept = bench.reviews.job

    def then_another(now_s: float) -> JobReview:
        found = kept(now_s)
        bench.record.add("observation", {"text": "meanwhile"}, at_s=now_s, now_s=now_s)
        return found

    monkeypatch.setattr(bench.reviews, "job", then_another)
    exported = bench.reporting.package(tmp_path / "out", LATER)
    told = json.loads((tmp_path / "out" / "report.json").read_text("utf-8"))
    assert exported.head.hash == told["record"]["head"]
    assert bench.record.head().hash != exported.head.hash


def test_csv_goes_into_a_new_folder(bench: Workbench, tmp_path: Path) -> None:
    folder = bench.reporting.csv(tmp_path / "csv", LATER)
    assert (folder / "batches.csv").read_text(encoding="utf-8-sig").count(COAT) == 2


def test_a_photo_whose_file_was_changed_is_not_shown(bench: Workbench, tmp_path: Path) -> None:
    kept = Attachments(bench.store.path)
    sha256 = kept.keep_bytes(b"picture")
    assert bench.reporting._photo(sha256) == kept.path(sha256)
    kept.path(sha256).write_bytes(b"another")
    assert bench.reporting._photo(sha256) is None
    assert bench.reporting._photo("no hash") is None


# --- Tonight -----------------------------------------------------------------------------

WORDS = Words("metric", ZoneInfo("Europe/London"), NOW)


class _Outside(HTMLParser):
    """Collects whatever a page would fetch, and checks that tags are closed in order."""

    def __init__(self) -> None:
        super().__init__()
        self.fetched, self.open = list[str](), list[str]()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.fetched += [str(v) for k, v in attrs if k in ("src", "href", "srcset", "action")]
        if tag not in ("meta", "br", "link", "img"):
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag


def test_tonight_needs_nothing_else_and_says_when_it_was_written(
    bench: Workbench, tmp_path: Path
) -> None:
    path = write_tonight_page(bench, tmp_path, LATER)
    page = path.read_text(encoding="utf-8")
    found = _Outside()
    found.feed(page)
    assert (found.fetched, found.open) == ([], [])
    assert "url(" not in page
    assert "@import" not in page
    assert 'datetime="2026-05-15T15:10:00+01:00"' in page
    assert "Friday 15 May 2026, 15:10" in page
    assert str(int(LATER) * 1000) in page
    assert "second gloss, port side" in page
    assert [p.name for p in tmp_path.iterdir() if "tonight" in p.name] == [PAGE_NAME]


def test_tonight_replaces_its_own_page(bench: Workbench, tmp_path: Path) -> None:
    write_tonight_page(bench, tmp_path, LATER)
    page = write_tonight_page(bench, tmp_path, LATER + HOUR).read_text(encoding="utf-8")
    assert "16:10" in page


def test_tonight_into_a_folder_that_is_gone(bench: Workbench, tmp_path: Path) -> None:
    with pytest.raises(InputError, match="accepted: a place that can be written"):
        write_tonight_page(bench, tmp_path / "gone", LATER)


def film(bench: Workbench, **changes: object) -> FilmTonight:
    job = bench.job_in_hand()
    coat = job.coat(COAT)
    whole: dict[str, object] = {
        "coat": coat, "area": job.area(coat.area_id), "product_name": "gloss",
        "tack_free_s": NOW, "dew_safe_s": NOW + HOUR, "wet_at_s": None, "short_by_h": None,
        "carry_k": None, "carry_until_s": None, "headline": "Can take dew from 10:10",
        "advice": "", "next_from_s": None, "next_until_s": None, "next_likely_s": None,
        "next_text": "", "trouble": False,
    }  # fmt: skip
    return FilmTonight(**(whole | changes))  # type: ignore[arg-type]


def test_a_night_is_a_word_a_shape_and_a_colour_trouble_first(bench: Workbench) -> None:
    films = (
        film(bench),
        film(bench, dew_safe_s=None),
        film(bench, trouble=True, wet_at_s=NOW, headline="Wet at 09:10"),
    )
    page = tonight_html("Dunlin", films, None, WORDS)
    marks = re.findall(r'<section class="(\w+)"><p class="mark"><span>(.)</span> ([^<]+)', page)
    assert marks == [
        ("wait", "▲", "Trouble tonight"),
        ("go", "●", "Clear tonight"),
        ("unknown", "?", "Can&#x27;t tell"),
    ]


def test_a_moment_that_is_missing_is_said_in_words(bench: Workbench) -> None:
    dry = tonight_html("Dunlin", (film(bench, wet_at_s=None),), None, WORDS)
    assert "<th>Wet from</th><td>not tonight</td>" in dry
    unknown = film(bench, wet_at_s=None, dew_safe_s=None, tack_free_s=None)
    page = tonight_html("Dunlin", (unknown,), None, WORDS)
    for label in ("Tack-free from", "Can take dew from", "Wet from"):
        assert f"<th>{label}</th><td>not known</td>" in page


def test_no_film_and_no_reading_are_said(bench: Workbench) -> None:
    page = tonight_html("Dunlin", (), None, WORDS)
    assert "Nothing wet tonight" in page
    assert "No reading is kept." in page


def test_what_was_typed_is_never_markup(bench: Workbench) -> None:
    page = tonight_html(
        "<script>alert(1)</script>",
        (film(bench, headline="<b>", advice='"><img src=x>'),),
        Reading(NOW, 18.0, 60.0, 15.0),
        WORDS,
    )
    assert page.count("<script>") == 1  # the page's own
    assert "<img" not in page
    assert "air 18.0 °C, humidity 60%, coldest spot 15.0 °C" in page
