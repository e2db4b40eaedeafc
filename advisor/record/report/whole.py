"""The two papers: the whole job, and the page of one coat; both end with how to check them."""

from __future__ import annotations

from advisor.base.errors import InputError
from advisor.record.chain import Head
from advisor.record.export import end_line
from advisor.record.report.blocks import (
    Block,
    Heading,
    NewPage,
    Paper,
    Prose,
    Run,
    Signatures,
    cell,
)
from advisor.record.report.cards import cards
from advisor.record.report.coat import coat_page
from advisor.record.report.coat_tables import corrections_table
from advisor.record.report.cover import brief_cover, cover, instruments
from advisor.record.report.told import Told
from advisor.record.review.summary import COVERED

ROLES = ("Applied by", "Checked by", "For the owner", "For the maker or surveyor")

#: Said before all entries: what is on paper, and where the rest of it is.
_HOW_TOLD = (
    "Every entry in the order it was written, with its hash. What stands on the page of a coat or "
    "on the first pages has one row here; all else is told in full. The export of this record "
    "holds each line as it was written (record.jsonl), every reading and every field for a "
    "spreadsheet (csv) and for a program (report.json), and the files that were imported (files). "
    "Written by program {programs}."
)


def job_paper(told: Told) -> Paper:
    """Return the report of the whole job."""
    review = told.review
    blocks: list[Block] = [*cover(told)]
    for coat in review.coats:
        blocks += [NewPage(), *coat_page(told, coat)]
    corrections = [e for e in review.entries if e.kind == "correction"]
    blocks += [NewPage(), Heading("The whole record", 1),
               Prose(cell(_HOW_TOLD.format(programs=_programs(told)))),
               Heading("All corrections"), corrections_table(told, None, corrections),
               Heading("All entries"), *cards(told, review.entries)]  # fmt: skip
    blocks += [*_sign_offs(told), *_checking(told), *_by_hand(told)]
    head = Head(len(review.entries), review.head)
    record = b"".join(e.line + b"\n" for e in review.entries) + end_line(head) + b"\n"
    return Paper(f"Conditions record: {review.job_name}", review.job_name, review.head,
                 review.made_s, tuple(blocks), record)  # fmt: skip


def coat_paper(told: Told, coat_id: str) -> Paper:
    """Return the page for one coat; InputError for a coat that was not laid."""
    review = told.review
    coat = next((c for c in review.coats if c.coat_id == coat_id), None)
    if coat is None:
        known = ", ".join(c.coat_id for c in review.coats) or "none yet"
        raise InputError(f"coat: found {coat_id!r}, which is not on; accepted: {known}")
    title = f"Conditions record: {coat.coat_name}, {coat.area_name}"
    blocks = (
        *brief_cover(told),
        *coat_page(told, coat),
        Prose(cell(COVERED, "quiet"), small=True),
        Heading("Instruments"),
        instruments(told),
        *_checking(told),
        *_by_hand(told),
    )
    return Paper(title, review.job_name, review.head, review.made_s, blocks)


def _by_hand(told: Told) -> tuple[Block, ...]:
    """Return the lines to sign on, with the head of what is signed for."""
    review = told.review
    entries = "1 entry" if len(review.entries) == 1 else f"{len(review.entries)} entries"
    statement = f"For {entries} with the head {review.head}"
    return (Heading("Signed by hand"), Signatures(ROLES, statement))


def _programs(told: Told) -> str:
    """Return the versions that wrote the record, the first first."""
    return ", ".join(dict.fromkeys(e.app for e in told.review.entries)) or "none"


def _sign_offs(told: Told) -> tuple[Block, ...]:
    """Return what was signed with a key, and what that signature covers."""
    blocks: list[Block] = [Heading("Signed with a key")]
    for entry in told.review.entries:
        if entry.kind == "sign-off":
            blocks.append(Prose((
                Run(f"No {entry.number}, {told.say.when(entry.at_s)}. ", bold=True),
                *told.said(entry, "sign-off", ("name", "role", "statement", "public_key")),
                Run(f"\nIt binds entries 1 to {entry.number}; head {entry.hash}"))))  # fmt: skip
    if len(blocks) == 1:
        blocks.append(Prose(cell("Nobody has signed with a key.", "quiet")))
    return tuple(blocks)


def _checking(told: Told) -> tuple[Block, ...]:
    """Return how anyone proves, without this program, that nothing was altered."""
    review = told.review
    steps = (
        "Each entry holds the SHA-256 of the line before it, so a changed, moved, added or missing "
        "entry breaks every hash after it. To check, take the export of this record: "
        "record.jsonl and, beside it, verify_record.py, one file that needs nothing but Python.",
        f"Run: python verify_record.py record.jsonl --head {review.head}",
        "It says that the record is intact, or at which entry it is not. The head above is printed "
        "at the foot of every page in short: keep this paper, and an end cut off later shows too.",
        "Paper alone proves nothing about the file; the file alone may have been made anew. Both "
        "together, with the head written down by another person on the day, do.",
    )
    return (Heading("How to check this record"), *(Prose(cell(step)) for step in steps),
            Prose((Run("Head: ", bold=True), Run(review.head),
                   Run(f"  entries: {len(review.entries)}"))))  # fmt: skip
