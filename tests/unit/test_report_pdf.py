"""The report on paper: what a maker, a surveyor or a court finds on it."""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
import zlib
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from fpdf import FPDF

from advisor.base.errors import InputError
from advisor.planning.words import Words
from advisor.record.kinds import KINDS
from advisor.record.report.blocks import Block, Heading, Paper, Pictures, Prose, Run, Table, cell
from advisor.record.report.coat import coat_page
from advisor.record.report.letters import Letters, close_letters, lines_of, load_letters
from advisor.record.report.paper_pictures import thumbnail
from advisor.record.report.pdf import pdf_bytes
from advisor.record.report.say import Say
from advisor.record.report.told import Told, told
from advisor.record.report.whole import coat_paper, job_paper
from advisor.record.review_types import JobReview
from tests.helpers.record_job import MADE_S, job_review, with_entry

SAY = Say(Words("metric", ZoneInfo("Europe/London")))
needs_pdftotext = pytest.mark.skipif(
    shutil.which("pdftotext") is None, reason="pdftotext (poppler) is not installed"
)


@pytest.fixture(scope="session")
def fonts(root: Path) -> Path:
    return root / "resources" / "fonts"


def job_told(review: JobReview | None = None, say: Say = SAY) -> Told:
    return told(review or job_review(), say, lambda _: None)


def words_of(blocks: tuple[Block, ...]) -> str:
    """All text of some blocks, as it would be read."""
    found: list[str] = []
    for block in blocks:
        if isinstance(block, Heading):
            found.append(block.text)
        elif isinstance(block, Prose):
            found.append("".join(run.text for run in block.runs))
        elif isinstance(block, Table):
            found += block.heads
            found += ["".join(run.text for run in c) for row in block.rows for c in row]
            found += [] if block.rows else [block.empty]
        elif isinstance(block, Pictures):
            found += [picture.caption for picture in block.pictures]
    return "\n".join(found)


def pages_of(body: bytes, tmp_path: Path) -> list[str]:
    """Text of each page, as a reader program selects it."""
    path = tmp_path / "read.pdf"
    path.write_bytes(body)
    done = subprocess.run(["pdftotext", "-layout", str(path), "-"], capture_output=True, check=True)
    return done.stdout.decode().split("\f")[:-1]


# --- what stands on it -------------------------------------------------------------------


def test_every_field_of_every_kind_is_there_or_named_as_not_kept() -> None:
    """Trade notes 4.1: all fields, and no blanks. An entry of each kind without its extras."""
    review = job_review()
    for kind in KINDS.values():
        least = {f.key: ("1" if f.type == "text" else []) for f in kind.fields if f.required}
        review = with_entry(review, kind.key, least, coat="gloss-1" if kind.of == "coat" else "")
    text = words_of(job_paper(job_told(review)).blocks).lower()
    for kind in KINDS.values():
        for field in kind.fields:
            assert field.label.lower() in text, f"{kind.label}: {field.label}"
    assert "not kept: yard, specification" in text


def test_a_coat_without_a_reading_is_not_known_and_prints(fonts: Path) -> None:
    review = job_review()
    none = np.empty(0)
    bare = replace(
        review.coats[0].readings, time_s=none.astype(np.int64), air_temp_c=none, rh_pct=none,
        dew_point_c=none, surface_temp_c=none, margin_k=none, source=(),
        doubtful=none.astype(bool),
    )  # fmt: skip
    coat = replace(review.coats[0], readings=bare, limits=(), interval=None, tack_free_s=None,
                   dew_safe_s=None, decision=None, films=(), batches=())  # fmt: skip
    at = job_told(replace(review, coats=(coat,)))
    text = words_of(coat_page(at, coat))
    assert "No reading was kept for this coat" in text
    assert "No limit is kept." in text
    assert pdf_bytes(job_paper(at), SAY, fonts).startswith(b"%PDF-")


def test_a_job_without_entries_prints(fonts: Path) -> None:
    empty = JobReview("dunlin", "Pilot gig Dunlin", (), (), "0" * 64, MADE_S, ("The end is lost",))
    paper = job_paper(job_told(empty))
    text = words_of(paper.blocks)
    assert "No coat has been laid." in text
    assert "▲ The end is lost" in text
    assert pdf_bytes(paper, SAY, fonts).startswith(b"%PDF-")


