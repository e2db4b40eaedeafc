"""The tables of a coat's page, each from entries of its kind, corrections visible."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from advisor.planning.words import duration
from advisor.record.effective import ENTRY
from advisor.record.entry import Entry, moment_of
from advisor.record.kinds import KINDS
from advisor.record.report.blocks import Block, Cell, Picture, Pictures, Row, Run, Table, cell
from advisor.record.report.changes import field_of
from advisor.record.report.say import plain, rows_of, standing
from advisor.record.report.told import Told
from advisor.record.review_types import BatchReview, CoatReview, FilmReview

TableMaker = Callable[[Told, CoatReview, Sequence[Entry]], Block]
UnderMaker = Callable[[Told, Sequence[Entry]], tuple[Block, ...]]


def field_table(kind: str, keys: tuple[str, ...]) -> TableMaker:
    """Return a maker of tables with number, time, person and the fields of one kind that hold."""

    def made(told: Told, _: CoatReview, entries: Sequence[Entry]) -> Block:
        shown = told.held(entries, keys)
        heads = ("No", "When", "Who", *(KINDS[kind].field(key).label for key in shown))
        rows = tuple(
            (told.numbered(e), told.when(e), cell(e.by), *(told.text(e, key) for key in shown))
            for e in entries
        )
        share = 65 / max(len(shown), 1)
        return Table(heads, (4, 21, 10, *(share for _ in shown)), rows)

    return made


def preparation_table(told: Told, coat: CoatReview, entries: Sequence[Entry]) -> Table:
    """Return preparation with its tests, when it was finished and how long before the coat."""
    rows: list[Row] = []
    for entry in entries:
        now = told.changes.now(entry)
        finished = now.data.get("finished")
        done_s = moment_of(now.data.get("finished")) or now.at_s
        before = (coat.started_s - done_s) / 3600
        rows.append((
            told.numbered(entry), told.when(entry), cell(entry.by),
            told.lines(entry, ("what", "method", "grit", "wipe"), entries),
            told.lines(entry, ("water_break", "moisture", "salts"), entries),
            (*(told.text(entry, "finished") if finished else ()),
             Run("\n" if finished else ""),
             Run(f"{duration(before)} before the first patch" if before >= 0
                 else "after the first patch")),
        ))  # fmt: skip
    heads = ("No", "When", "Who", "What was done", "Tests", "Finished; to first patch")
    return Table(heads, (4, 15, 10, 32, 21, 18), tuple(rows))


def application_table(told: Told, _: CoatReview | None, entries: Sequence[Entry]) -> Table:
    """Return the events of application: patches with their own times, stops, weather, tools."""
    rows: list[Row] = []
    for entry in entries:
        keys = ("method", "tool", "batch", "began", "weather", "holidays", "sanded", "why")
        said: list[Run] = []
        for key in keys:
            value = told.changes.shown(entry, key, told.say)
            if value:
                said += [Run(f"{field_of('application', key).label}: ", "quiet"), *value, Run("; ")]
        rows.append((told.numbered(entry), told.when(entry), cell(entry.by),
                     told.text(entry, "event"), told.text(entry, "patch"),
                     tuple(said[:-1]) or cell("")))  # fmt: skip
    heads = ("No", "When", "Who", "Event", "Patch", "Besides")
    return Table(heads, (4, 21, 12, 9, 14, 42), tuple(rows))


def batch_table(told: Told, coat: CoatReview, entries: Sequence[Entry]) -> Table:
    """Return each batch: lot numbers and expiry, ratio, thinner, times, and how it ended."""
    reviews = {b.entry.number: b for b in coat.batches}
    ends = [e for e in entries if e.kind == "batch end"]
    rows: list[Row] = []
    for entry in entries:
        if entry.kind != "batch":
            continue
        end = [e for e in ends if str(told.changes.now(e).data.get("batch")) == str(entry.number)]
        mixed = (*told.when(entry), Run(f"\n{entry.by}\n"), *_product(told, entry, entries))
        rows.append((
            told.numbered(entry), mixed, _parts(told, entry), _mix(told, entry, entries),
            _life(told, entry, reviews.get(entry.number)), _end(told, end, ends),
        ))  # fmt: skip
    heads = ("No", "Mixed, product", "Components: lot, expiry, amount", "Ratio, mix",
             "Induction, pot life", "End")  # fmt: skip
    return Table(heads, (4, 16, 25, 21, 25, 14), tuple(rows))


def _product(told: Told, entry: Entry, among: Sequence[Entry]) -> Cell:
    """Return the product, and its colour where any batch has one."""
    colour = told.lines(entry, ("colour",)) if told.held(among, ("colour",)) else ()
    return (*told.text(entry, "product"), *((Run("\n"), *colour) if colour else ()))


def _parts(told: Told, entry: Entry) -> Cell:
    """Return each component on a line; lot number or expiry that is missing is named."""
    changed = any(c.field in ("parts", ENTRY) for c in told.changes.of_entry(entry.number))
    if changed:
        return told.text(entry, "parts")
    runs: list[Run] = []
    for row in rows_of(entry.data.get("parts")):
        amount = f"{row.get('value') or 'amount not kept'} {row.get('unit') or ''}".strip()
        runs.append(Run(_next_line(runs) + f"{row.get('part', '')}: ", bold=True))
        runs.append(Run(f"lot {row.get('batch') or 'not kept'}, expiry "
                        f"{row.get('expiry') or 'not kept'}, {amount}"))  # fmt: skip
    return tuple(runs) or cell("")


def _next_line(runs: Sequence[Run]) -> str:
    """Return a line feed where something stands before."""
    return "\n" if runs else ""


def _mix(told: Told, entry: Entry, among: Sequence[Entry]) -> Cell:
    keys = ("ratio_asked", "ratio_mixed", "ratio_by", "thinner", "mix_temp", "strained", "stirred")
    return told.lines(entry, keys, [e for e in among if e.kind == "batch"])


def _life(told: Told, entry: Entry, review: BatchReview | None) -> Cell:
    runs = told.lines(entry, ("induction", "pot_life"))
    if review is None:
        return runs
    return (*runs, Run("\n"), *standing(review.standing), Run(f" {review.text}"))


def _end(told: Told, ends: Sequence[Entry], among: Sequence[Entry]) -> Cell:
    runs: list[Run] = []
    for end in ends:
        runs += [*told.when(end), Run("\n"), *told.lines(end, ("what", "leftover", "why"), among)]
    return tuple(runs) or cell("")


def films_table(told: Told, coat: CoatReview, entries: Sequence[Entry]) -> Table:
    """Return each set of film readings, and below them count, least, mean and most."""
    first = ("film", "readings")
    besides = ("patch", "batch", "instrument_check")
    more = bool(told.held(entries, besides))
    rows: list[Row] = []
    for entry in entries:
        asked = told.lines(entry, ("target_low", "target_high"))
        seen = [told.text(entry, key) for key in first]
        shown = [told.lines(entry, besides, entries)] if more else []
        rows.append((told.numbered(entry), told.when(entry), cell(entry.by), *seen, asked,
                     cell("–", "quiet"), *shown))  # fmt: skip
    none = [cell("–", "quiet")] if more else []
    rows += [(*_all_films(told, film), *none) for film in coat.films]
    heads = ("No", "When", "Who", "Film", "Readings", "Target", "Mean on target",
             *(["Besides"] if more else []))  # fmt: skip
    return Table(heads, (4, 15, 9, 5, 24, 28, 11, *([14] if more else [])), tuple(rows))


def _all_films(told: Told, film: FilmReview) -> Row:
    """Return the row under all readings of one kind of film: count, least, mean and most."""
    say, (low, high) = told.say, film.target_um
    return (
        cell("all"), cell(f"{film.count} readings"), cell("–", "quiet"), cell(film.film),
        cell(f"least {say.value(film.low_um, 'µm')}, mean {say.value(film.mean_um, 'µm')}, "
             f"most {say.value(film.high_um, 'µm')}", bold=True),
        cell(say.bounds(low, high, "µm") or "no target kept"), standing(film.standing),
    )  # fmt: skip


def corrections_table(told: Told, _: CoatReview | None, entries: Sequence[Entry]) -> Table:
    """Return each correction: what it corrects, what was struck, what counts, why, who, when."""
    rows: list[Row] = []
    for entry in entries:
        changed: list[Run] = []
        of = told.corrected(entry)
        for row in rows_of(entry.data.get("values")):
            field = str(row.get("field", ""))
            changed += [
                Run(f"{_next_line(changed)}{field_of(of.kind if of else '', field).label}: "),
                Run(plain(row.get("was")) or "not kept", struck=True),
                Run(f" {plain(row.get('now')) or 'not kept'}"),
            ]
        late_by = duration((entry.written_s - of.written_s) / 3600 if of else 0.0)
        rows.append((told.numbered(entry), cell(told.say.when(entry.written_s)), cell(entry.by),
                     told.text(entry, "corrects"), tuple(changed) or cell(""),
                     told.text(entry, "reason"), cell(late_by)))  # fmt: skip
    heads = ("No", "When", "Who", "Corrects No", "Was (struck), is", "Reason", "After")
    return Table(heads, (4, 21, 12, 10, 27, 17, 9), tuple(rows))


def photos(told: Told, _: CoatReview, entries: Sequence[Entry]) -> Pictures:
    """Return the photos."""
    return Pictures(tuple(Picture(told.photo(str(e.data.get("sha256", ""))), _caption(told, e))
                          for e in entries))  # fmt: skip


def _caption(told: Told, entry: Entry) -> str:
    data = entry.data
    of = f", of entry No {data['of']}" if data.get("of") else ""
    doubt = f"in doubt: {data['flags']}\n" if data.get("flags") else ""
    return (
        f"No {entry.number}, {told.say.when(entry.at_s)}, {entry.by or 'a person not named'}{of}\n"
        f"{data.get('caption') or 'no caption kept'}\n{doubt}{data.get('file_name', '')}\n"
        f"SHA-256 {data.get('sha256', '')}"
    )
