"""Every entry in order: in a row where it is told in full elsewhere, else with all its fields."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import groupby

from advisor.record.entry import Entry
from advisor.record.kinds import KINDS
from advisor.record.report.blocks import Block, Cell, Heading, Prose, Row, Run, Table, cell
from advisor.record.report.changes import field_of
from advisor.record.report.known_then import KnownBefore, known_then
from advisor.record.report.say import late
from advisor.record.report.told import Told
from advisor.record.telling import title

_FILE = ("file_name", "bytes", "columns")
_ROWS = ("rows_read", "rows_used", "rows_dropped", "rows_flagged")
#: Kinds of which every field stands in a table on the page of their coat, or on the first pages.
_ON_PAGES = frozenset({"batch", "batch end", "film", "preparation", "application", "reading",
                       "observation", "defect", "non-conformance", "photo", "job",
                       "instrument"})  # fmt: skip


def cards(told: Told, entries: Sequence[Entry]) -> tuple[Block, ...]:
    """Return all entries in order; those told elsewhere in a row, sensors' hours in a table."""
    shown: list[Block] = []
    known = KnownBefore()
    pages = _pages(told)
    for how, group in groupby(entries, key=lambda e: _how(e, pages)):
        if how == "import":
            shown.append(_imports(told, list(group)))
        elif how == "row":
            shown += _rows_of(told, list(group), pages, known)
        else:
            for entry in group:
                shown += _card(told, entry)
                if then := known_then(entry, known):
                    shown.append(Prose((Run("Known and shown then: ", bold=True), *then)))
    return tuple(shown)


def _how(entry: Entry, pages: Mapping[int, str]) -> str:
    if entry.kind == "import" and entry.data.get("sensor"):
        return "import"
    return "row" if entry.number in pages and entry.kind in _ON_PAGES else "card"


def _pages(told: Told) -> dict[int, str]:
    """Return where an entry is told in full, by its number: with which coat, or in front."""
    entries = told.review.entries
    found = {e.number: "first pages" for e in entries if e.kind == "job"}
    found = dict(list(found.items())[-1:])  # an earlier header stands nowhere else
    latest = {str(e.data.get("id")): e.number for e in entries if e.kind == "instrument"}
    found |= dict.fromkeys(latest.values(), "Instruments")
    for coat in told.review.coats:
        for entry in told.entries_of(coat):
            found.setdefault(entry.number, coat.coat_name)
    return found


def _rows_of(
    told: Told, entries: Sequence[Entry], pages: Mapping[int, str], known: KnownBefore
) -> list[Block]:  # fmt: skip
    """Return a row for each entry: what it is, where it is told in full, its hash.

    What was known and shown then follows in a table of its own, by the same numbers.
    """
    rows: list[Row] = []
    after: list[Row] = []
    for entry in entries:
        what = cell(title(entry, told.say.words) or KINDS[entry.kind].label)
        first = known.same(entry)
        then = known_then(entry, known)
        if then and first != entry.number:
            what = (*what, Run(f" (known then: as with No {first}) ", "quiet"), *then[1:])
        elif then:
            after.append((told.numbered(entry), then))
        rows.append((told.numbered(entry), (*told.when(entry), Run(f"\n{entry.by}")), what,
                     cell(pages[entry.number]), cell(entry.hash)))  # fmt: skip
    heads = ("No", "When, who", "What", "Told in full with", "Hash")
    shown: list[Block] = [Table(heads, (5, 21, 27, 15, 32), tuple(rows))]
    if after:
        shown.append(Table(("No", "Known and shown then"), (4, 96), tuple(after)))
    return shown


