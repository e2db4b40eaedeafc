"""The first pages: whose job, which areas, products and instruments, and how each coat stands."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime

from advisor.record.canonical import Json
from advisor.record.entry import Entry
from advisor.record.kinds import KINDS
from advisor.record.report.blocks import Block, Heading, Prose, Row, Run, Table, cell
from advisor.record.report.say import ROW_HEADS, rows_of, standing
from advisor.record.report.told import Told
from advisor.record.review.summary import COVERED

#: What the marks of sources mean; typed and measured are never mixed up in print.
SOURCES = (
    "Where a number is from stands beside it: measured (by a sensor, live), imported (from a "
    "logger's file), typed (read and written by a person), forecast, estimated, computed, or data "
    "sheet. A gap is printed as a gap. A reading that fails a limit stays."
)
CAUTION = (
    "Compliance here is plain readings against the limits in force then, apart from any advice. "
    "The maker's data sheet, local codes and licensed practice come first; this report tells what "
    "was recorded and promises nothing."
)


def cover(told: Told) -> tuple[Block, ...]:
    """Return the cover: the job, how each coat stands, areas, products and instruments."""
    review = told.review
    return (
        Heading(f"Conditions record: {review.job_name}", 1),
        Prose(cell(f"Made {told.say.when(review.made_s)} from {len(review.entries)} entries; times "
                   f"in the zone {told.say.words.zone.key}, with their offset.", "quiet")),
        Prose((Run("Head of the record: ", bold=True), Run(review.head))),
        *(Prose(cell(f"▲ {problem}", "bad", bold=True)) for problem in review.problems),
        _header(told),
        Heading("How each coat stands"),
        _standings(told),
        Prose(cell(CAUTION)),
        Prose(cell(SOURCES)),
        Prose(cell(COVERED)),
        *_system(told),
        Heading("Instruments"),
        instruments(told),
    )  # fmt: skip


def brief_cover(told: Told) -> tuple[Block, ...]:
    """Return the header of a page for one coat."""
    review, job = told.review, _last(told.review.entries, "job")
    names = ("item", "item_id", "owner", "yard", "place", "enclosure", "previous_coating",
             "specification", "people")  # fmt: skip
    return (
        Heading(f"Conditions record: {review.job_name}", 1),
        *(Prose(cell(f"▲ {problem}", "bad", bold=True)) for problem in review.problems),
        Prose(told.said(job, "job", names)),
    )


def instruments(told: Told) -> Table:
    """Return every instrument with serial and calibration; one out of date is flagged."""
    groups = (("id", "serial"), ("measures", "type"), ("calibrated", "due"),
              ("accuracy", "range"), ("field_check", "position"))  # fmt: skip
    latest = {str(e.data.get("id")): e for e in told.review.entries if e.kind == "instrument"}
    rows: list[Row] = []
    for entry in latest.values():
        cells = (told.lines(entry, keys) for keys in groups)
        rows.append((*cells, _out_of_date(told, entry)))
    heads = ("Instrument", "Kind", "Calibration", "Accuracy, range", "Check, position", "In date?")
    return Table(heads, (17, 17, 19, 17, 16, 14), tuple(rows))


def _out_of_date(told: Told, entry: Entry) -> tuple[Run, ...]:
    """Return how the calibration stands by what the entries kept and by its due date."""
    used = [e for e in told.review.entries if _late_use(e, str(entry.data.get("id")))]
    due = _date(told.changes.now(entry).data.get("due"))
    if used:
        return cell(f"▲ out of date when used: entries {_numbers(used)}", "bad", bold=True)
    if due is None:
        return cell("? no due date kept", "doubt")
    made = datetime.fromtimestamp(told.review.made_s, told.say.words.zone).date()
    if due >= made:
        return cell(f"● in date until {due}")
    return cell(f"? ran out {due}; no entry says it was used after", "doubt")


def _late_use(entry: Entry, instrument: str) -> bool:
    for row in rows_of(entry.known.get("instruments")):
        if row.get("id") == instrument:
            return row.get("out_of_date") == "yes"
    return False


def _numbers(entries: Sequence[Entry]) -> str:
    shown = ", ".join(str(e.number) for e in entries[:6])
    return f"{shown} and {len(entries) - 6} more" if len(entries) > 6 else shown


def _header(told: Told) -> Table:
    job = _last(told.review.entries, "job")
    rows: list[Row] = []
    missing = []
    for field in (f for f in KINDS["job"].fields if f.type != "rows"):
        value = told.changes.shown(job, field.key, told.say) if job else ()
        if field.key == "name" and job is None:
            value = cell(told.review.job_name)
        if value:
            rows.append((cell(field.label, bold=True), value))
        else:
            missing.append(field.label.lower())
    if missing:
        rows.append((cell("Not kept", "quiet", bold=True), cell(", ".join(missing), "quiet")))
    return Table(("About the job", "As kept"), (24, 76), tuple(rows))


def _standings(told: Told) -> Table:
    rows = tuple(
        (cell(c.coat_name, bold=True), cell(c.area_name), cell(told.say.when(c.started_s)),
         cell(told.say.when(c.ended_s)), standing(c.standing), cell(c.summary))
        for c in told.review.coats
    )  # fmt: skip
    heads = ("Coat", "Area", "First patch", "Last patch", "Limits", "In one line")
    return Table(heads, (16, 13, 15, 15, 13, 38), rows, "No coat has been laid.")


def _system(told: Told) -> tuple[Block, ...]:
    """Return the area map, the coats asked for and the products with their sheets."""
    job = _last(told.review.entries, "job")
    shown: list[Block] = []
    widths = {"areas": (16, 28, 14, 24, 18), "coats": (18, 23, 14, 22, 9, 16),
              "products": (17, 18, 10, 17, 10, 9, 37)}  # fmt: skip
    for field in KINDS["job"].fields:
        if field.type == "rows":
            heads = tuple(ROW_HEADS.get(key, key) for key in field.keys)
            rows = _rows(told.changes.now(job).data.get(field.key) if job else None, field.keys)
            shown += [Heading(field.label), Table(heads, widths[field.key], rows)]
    return tuple(shown)


def _rows(value: Json, keys: tuple[str, ...]) -> tuple[Row, ...]:
    return tuple(tuple(cell(str(row.get(key) or "")) for key in keys) for row in rows_of(value))


def _last(entries: Sequence[Entry], kind: str) -> Entry | None:
    return next((e for e in reversed(entries) if e.kind == kind), None)


def _date(value: Json) -> date | None:
    try:
        return date.fromisoformat(str(value))
    except ValueError:
        return None