def test_a_correction_leaves_what_was_struck_through_with_reason_person_and_time() -> None:
    review = job_review()
    runs = [run for block in job_paper(job_told(review)).blocks if isinstance(block, Table)
            for row in block.rows for c in row for run in c]  # fmt: skip
    assert Run("72 % (typed, hygro)", struck=True) in runs
    assert Run("75 % (typed, hygro)") in runs
    rows = [[words_of((Prose(c),)) for c in row] for block in coat_page(job_told(review),
            review.coats[0]) if isinstance(block, Table) for row in block.rows]  # fmt: skip
    (told_of,) = [row for row in rows if row[0] == "15"]
    assert told_of[1:3] == ["2026-05-14 14:00 +01:00", "Żaneta Ořech"]
    assert told_of[5].startswith("misread")


def test_a_value_corrected_twice_keeps_both() -> None:
    review = job_review()
    reading = next(e for e in review.entries if e.kind == "reading")
    again = with_entry(review, "correction", {
        "corrects": str(reading.number), "corrects_hash": reading.hash, "reason": "again",
        "values": [{"field": "rh", "was": {"value": "75", "unit": "%", "source": "typed"},
                    "now": {"value": "76", "unit": "%", "source": "typed"}}]})  # fmt: skip
    shown = job_told(again).text(reading, "rh")
    struck = [run.text for run in shown if run.struck]
    assert struck == ["72 % (typed, hygro)", "75 % (typed, hygro)"]
    assert "76 % (typed)" in [run.text for run in shown if not run.struck]


def test_an_entry_struck_out_stays_to_be_read() -> None:
    review = job_review()
    defect = next(e for e in review.entries if e.kind == "defect")
    taken = with_entry(review, "correction", {
        "corrects": str(defect.number), "corrects_hash": defect.hash, "reason": "another boat",
        "values": [{"field": "entry", "was": "", "now": "struck out"}]})  # fmt: skip
    at = job_told(taken)
    assert at.text(defect, "defect") == (Run("gloss loss", struck=True),)
    assert "struck out" in "".join(run.text for run in at.when(defect))


def test_late_entries_out_of_date_instruments_and_gaps_are_marked() -> None:
    text = words_of(job_paper(job_told()).blocks)
    assert "written 3 h later" in text
    assert "out of date when used: entries 6, 21" in text
    assert "2026-05-14 19:00 +01:00 to 2026-05-15 02:00 +01:00 (7 h)" in text
    assert "Dry and prepare again" in text
    assert "no reading for 7 h" in text  # among the readings, too


def test_a_missing_lot_number_is_named() -> None:
    text = words_of(coat_page(job_told(), job_review().coats[0]))
    assert "lot B-1107, expiry 2027-03, 0.60 L" in text
    assert "lot not kept, expiry not kept, 0.05 L" in text


def test_sources_stay_apart() -> None:
    text = words_of(coat_page(job_told(), job_review().coats[0]))
    for source in ("(typed, hygro)", "(computed)", "(data sheet)", "(estimated)", "imported",
                   "measured"):  # fmt: skip
        assert source in text


def test_a_page_for_a_coat_that_is_not_on_is_refused() -> None:
    with pytest.raises(InputError, match=r"gloss-3.*accepted: gloss-1, gloss-2"):
        coat_paper(job_told(), "gloss-3")


def test_each_coat_has_its_own_entries_and_those_of_its_area_in_its_time() -> None:
    at = job_told()
    first, second = (set(e.number for e in at.entries_of(c)) for c in at.review.coats)
    assert not first & second
    covered = {e.number for e in at.review.entries if e.kind not in ("job", "instrument")}
    assert first | second == covered


def test_us_units_change_values_not_what_was_entered() -> None:
    say = Say(Words("us", ZoneInfo("Europe/London")))
    text = words_of(coat_page(job_told(say=say), job_review().coats[0])).replace("\u00a0", " ")
    assert "at least 5.4 F°" in text  # 3 K is a difference: no offset of 32
    assert "least 3.1 mil" in text  # 78 µm / 25.4
    assert "14.5 °C (typed, hygro)" in text


