"""The page of one coat: its picture, its limits, and all that was kept of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from advisor.planning.words import duration
from advisor.record.entry import Entry
from advisor.record.kinds import KINDS
from advisor.record.report.blocks import (
    Block,
    Cell,
    Chart,
    Heading,
    Prose,
    Row,
    Run,
    Table,
    cell,
)
from advisor.record.report.coat_tables import (
    TableMaker,
    UnderMaker,
    application_table,
    batch_table,
    corrections_table,
    field_table,
    films_table,
    photos,
    preparation_table,
)
from advisor.record.report.say import standing
from advisor.record.report.thin import table_rows
from advisor.record.report.told import Told
from advisor.record.report.typed_table import typed_readings_table, under_readings
from advisor.record.review.summary import COVERED
from advisor.record.review_types import CoatReview, LimitReview, TimeSpan
from advisor.record.review_words import PHASES


@dataclass(frozen=True)
class Section:
    """A table of the entries of some kinds, under a heading, and what is said `under` it."""

    title: str
    kinds: tuple[str, ...]
    table: TableMaker
    under: UnderMaker | None = None


#: So many readings are printed with a coat, besides those that were typed and the worst.
_READINGS = 10


def coat_page(told: Told, coat: CoatReview) -> tuple[Block, ...]:
    """Return all of one coat: the sheet a maker asks for first, then what stands behind it."""
    mine = told.entries_of(coat)
    return (
        *_sheet(told, coat),
        *_behind(told, coat, mine),
        *_readings(told, coat),
        *_missing(told, mine),
    )


def _sheet(told: Told, coat: CoatReview) -> tuple[Block, ...]:
    return (
        Heading(f"{coat.coat_name}, {coat.area_name}", 1),
        Prose((*_mark(coat), Run(f" {coat.summary}", bold=True))),
        _facts(told, coat),
        Chart(coat),
        limits_table(told, coat),
        *(Prose(runs) for runs in _findings(told, coat)),
    )


def _mark(coat: CoatReview) -> Cell:
    """Return the shape of a standing; its word begins the sentence beside it."""
    return tuple(replace(run, text=run.text.split()[0]) for run in standing(coat.standing))


_SECTIONS = (
    Section("Preparation", ("preparation",), preparation_table),
    Section("Batches", ("batch", "batch end"), batch_table),
    Section("Application", ("application",), application_table),
    Section("Film", ("film",), films_table),
    Section("Readings written by a person", ("reading",), typed_readings_table,
            under_readings),
    Section("Observations", ("observation",), field_table(
        "observation", ("what", "text", "decision", "share"))),
    Section("Defects", ("defect",), field_table("defect", ("defect", "extent", "text"))),
    Section("Non-conformances", ("non-conformance",), field_table(
        "non-conformance", ("what", "decision", "decided_by", "why"))),
    Section("Corrections", ("correction",), corrections_table),
    Section("Photos", ("photo",), photos),
)  # fmt: skip


def _behind(told: Told, coat: CoatReview, mine: Sequence[Entry]) -> tuple[Block, ...]:
    """Return a table for each kind of entry that the coat has."""
    blocks: list[Block] = []
    for section in _SECTIONS:
        chosen = [e for e in mine if e.kind in section.kinds]
        if chosen:
            blocks += [Heading(section.title), section.table(told, coat, chosen)]
            blocks += section.under(told, chosen) if section.under else ()
    return tuple(blocks)


def _missing(told: Told, mine: Sequence[Entry]) -> tuple[Block, ...]:
    """Name in one paragraph what a record can hold of a coat and this one does not."""
    kinds = {entry.kind for entry in mine}
    without = [s.title.lower() for s in _SECTIONS if not kinds.intersection(s.kinds)]
    shown = [e for e in mine if any(e.kind in section.kinds for section in _SECTIONS)]
    none = f"No entry of: {', '.join(without)}. " if without else ""
    missing = "; ".join(_nowhere(told, shown))
    fields = f"Fields that no entry holds: {missing}." if missing else ""
    if not (none or fields):
        return ()
    said = Run(f"{none}{fields}", "quiet")
    return (Prose((Run("Not kept for this coat. ", "quiet", bold=True), said), small=True),)


def _nowhere(told: Told, entries: Sequence[Entry]) -> list[str]:
    """Return for each kind among some entries the fields that none of its entries holds."""
    found = []
    for kind in (KINDS[key] for key in dict.fromkeys(e.kind for e in entries)):
        keys = tuple(f.key for f in kind.fields)
        held = told.held([e for e in entries if e.kind == kind.key], keys)
        names = [kind.field(key).label.lower() for key in keys if key not in held]
        found += [f"{kind.label.lower()} – {', '.join(names)}"] if names else []
    return found


def _facts(told: Told, coat: CoatReview) -> Table:
    """Return the facts of a coat in two columns of names and values."""
    say = told.say
    facts = (
        ("Product", coat.product_name), ("Data sheet revision", coat.product_revision),
        ("First patch", say.when(coat.started_s)), ("Last patch", say.when(coat.ended_s)),
        ("Tack-free", _tack_free(told, coat)), ("Can take dew", say.when(coat.dew_safe_s)),
        ("Mixed first", say.when(min((b.mixed_s for b in coat.batches), default=None))),
        ("Next coat asked", _next_coat(told, coat)),
    )  # fmt: skip
    rows = tuple(
        (cell(a, bold=True), cell(b or "not known"), cell(c, bold=True), cell(d or "not known"))
        for (a, b), (c, d) in zip(facts[::2], facts[1::2], strict=True)
    )
    return Table((), (16, 34, 18, 32), rows)


def _tack_free(told: Told, coat: CoatReview) -> str:
    """Return when, and whether a finger told it or the data sheet's clock on the readings."""
    if coat.tack_free_s is None:
        return ""
    now = [told.changes.now(e) for e in coat.entries if e.kind == "observation"]
    touched = [e for e in now if e.data.get("what") == "tack-free"]
    by_touch = any(abs(e.at_s - coat.tack_free_s) < 60 for e in touched)
    how = "as somebody saw it" if by_touch else "by the data sheet's times and the readings"
    return f"{told.say.when(coat.tack_free_s)}, {how}"


