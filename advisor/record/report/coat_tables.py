"""The tables of a coat's page, each from entries of its kind, corrections visible."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import datetime

from advisor.planning.words import duration
from advisor.record.canonical import Json
from advisor.record.effective import ENTRY
from advisor.record.entry import Entry
from advisor.record.kinds import KINDS
from advisor.record.report.blocks import Block, Cell, Picture, Pictures, Row, Run, Table, cell
from advisor.record.report.changes import field_of
from advisor.record.report.say import plain, standing
from advisor.record.report.told import Told
from advisor.record.review_types import BatchReview, CoatReview

TableMaker = Callable[[Told, CoatReview, Sequence[Entry]], Block]


def field_table(kind: str, keys: tuple[str, ...]) -> TableMaker:
    """Return a maker of tables with number, time, person and some fields of one kind."""
    heads = ("No", "When", "Who", *(KINDS[kind].field(key).label for key in keys))
    share = 63 / len(keys)

    def made(told: Told, _: CoatReview, entries: Sequence[Entry]) -> Block:
        rows = tuple(
            (told.numbered(e), told.when(e), cell(e.by), *(told.text(e, key) for key in keys))
            for e in entries
        )
        return Table(heads, (4, 21, 12, *(share for _ in keys)), rows)

    return made


def preparation_table(told: Told, coat: CoatReview, entries: Sequence[Entry]) -> Table:
    """Return preparation with its tests, when it was finished and how long before the coat."""
    rows: list[Row] = []
    for entry in entries:
        now = told.changes.now(entry)
        finished = now.data.get("finished")
        done_s = datetime.fromisoformat(str(finished)).timestamp() if finished else now.at_s
        before = (coat.started_s - done_s) / 3600
        rows.append((
            told.numbered(entry), told.when(entry), cell(entry.by),
            told.lines(entry, ("what", "method", "grit", "wipe")),
            told.lines(entry, ("water_break", "moisture", "salts")),
            (*told.text(entry, "finished"),
             Run(f"\n{duration(before)} before the first patch" if before >= 0
                 else "\nafter the first patch")),
        ))  # fmt: skip
    heads = ("No", "When", "Who", "What was done", "Tests", "Finished; to first patch")
    return Table(heads, (4, 21, 12, 23, 20, 20), tuple(rows))


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
    return Table(heads, (4, 21, 12, 9, 16, 38), tuple(rows))


def batch_table(told: Told, coat: CoatReview, entries: Sequence[Entry]) -> Table:
    """Return each batch: lot numbers and expiry, ratio, thinner, times, and how it ended."""
    reviews = {b.entry.number: b for b in coat.batches}
    ends = [e for e in entries if e.kind == "batch end"]
    rows: list[Row] = []
    for entry in entries:
        if entry.kind != "batch":
            continue
        end = [e for e in ends if str(told.changes.now(e).data.get("batch")) == str(entry.number)]
        mixed = (*told.when(entry), Run("\n"), *_product(told, entry))
        rows.append((
            told.numbered(entry), mixed, _parts(told, entry), _mix(told, entry),
            _life(told, entry, reviews.get(entry.number)), _end(told, end),
        ))  # fmt: skip
    heads = ("No", "Mixed, product", "Components: lot, expiry, amount", "Ratio, mix",
             "Induction, pot life", "End")  # fmt: skip
    return Table(heads, (4, 19, 23, 21, 22, 19), tuple(rows))


def _product(told: Told, entry: Entry) -> Cell:
    return (*told.text(entry, "product"), Run("\ncolour: ", "quiet"), *told.text(entry, "colour"))


def _parts(told: Told, entry: Entry) -> Cell:
    """Return each component on a line; lot number or expiry that is missing is named."""
    changed = any(c.field in ("parts", ENTRY) for c in told.changes.of_entry(entry.number))
    if changed:
        return told.text(entry, "parts")
    rows = entry.data.get("parts")
    runs: list[Run] = []
    for row in rows if isinstance(rows, list | tuple) else ():
        if isinstance(row, Mapping):
            amount = f"{row.get('value') or 'amount not kept'} {row.get('unit') or ''}".strip()
            runs.append(Run(_next_line(runs) + f"{row.get('part', '')}: ", bold=True))
            runs.append(Run(f"lot {row.get('batch') or 'not kept'}, expiry "
                            f"{row.get('expiry') or 'not kept'}, {amount}"))  # fmt: skip
    return tuple(runs) or cell("")


def _next_line(runs: Sequence[Run]) -> str:
    """Return a line feed where something stands before."""
    return "\n" if runs else ""


def _mix(told: Told, entry: Entry) -> Cell:
    return told.lines(entry, ("ratio_asked", "ratio_mixed", "ratio_by", "thinner", "mix_temp",
                                "strained", "stirred"))  # fmt: skip


def _life(told: Told, entry: Entry, review: BatchReview | None) -> Cell:
    runs = told.lines(entry, ("induction", "pot_life"))
    if review is None:
        return runs
    until = told.say.when(review.usable_until_s) or "not known"
    used = told.say.when(review.last_used_s) or "not kept"
    return (*runs, Run(f"\nusable until {until}\nlast used {used}\n"), *standing(review.standing),
            Run(f" {review.text}"))  # fmt: skip


def _end(told: Told, ends: Sequence[Entry]) -> Cell:
    runs: list[Run] = []
    for end in ends:
        runs += [*told.when(end), Run("\n"), *told.lines(end, ("what", "leftover", "why"))]
    return tuple(runs) or cell("")


def films_table(told: Told, coat: CoatReview, entries: Sequence[Entry]) -> Table:
    """Return each set of film readings, and below them count, least, mean and most."""
    keys = ("film", "readings", "target_low", "target_high", "patch", "instrument_check")
    rows: list[Row] = [
        (told.numbered(e), told.when(e), *(told.text(e, key) for key in keys)) for e in entries
    ]
    say = told.say
    for film in coat.films:
        low, high = film.target_um
        asked = say.bounds(low, high, "µm") or "no target kept"
        rows.append((
            cell("all"), cell(f"{film.count} readings"), cell(film.film),
            cell(f"least {say.value(film.low_um, 'µm')}, mean {say.value(film.mean_um, 'µm')}, "
                 f"most {say.value(film.high_um, 'µm')}", bold=True),
            cell(asked), cell(asked), standing(film.standing), cell("–", "quiet"),
        ))  # fmt: skip
    heads = ("No", "When", "Film", "Readings", "Target from", "Target to", "Patch", "Gauge check")
    return Table(heads, (4, 21, 6, 26, 11, 11, 11, 10), tuple(rows))


def typed_readings_table(told: Told, _: CoatReview | None, entries: Sequence[Entry]) -> Table:
    """Return readings a person wrote: values with instrument, dew point by, and all else kept."""
    rows: list[Row] = []
    for entry in entries:
        air = told.lines(entry, ("air_temp", "rh", "wet_bulb", "material_temp"))
        work = told.lines(entry, ("surface_temp", "surface_hot", "spot"))
        dew = told.lines(entry, ("dew_point", "margin", "formula", "pressure"))
        around = told.lines(entry, ("wind", "light", "weather", "ventilation", "heater",
                                      "flags"))  # fmt: skip
        rows.append((told.numbered(entry), (*told.when(entry), Run(f"\n{entry.by}")), air, work,
                     dew, around, (*told.text(entry, "reason"), *_judged(entry))))  # fmt: skip
    heads = ("No", "When, who", "Air, material", "Surface", "Dew point", "Around", "Why; limits")
    return Table(heads, (4, 16, 18, 17, 18, 14, 14), tuple(rows))


def _judged(entry: Entry) -> Cell:
    """Return pass or fail of each limit as it was shown with the reading."""
    runs: list[Run] = []
    rows = entry.known.get("reasons")
    for row in rows if isinstance(rows, list | tuple) else ():
        if isinstance(row, Mapping):
            broken = row.get("holds") == "no"
            mark = "▲" if broken else "●" if row.get("holds") == "yes" else "?"
            runs.append(Run(f"\n{mark} {row.get('rule', '')}", "bad" if broken else "plain"))
    return tuple(runs) or (Run("\nlimits then: not kept", "quiet"),)


def corrections_table(told: Told, _: CoatReview | None, entries: Sequence[Entry]) -> Table:
    """Return each correction: what it corrects, what was struck, what counts, why, who, when."""
    rows: list[Row] = []
    for entry in entries:
        changed: list[Run] = []
        for row in _changed(entry):
            field = str(row.get("field", ""))
            changed += [
                Run(f"{_next_line(changed)}{field_of(_kind_of(told, entry), field).label}: "),
                Run(plain(row.get("was")) or "not kept", struck=True),
                Run(f" {plain(row.get('now')) or 'not kept'}"),
            ]
        late_by = duration(_hours_after(told, entry))
        rows.append((told.numbered(entry), cell(told.say.when(entry.written_s)), cell(entry.by),
                     told.text(entry, "corrects"), tuple(changed) or cell(""),
                     told.text(entry, "reason"), cell(late_by)))  # fmt: skip
    heads = ("No", "When", "Who", "Corrects No", "Was (struck), is", "Reason", "After")
    return Table(heads, (4, 21, 12, 10, 27, 17, 9), tuple(rows))


def _changed(entry: Entry) -> list[Mapping[str, Json]]:
    rows = entry.data.get("values")
    return [r for r in (rows if isinstance(rows, list | tuple) else ()) if isinstance(r, Mapping)]


def _corrected(told: Told, entry: Entry) -> Entry | None:
    number = str(entry.data.get("corrects"))
    return next((e for e in told.review.entries if str(e.number) == number), None)


def _kind_of(told: Told, entry: Entry) -> str:
    found = _corrected(told, entry)
    return found.kind if found else ""


def _hours_after(told: Told, entry: Entry) -> float:
    found = _corrected(told, entry)
    return (entry.written_s - found.written_s) / 3600 if found else 0.0


def photos(told: Told, _: CoatReview, entries: Sequence[Entry]) -> Pictures:
    """Return the photos."""
    return Pictures(tuple(Picture(told.photo(str(e.data.get("sha256", ""))), _caption(told, e))
                          for e in entries))  # fmt: skip


def _caption(told: Told, entry: Entry) -> str:
    data = entry.data
    of = f", of entry No {data['of']}" if data.get("of") else ""
    return (
        f"No {entry.number}, {told.say.when(entry.at_s)}, {entry.by or 'a person not named'}{of}\n"
        f"{data.get('caption') or 'no caption kept'}\n{data.get('file_name', '')}\n"
        f"SHA-256 {data.get('sha256', '')}"
    )