# --- the file ----------------------------------------------------------------------------


def test_the_same_record_gives_the_same_bytes_in_another_process(
    fonts: Path, root: Path, tmp_path: Path
) -> None:
    """Hash seeds differ between processes: an order left to a set would show."""
    script = (
        "import sys; from pathlib import Path; from tests.unit.test_report_pdf import *\n"
        "body = pdf_bytes(job_paper(job_told()), SAY, Path(sys.argv[2]))\n"
        "Path(sys.argv[1]).write_bytes(body)"
    )
    made = []
    for seed in ("1", "2"):
        path = tmp_path / f"{seed}.pdf"
        subprocess.run([sys.executable, "-c", script, str(path), str(fonts)], cwd=root, check=True,
                       env={"PYTHONHASHSEED": seed, "PYTHONPATH": str(root)})  # fmt: skip
        made.append(path.read_bytes())
    assert made[0] == made[1]
    assert b"/CreationDate (D:20260519080000" in made[0]


def test_fonts_are_embedded_and_pdf_a_is_claimed(fonts: Path) -> None:
    body = pdf_bytes(job_paper(job_told()), SAY, fonts)
    assert len(re.findall(rb"/FontFile2", body)) == 2
    assert b"<pdfaid:part>3</pdfaid:part>" in body
    assert b"<pdfaid:conformance>U</pdfaid:conformance>" in body
    assert b"/OutputIntents" in body


def test_the_report_carries_the_lines_it_was_made_from(fonts: Path) -> None:
    review = job_review()
    lines = b"".join(e.line + b"\n" for e in review.entries)
    body = pdf_bytes(job_paper(job_told(review)), SAY, fonts)
    streams = re.findall(rb"stream\r?\n(.*?)\r?\nendstream", body, re.DOTALL)
    assert any(lines in one or lines in _inflated(one) for one in streams)


def _inflated(stream: bytes) -> bytes:
    try:
        return zlib.decompress(stream)
    except zlib.error:
        return b""


@needs_pdftotext
def test_every_page_has_number_job_and_head_and_text_can_be_selected(
    fonts: Path, tmp_path: Path
) -> None:
    review = job_review()
    pages = pages_of(pdf_bytes(job_paper(job_told(review)), SAY, fonts), tmp_path)
    assert len(pages) > 8
    for number, page in enumerate(pages, 1):
        assert f"page {number} of {len(pages)}" in page
        assert "Pilot gig Dunlin" in page
        assert f"head {review.head[:16]}" in page
    text = "\n".join(pages)
    assert "Żaneta Ořech" in text
    assert review.head in text
    for role in ("Applied by", "For the maker or surveyor", "signature"):
        assert role in text


@needs_pdftotext
@pytest.mark.parametrize(
    "name", ["Ξένια Καραβά", "Йосип Човен", "Łódź Þór Ñandú", "αβγ – ½ ± µ ≥ °C"]
)
def test_names_of_many_scripts_print(name: str, fonts: Path, tmp_path: Path) -> None:
    review = with_entry(job_review(), "observation", {"what": "gloss", "text": name}, "gloss-1")
    body = pdf_bytes(coat_paper(job_told(review), "gloss-1"), SAY, fonts)
    assert name in " ".join("\n".join(pages_of(body, tmp_path)).split())


@needs_pdftotext
@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("漆", "[U+6F06]"),
        ("\U0001f3a8", "[U+1F3A8]"),
        ("a\u0007b", "a[U+0007]b"),
        ("a\u202eb", "a[U+202E]b"),
        ("a\u0000b", "a[U+0000]b"),
    ],
)
def test_a_letter_that_cannot_be_printed_is_seen_to_be_there(
    text: str, shown: str, fonts: Path, tmp_path: Path
) -> None:
    paper = Paper("t", "t", "0" * 64, MADE_S, (Prose(cell(text)),))
    assert shown in pages_of(pdf_bytes(paper, SAY, fonts), tmp_path)[0]


# --- long text and many rows -------------------------------------------------------------


@pytest.fixture(scope="module")
def letters(root: Path) -> Iterator[Letters]:
    pdf = FPDF()
    pdf.add_page()
    yield load_letters(pdf, root / "resources" / "fonts")
    close_letters(pdf)


