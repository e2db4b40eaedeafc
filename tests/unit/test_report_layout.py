"""How the report stands on paper: what stays together, and what is told once."""

from __future__ import annotations

import re
import shutil
import subprocess
from dataclasses import replace
from pathlib import Path
from xml.etree import ElementTree
from zoneinfo import ZoneInfo

import pytest

from advisor.planning.words import Words
from advisor.record.canonical import Json
from advisor.record.entry import Entry
from advisor.record.report.blocks import (
    Block,
    Heading,
    Paper,
    Prose,
    Signatures,
    Table,
    cell,
)
from advisor.record.report.cards import cards
from advisor.record.report.coat import coat_page, limits_table
from advisor.record.report.known_then import KnownBefore, known_then
from advisor.record.report.paper_table import _fitting
from advisor.record.report.pdf import pdf_bytes
from advisor.record.report.say import Say
from advisor.record.report.told import Told, told
from advisor.record.report.whole import ROLES, job_paper
from advisor.record.review_types import JobReview
from tests.helpers.record_job import KNOWN, MADE_S, job_review, with_entry

SAY = Say(Words("metric", ZoneInfo("Europe/London")))
needs_pdftotext = pytest.mark.skipif(
    shutil.which("pdftotext") is None, reason="pdftotext (poppler) is not installed"
)


@pytest.fixture(scope="session")
def fonts(root: Path) -> Path:
    return root / "resources" / "fonts"


def job_told(review: JobReview | None = None) -> Told:
    return told(review or job_review(), SAY, lambda _: None)


def words_of(blocks: tuple[Block, ...]) -> str:
    """Text of headings, paragraphs and tables."""
    found: list[str] = []
    for block in blocks:
        if isinstance(block, Heading):
            found.append(block.text)
        elif isinstance(block, Prose):
            found.append("".join(run.text for run in block.runs))
        elif isinstance(block, Table):
            found += ["".join(run.text for run in c) for row in block.rows for c in row]
    return "\n".join(found).replace("\u00a0", " ")


def pages(blocks: tuple[Block, ...], fonts: Path, folder: Path) -> list[str]:
    """Text of each page of some blocks."""
    path = folder / "read.pdf"
    path.write_bytes(pdf_bytes(Paper("t", "t", "0" * 64, MADE_S, blocks), SAY, fonts))
    done = subprocess.run(["pdftotext", "-layout", path, "-"], capture_output=True, check=True)
    return done.stdout.decode().split("\f")[:-1]


# --- what stays together ------------------------------------------------------------------


@needs_pdftotext
@pytest.mark.parametrize("before", [0, 40, 44, 50, 56, 60, 62])
def test_the_lines_to_sign_on_stand_together_under_their_heading(
    before: int, fonts: Path, tmp_path: Path
) -> None:
    filler: tuple[Block, ...] = tuple(Prose(cell(f"line {n}")) for n in range(before))
    blocks = (
        *filler,
        Heading("Signed by hand"),
        Signatures(ROLES, "For 3 entries with the head ab"),
    )
    (signed,) = [p for p in pages(blocks, fonts, tmp_path) if "Signed by hand" in p]
    assert "For 3 entries with the head ab" in signed
    assert all(role in signed for role in ROLES)


@pytest.mark.parametrize(
    ("count", "fits", "kept"), [(5, 9, 5), (5, 4, 3), (5, 1, 0), (3, 2, 0), (9, 4, 4), (2, 1, 0)]
)
def test_no_line_of_a_paragraph_stands_alone_on_a_page(count: int, fits: int, kept: int) -> None:
    assert _fitting(count, fits, fresh=False) == kept


@needs_pdftotext
@pytest.mark.parametrize("rows", range(44, 64, 2))
def test_no_row_of_a_table_stands_alone_on_a_page(rows: int, fonts: Path, tmp_path: Path) -> None:
    body = tuple((cell(f"row {n}"), cell("two\nlines")) for n in range(rows))
    for page in pages((Heading("Rows"), Table(("A", "B"), (1, 1), body)), fonts, tmp_path):
        assert page.count("row ") > 1