def _next_coat(told: Told, coat: CoatReview) -> str:
    """Return the interval the table asked to the coat that followed, "" where none is known."""
    for later in told.review.coats:
        interval = later.interval
        if interval is not None and interval.previous_coat_id == coat.coat_id:
            asked = told.say.bounds(interval.min_h, interval.max_h, "h") or "no interval kept"
            return f"{asked} after; {later.coat_name} came after {interval.clock_h:.1f} h"
    return ""


def limits_table(told: Told, coat: CoatReview) -> Table:
    """Return each limit in force with the worst value, when, from what, and how much is known."""
    rows: list[Row] = [_limit_row(told, limit) for limit in coat.limits]
    heads = ("Limit in force, whose", "Holds", "Limit", "Worst, when, source", "Outside for",
             "Read for", "Kept?")  # fmt: skip
    return Table(heads, (26, 17, 14, 25, 10, 13, 13), tuple(rows), "No limit is kept.")


def _limit_row(told: Told, of: LimitReview) -> Row:
    say, limit = told.say, of.limit
    worst = say.value(of.worst, limit.unit)
    when = f"{worst}, {say.when(of.worst_at_s)}, {of.worst_source}" if worst else ""
    gap = of.hours_known < of.hours_asked - 1 / 60
    outside = duration(of.hours_outside) if of.outside else "none seen" if gap else "no time"
    part = duration(of.hours_known) if gap else "all"
    known = f"{part} of {duration(of.hours_asked)}"
    if of.hours_asked == 0:  # held against one value, not over a time
        outside = "at that moment" if of.outside else "no time"
        known = "that moment" if worst else "not known"
    return (
        (Run(limit.label, bold=True), Run(f", {limit.whose or 'whose: not kept'}", "quiet")),
        cell(PHASES.get(of.phase, of.phase)),
        cell(say.bounds(limit.low, limit.high, limit.unit)),
        cell(when or "no reading", "plain" if when else "doubt"),
        cell(outside if worst else "not known", "bad" if of.outside else "plain"),
        cell(known, "doubt" if gap else "plain"),
        standing(of.standing),
    )


