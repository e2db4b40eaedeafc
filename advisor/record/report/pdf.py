"""The report as a PDF: selectable text in embedded type, the same bytes from the same record.

PDF/A-3u is claimed (fpdf2 refuses what it forbids and writes its marks); it has not been
validated by a PDF/A validator.
"""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING

from advisor import __version__
from advisor.base.units import Units
from advisor.record.report.blocks import (
    Block,
    Chart,
    Heading,
    NewPage,
    Paper,
    Pictures,
    Prose,
    Run,
    Signatures,
    Table,
)
from advisor.record.report.letters import close_letters, load_letters
from advisor.record.report.paper_chart import print_chart
from advisor.record.report.paper_pictures import (
    pictures_height,
    print_pictures,
    print_signatures,
    signatures_height,
)
from advisor.record.report.paper_table import (
    TABLE_PT,
    TEXT_PT,
    first_height,
    print_prose,
    print_table,
    prose_height,
)
from advisor.record.report.say import Say
from advisor.record.report.sheet import MARGIN, TOP, Sheet, line_height
from advisor.record.report.xmp import xmp_packet

if TYPE_CHECKING:
    from fpdf import FPDF

_HEADING_PT = MappingProxyType({1: 14.0, 2: 10.5, 3: 8.5})


def pdf_bytes(paper: Paper, say: Say, fonts: Path) -> bytes:
    """Return the PDF. `fonts` is the folder of the type that is embedded."""
    pdf = _document(paper, say.words.units)
    try:
        _write(Sheet(pdf, load_letters(pdf, fonts)), paper, say)
        return bytes(pdf.output())
    finally:
        close_letters(pdf)


def _name(sheet: Sheet, paper: Paper) -> None:
    """Say what the document is, the same in its own fields and in its metadata."""
    title = sheet.letters.printable(paper.title).replace("\n", " ")
    subject = f"Record head {paper.head}"
    creator, producer = f"painting-window-advisor {__version__}", "fpdf2"
    sheet.pdf.set_title(title)
    sheet.pdf.set_subject(subject)
    sheet.pdf.set_creator(creator)
    sheet.pdf.set_producer(producer)
    made = datetime.fromtimestamp(int(paper.made_s), UTC)
    sheet.pdf.set_xmp_metadata(xmp_packet(title, subject, creator, producer, made))


def _write(sheet: Sheet, paper: Paper, say: Say) -> None:
    _name(sheet, paper)
    sheet.new_page()
    for block, after in zip(paper.blocks, (*paper.blocks[1:], None), strict=True):
        if isinstance(block, Heading):
            _heading(sheet, block, after)
        else:
            _print(sheet, block, say)
    _furnish(sheet, paper, say)


def _document(paper: Paper, units: Units) -> FPDF:
    """Return an empty document; its dates come from the paper, never from the clock."""
    from fpdf import FPDF

    made = datetime.fromtimestamp(int(paper.made_s), UTC)
    pdf = FPDF(format="Letter" if units == "us" else "A4", unit="mm",
               enforce_compliance="PDF/A-3U")  # fmt: skip
    pdf.set_auto_page_break(False)
    pdf.set_creation_date(made)
    pdf.set_lang("en")
    if paper.attached:
        pdf.embed_file(bytes=paper.attached, basename="record-lines.jsonl",
                       mime_type="application/json", modification_date=made, creation_date=made,
                       associated_file_relationship="SOURCE",
                       desc="The lines of the record this report was made from")  # fmt: skip
    return pdf


def _print(sheet: Sheet, block: Block, say: Say) -> None:
    if isinstance(block, Prose):
        print_prose(sheet, block.runs, TABLE_PT if block.small else TEXT_PT)
    elif isinstance(block, Table):
        print_table(sheet, block)
    elif isinstance(block, Chart):
        print_chart(sheet, block.coat, say)
    elif isinstance(block, Pictures):
        print_pictures(sheet, block)
    elif isinstance(block, Signatures):
        print_signatures(sheet, block)
    elif isinstance(block, NewPage) and not sheet.fresh:
        sheet.new_page()


def _heading(sheet: Sheet, heading: Heading, after: Block | None) -> None:
    """Print a heading on the page of what it heads."""
    size_pt = _HEADING_PT[heading.level]
    lines = sheet.broken((Run(heading.text, bold=True),), sheet.width, size_pt)
    height = len(lines) * line_height(size_pt)
    sheet.need(height + 4 + _beginning(sheet, after))
    sheet.y += 0 if sheet.fresh else 2.0
    for line in lines:
        sheet.need(line_height(size_pt))
        sheet.line(line, MARGIN, sheet.y, size_pt)
        sheet.y += line_height(size_pt)
    sheet.y += 0.8


def _beginning(sheet: Sheet, block: Block | None) -> float:
    """Return how much of a block stays with the heading above it, mm."""
    if isinstance(block, Table):
        return first_height(sheet, block)
    if isinstance(block, Prose):
        return prose_height(sheet, block.runs)
    if isinstance(block, Pictures):
        return pictures_height(sheet, block)
    return signatures_height(sheet, block) if isinstance(block, Signatures) else 14.0


def _furnish(sheet: Sheet, paper: Paper, say: Say) -> None:
    """Print head and foot of every page, now that it is known how many there are."""
    pdf, count = sheet.pdf, int(sheet.pdf.pages_count)
    for page in range(1, count + 1):
        pdf.page = page
        # The type and the pen another page ended with are not this page's.
        pdf.current_font_is_set_on_page = False
        sheet.stroke((0, 0, 0), 1, 1, 1)
        foot = float(pdf.h) - 11
        sheet.stroke((150, 150, 150), 0.15)
        pdf.line(MARGIN, foot - 4, float(pdf.w) - MARGIN, foot - 4)
        _edge(sheet, paper.job_name, f"page {page} of {count}", TOP - 9)
        _edge(sheet, f"head {paper.head[:16]}…",
              f"made {say.when(paper.made_s)}, version {__version__}", foot - 2.5)  # fmt: skip


def _edge(sheet: Sheet, left: str, right: str, top: float) -> None:
    """Print one short line, left and right, cut where a long name would reach the right."""
    right_run = Run(sheet.letters.printable(right), "quiet")
    wide = sheet.letters.width(right_run.text, 7.5)
    lines = sheet.broken((Run(left, "quiet"),), sheet.width - wide - 8, 7.5)
    shown = lines[0] if len(lines) == 1 else [*lines[0], Run("…", "quiet")]
    sheet.line(shown, MARGIN, top, 7.5)
    sheet.line((right_run,), MARGIN + sheet.width - wide, top, 7.5)