# --- what is not kept ---------------------------------------------------------------------


def test_a_sign_off_names_at_its_end_what_it_does_not_hold() -> None:
    review = with_entry(job_review(), "sign-off", {"name": "A. Crew"})
    text = words_of(job_paper(job_told(review)).blocks)
    assert "Name: A. Crew. Not kept: role, statement, public key (ed25519)." in text
    assert "not kept, not kept" not in text


def test_an_instrument_names_together_what_it_does_not_hold() -> None:
    review = with_entry(job_review(), "instrument", {"id": "probe", "serial": "S-1"})
    text = words_of(job_paper(job_told(review)).blocks)
    assert "not kept: field check, position" in text


def test_a_coat_names_in_one_paragraph_what_it_does_not_hold() -> None:
    review = job_review()
    text = words_of(coat_page(job_told(review), review.coats[0]))
    assert len(re.findall(r"(?m)^Not kept", text)) == 1


# --- what is told once --------------------------------------------------------------------


def test_an_imported_file_is_told_over_the_width_and_its_blocks_are_counted() -> None:
    blocks: list[Json] = [
        {"first_line": str(1 + 1000 * n), "lines": "1000", "sha256": f"{n:064d}"}
        for n in range(300)
    ]
    data: dict[str, Json] = {
        "file_name": "a.csv",
        "sha256": "ab" * 32,
        "columns": "air: column 2; " * 20,
        "blocks": blocks,
    }
    review = with_entry(job_review(), "import", data)
    at = job_told(review)
    shown = cards(at, at.review.entries[-1:])
    text = words_of(shown)
    assert "300 blocks up to line 300000; the SHA-256 of each is in record.jsonl" in text
    assert f"{7:064d}" not in text
    assert any(isinstance(b, Prose) and "air: column 2" in words_of((b,)) for b in shown)


def test_instruments_known_before_are_named_again_only_where_out_of_date() -> None:
    review = job_review()
    later = {**KNOWN, "shown": "something else"}
    review = with_entry(review, "observation", {"what": "gloss"}, "gloss-1")
    entry = replace(review.entries[-1], known=later)
    at = job_told(replace(review, entries=(*review.entries[:-1], entry)))
    text = words_of(cards(at, at.review.entries))
    assert text.count("serial H-0042") == 1
    assert "OUT OF DATE: hygro. " in text


def test_readings_printed_are_counted_without_the_gaps_between_them() -> None:
    review = job_review()
    page = coat_page(job_told(review), review.coats[0])
    (said,) = re.findall(r"(\d+) of \d+ readings are printed", words_of(page))
    table = next(b for b in page if isinstance(b, Table) and b.heads[:1] == ("Time",))
    gaps = [row for row in table.rows if "no reading for" in words_of((Prose(row[6]),))]
    assert gaps
    assert int(said) == len(table.rows) - len(gaps)


# --- what the file says of itself ---------------------------------------------------------


def test_metadata_is_whole_xml_with_title_head_and_the_claim(fonts: Path) -> None:
    """The properties asked by ISO 19005-3 (identification) and ISO 16684-1 (from memory)."""
    at = job_told()
    body = pdf_bytes(job_paper(at), SAY, fonts)
    (packet,) = re.findall(rb"<x:xmpmeta.*?</x:xmpmeta>", body, re.DOTALL)
    names = {"pdfaid": "http://www.aiim.org/pdfa/ns/id/", "dc": "http://purl.org/dc/elements/1.1/",
             "rdf": "http://www.w3.org/1999/02/22-rdf-syntax-ns#"}  # fmt: skip
    root = ElementTree.fromstring(packet)
    said = {key: root.findtext(f".//{key}", "", names) for key in ("pdfaid:part",
            "pdfaid:conformance", "dc:title//rdf:li", "dc:description//rdf:li")}  # fmt: skip
    assert said["pdfaid:part"] + said["pdfaid:conformance"] == "3U"
    assert said["dc:title//rdf:li"] == f"Conditions record: {at.review.job_name}"
    assert at.review.head in said["dc:description//rdf:li"]