def _findings(told: Told, coat: CoatReview) -> list[Cell]:
    """Return interval, times outside, gaps, dips, decision and notes, each as a line."""
    say, found = told.say, []
    if coat.interval is not None:
        kept = (*standing(coat.interval.standing), Run(f" {coat.interval.text}"))
        found.append((Run("Interval to the coat below: ", bold=True), *kept))
    else:
        found.append((Run("Interval to the coat below: ", bold=True), Run("none is kept")))
    for limit in coat.limits:
        spans = "; ".join(say.span(span) for span in limit.outside)
        if spans:
            found.append((Run(f"Outside, {limit.limit.label.lower()}: ", bold=True), Run(spans)))
    gaps = "; ".join(say.span(span) for span in coat.gaps)
    found.append((Run("No reading: ", bold=True), Run(gaps or "no gap", "doubt" if gaps else
                                                      "plain")))  # fmt: skip
    dips = "; ".join(say.span(span) for span in coat.dips)
    if dips:
        found.append((Run("At or below the dew point: ", "bad", bold=True), Run(dips, "bad"),
                      Run(". Dry and prepare again before the next coat.")))  # fmt: skip
    if coat.decision is not None:
        found.append((Run("Decided then, and with all readings: ", bold=True),
                      Run(coat.decision.text)))  # fmt: skip
    # What counts as read is the same for all coats and stands once on a paper.
    notes = [note.rstrip(".") for note in coat.notes if note != COVERED]
    if notes:
        said = " · ".join(notes)
        found.append((Run("Notes: ", bold=True), Run(f"{said}.")))
    return found


def _readings(told: Told, coat: CoatReview) -> tuple[Block, ...]:
    """Return the readings, thinned, saying how many stand behind each row."""
    readings, say, thinned = coat.readings, told.say, table_rows(coat, _READINGS)
    count = len(readings.time_s)
    rows: list[Row] = []
    gaps = list(coat.gaps)
    for row, behind in zip(thinned.rows, thinned.behind, strict=True):
        # A gap stands among the readings, before the first that is printed after it.
        while gaps and gaps[0].to_s <= readings.time_s[row]:
            rows.append(_gap_row(told, gaps.pop(0)))
        shown = (
            say.value(float(values[row]), unit)
            for values, unit in (
                (readings.air_temp_c, "°C"), (readings.rh_pct, "%"), (readings.dew_point_c, "°C"),
                (readings.surface_temp_c, "°C"), (readings.margin_k, "K"))
        )  # fmt: skip
        low = bool(np.nan_to_num(readings.margin_k[row], nan=1.0) <= 0)
        rows.append((
            cell(say.when(float(readings.time_s[row]))),
            *(cell(text, "bad" if low else "plain") for text in shown),
            cell(readings.source[row] + (" – in doubt" if readings.doubtful[row] else ""),
                 "doubt" if readings.doubtful[row] else "plain"),
            cell(f"{behind}"),
        ))  # fmt: skip
    rows += [_gap_row(told, gap) for gap in gaps] if rows else []
    heads = ("Time", "Air", "Humidity", "Dew point", "Coldest spot", "Above dew point", "Source",
             "Readings behind")  # fmt: skip
    table = Table(heads, (25, 10, 10, 11, 13, 15, 18, 12), tuple(rows),
                  "No reading was kept for this coat: whether it was inside the limits is not "
                  "known.")  # fmt: skip
    # The sentence comes after, so that heading and table stay together.
    thinned_how = _how_thinned(count, len(thinned.rows), thinned.piece_min)
    return (Heading("Readings"), table, Prose(cell(thinned_how), small=True))


def _gap_row(told: Told, gap: TimeSpan) -> Row:
    """Return a gap in the place of the readings that are missing."""
    dashes = (cell("–", "doubt"),) * 5
    return (cell(told.say.when(gap.from_s), "doubt"), *dashes,
            cell(f"no reading for {duration(gap.hours)}", "doubt"), cell("0", "doubt"))  # fmt: skip


def _how_thinned(count: int, printed: int, piece_min: int) -> str:
    if not count:
        return "0 readings."
    if not piece_min:
        return f"{count} readings, all printed."
    return (
        f"{printed} of {count} readings are printed: of every {duration(piece_min / 60)} the one "
        "nearest the dew point, besides those that were typed, the first, the last and the worst "
        "for each limit. All are in readings.csv of the export."
    )