@pytest.mark.parametrize(
    "text",
    [
        "word " * 200,
        "W" * 500,
        "a-b" * 100,
        "x" * 39 + " " + "y" * 41,
        "one\ntwo\n\nfour",
        " " * 90,
    ],
)
@pytest.mark.parametrize("width", [8.0, 25.0, 180.0])
def test_no_line_is_wider_than_its_cell_and_no_letter_is_lost(
    text: str, width: float, letters: Letters
) -> None:
    lines = lines_of(letters, (Run(text), Run("end", bold=True)), width, 7.5)
    for line in lines:
        used = sum(letters.width(run.text, 7.5, bold=run.bold) for run in line)
        trailing = letters.width(" ", 7.5) * (len(line[-1].text) - len(line[-1].text.rstrip(" "))
                                              if line else 0)  # fmt: skip
        assert used - trailing <= width + 1e-9  # mm; a sum of a few hundred widths
    told_again = "".join(run.text for line in lines for run in line)
    assert told_again == (text + "end").replace("\n", "")


@needs_pdftotext
def test_a_cell_longer_than_a_page_goes_on_over_pages(fonts: Path, tmp_path: Path) -> None:
    long = " ".join(f"w{n}" for n in range(4000))
    review = with_entry(job_review(), "observation", {"what": "gloss", "text": long}, "gloss-1")
    pages = pages_of(pdf_bytes(coat_paper(job_told(review), "gloss-1"), SAY, fonts), tmp_path)
    found = set(re.findall(r"\bw\d+\b", "\n".join(pages)))
    assert found == set(long.split())


@needs_pdftotext
def test_a_very_long_job_name_leaves_room_for_the_page_number(fonts: Path, tmp_path: Path) -> None:
    review = replace(job_review(), job_name="Dunlin of the tide mill " * 40)
    pages = pages_of(pdf_bytes(coat_paper(job_told(review), "gloss-1"), SAY, fonts), tmp_path)
    assert all(f"page {n} of {len(pages)}" in page for n, page in enumerate(pages, 1))


# --- photos ------------------------------------------------------------------------------


def photo(path: Path, kind: str, mode: str = "RGB", size: tuple[int, int] = (900, 700)) -> Path:
    from PIL import Image

    Image.new(mode, size, 128).save(path, kind)
    return path


@pytest.mark.parametrize(
    ("kind", "mode"),
    [("JPEG", "RGB"), ("JPEG", "CMYK"), ("JPEG", "L"), ("PNG", "RGBA"), ("PNG", "P"),
     ("PNG", "I;16"), ("PNG", "LA"), ("PNG", "1")],
)  # fmt: skip
def test_photos_of_every_usual_form_are_shown(kind: str, mode: str, tmp_path: Path) -> None:
    small = thumbnail(photo(tmp_path / "photo", kind, mode))
    assert isinstance(small, bytes)
    assert small.startswith(b"\xff\xd8")


def test_photos_that_cannot_be_shown_say_why(tmp_path: Path) -> None:
    cut = photo(tmp_path / "cut.jpg", "JPEG")
    cut.write_bytes(cut.read_bytes()[:700])
    other = photo(tmp_path / "other.gif", "GIF")
    (tmp_path / "text.jpg").write_text("no picture")
    for path in (cut, other, tmp_path / "text.jpg"):
        assert thumbnail(path) == (
            "This file cannot be read as a JPEG or PNG picture; it is in the export."
        )
    assert thumbnail(None) == "The file of this photo is not beside the record."


def test_a_photo_stands_on_the_page_of_its_coat(fonts: Path, tmp_path: Path) -> None:
    path = photo(tmp_path / "photo.jpg", "JPEG")
    review = with_entry(
        job_review(), "photo", {"file_name": "bow.jpg", "sha256": "cd" * 32, "caption": "bow"},
        "gloss-1",
    )  # fmt: skip
    at = told(review, SAY, lambda sha256: path if sha256 == "cd" * 32 else None)
    body = pdf_bytes(coat_paper(at, "gloss-1"), SAY, fonts)
    assert b"/Subtype /Image" in body
    assert f"SHA-256 {'cd' * 32}" in words_of(coat_page(at, review.coats[0]))