def _card(told: Told, entry: Entry) -> list[Block]:
    kind = KINDS.get(entry.kind)
    about = " · ".join(x for x in (entry.area_id, entry.coat_id) if x)
    head = f"No {entry.number} · {kind.label if kind else entry.kind}"
    where = [
        *told.changes.shown(entry, "at", told.say),
        Run(f" · by {entry.by or 'a person not named'}"),
    ]
    if about:
        where.append(Run(f" · {about}"))
    if mark := late(entry.late_s):
        where += [Run(" · "), *mark, Run(f" ({told.say.when(entry.written_s)})")]
    where += told.changes.moved(entry)
    where.append(Run(f"\nhash {entry.hash}", "quiet"))
    # One paragraph: the heading never stands with the hash alone at the foot of a page.
    said = _fields(told, entry)
    where += [Run("\n"), *said] if said else []
    return [Heading(head, 3), Prose(tuple(where)), *_corrected(told, entry)]


def _fields(told: Told, entry: Entry) -> Cell:
    """Return what an entry holds and the names of what it does not."""
    kind = KINDS.get(entry.kind)
    keys = [f.key for f in kind.fields] if kind else []
    keys += [key for key in entry.data if key not in keys]
    again = _in_front(told, entry)
    said = told.said(entry, entry.kind, [key for key in keys if key not in again])
    if not again:
        return said
    names = ", ".join(field_of(entry.kind, key).label.lower() for key in again)
    return (*said, Run(f"\nThe same as on the first pages: {names}."))


def _in_front(told: Told, entry: Entry) -> tuple[str, ...]:
    """Return which tables of an earlier header are those of the last one, on the first pages."""
    if entry.kind != "job":
        return ()
    last = next(e for e in reversed(told.review.entries) if e.kind == "job")
    tables = (field.key for field in KINDS["job"].fields if field.type == "rows")
    return tuple(k for k in tables if entry.data.get(k) and entry.data[k] == last.data.get(k))


def _corrected(told: Told, entry: Entry) -> list[Block]:
    """Return who corrected an entry, when and why."""
    blocks: list[Block] = []
    for change in told.changes.of_entry(entry.number):
        blocks.append(
            Prose(cell(
                f"{field_of(entry.kind, change.field).label} corrected by "
                f"{change.by or 'a person not named'}, {told.say.when(change.written_s)} "
                f"(No {change.number}): {change.reason}", "doubt"))
        )  # fmt: skip
    return blocks


def _imports(told: Told, entries: Sequence[Entry]) -> Table:
    """Return the hourly seals of sensors as rows; those of one sensor on one day share a row."""
    together: dict[tuple[str, str], list[Entry]] = {}
    for entry in entries:
        day = told.say.when(entry.at_s)[:10]
        together.setdefault((str(entry.data.get("sensor")), day), []).append(entry)
    rows = tuple(_import_row(told, group) for group in together.values())
    heads = ("No", "When, who", "File", "Source", "From, to", "Rows", "SHA-256")
    return Table(heads, (12, 14, 21, 15, 17, 14, 15), rows)


def _import_row(told: Told, group: Sequence[Entry]) -> Row:
    """Return one import in full, or what several seals of one sensor have together."""
    first, last = group[0], group[-1]
    file: tuple[str, ...]
    if len(group) == 1:
        numbers, sha256 = told.numbered(first), told.lines(first, ("sha256", "blocks"))
        rows = told.lines(first, _ROWS)
        file, span = _FILE, told.lines(first, ("first", "last"))
    else:
        numbers = cell(f"{first.number} to {last.number}: {len(group)} entries")
        sums = (f"{field_of('import', key).label.lower()}: {_sum(group, key)}" for key in _ROWS)
        rows, file = cell("\n".join(sums)), ("columns",)
        from_, to = told.text(first, "first"), told.text(last, "last")
        span = (Run("from: ", "quiet"), *from_, Run("\nto: ", "quiet"), *to)
        sha256 = cell("each has its own, in record.jsonl")
    who = (*told.when(first), Run(f"\n{first.by or 'the program'}"))
    return (numbers, who, told.lines(first, file), told.lines(first, ("source", "sensor", "zone")),
            span, rows, sha256)  # fmt: skip


def _sum(group: Sequence[Entry], key: str) -> str:
    counts = [str(entry.data.get(key) or "") for entry in group]
    return str(sum(map(int, counts))) if all(c.isdigit() for c in counts) else "not kept"