def test_colours_have_a_profile_in_the_file_and_nothing_is_hidden_or_run(fonts: Path) -> None:
    body = pdf_bytes(job_paper(job_told()), SAY, fonts)
    profile = re.search(rb"/DestOutputProfile (\d+) 0 R", body)
    assert profile
    assert re.search(rb"\n%s 0 obj\n<<[^>]*/N 3" % profile.group(1), body)  # three colours: RGB
    assert not re.search(rb"/(Encrypt|JavaScript|Launch|SMask)\b", body)
    assert b"/AFRelationship /Source" in body


@pytest.mark.skipif(shutil.which("pdffonts") is None, reason="pdffonts (poppler) is not installed")
def test_every_type_is_in_the_file_with_its_letters_named(fonts: Path, tmp_path: Path) -> None:
    path = tmp_path / "job.pdf"
    path.write_bytes(pdf_bytes(job_paper(job_told()), SAY, fonts))
    done = subprocess.run(["pdffonts", path], capture_output=True, check=True)
    faces = done.stdout.decode().splitlines()[2:]
    assert len(faces) == 2
    for face in faces:  # embedded, a subset, with the letters its shapes stand for
        assert face.split()[-5:-2] == ["yes", "yes", "yes"]


def test_an_earlier_header_of_the_job_does_not_repeat_the_tables_of_the_first_pages() -> None:
    areas: list[Json] = [{"id": "deck", "name": "fore deck", "area_m2": "3"}]
    review = job_review()
    for owner in ("one", "another"):
        review = with_entry(review, "job", {"name": "Dunlin", "owner": owner, "areas": areas})
    at = job_told(review)
    text = words_of(cards(at, at.review.entries[-2:]))
    assert "Owner: one" in text
    assert "The same as on the first pages: areas." in text
    assert "fore deck" not in text


def test_the_tables_of_an_earlier_header_have_the_names_of_the_first_pages() -> None:
    review = job_review()
    for area_m2 in ("3", "4"):
        areas: list[Json] = [{"id": "deck", "name": "fore deck", "area_m2": area_m2}]
        review = with_entry(review, "job", {"name": "Dunlin", "areas": areas})
    at = job_told(review)
    text = words_of(cards(at, at.review.entries[-2:]))
    assert "Short name: deck, Name: fore deck, Area, m²: 3" in text
    assert "area_m2" not in text


def test_out_of_date_is_repeated_where_all_is_as_with_another_entry() -> None:
    """Two taps of one moment know the same; a late calibration is never left to be looked up."""
    at = job_told()
    first, second = (e for e in with_known_twice(at))
    before = KnownBefore()
    assert "OUT OF DATE" in "".join(run.text for run in known_then(first, before))
    again = "".join(run.text for run in known_then(second, before))
    assert again == f"The same as with No {first.number}. OUT OF DATE: hygro. "
    rows = words_of(cards(at, (first, second)))
    assert f"(known then: as with No {first.number}) OUT OF DATE: hygro." in rows


def with_known_twice(at: Told) -> tuple[Entry, Entry]:
    """Two entries told on the page of a coat, with the same known of them."""
    batch, start = (next(e for e in at.review.entries if e.kind == kind and e.coat_id)
                    for kind in ("batch", "application"))  # fmt: skip
    return batch, replace(start, known=batch.known)


def test_a_limit_held_at_one_moment_is_not_said_to_be_not_kept() -> None:
    review = job_review()
    coat = review.coats[0]
    at_once = replace(coat.limits[0], hours_known=0.0, hours_asked=0.0, outside=())
    table = limits_table(job_told(), replace(coat, limits=(at_once,)))
    outside, known = ("".join(run.text for run in c) for c in table.rows[0][4:6])
    assert (outside, known) == ("no time", "that moment")
