"""Every entry in full: each field it holds, what it does not hold, and what was known then."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import groupby
from types import MappingProxyType

from advisor.record.canonical import Json, canonical
from advisor.record.entry import Entry
from advisor.record.kinds import KINDS
from advisor.record.report.blocks import Block, Heading, Prose, Row, Run, Table, cell
from advisor.record.report.changes import field_of
from advisor.record.report.say import late, plain, rows_of
from advisor.record.report.told import Told
from advisor.record.telling import title

_FILE = ("file_name", "bytes", "columns")
_ROWS = ("rows_read", "rows_used", "rows_dropped", "rows_flagged")
_HOLDS = MappingProxyType({"yes": "held", "no": "not held"})


#: What is known of a coat rather than of a moment.
_STANDING = ("product", "limits")
#: Kinds of which every field stands in a table on the page of their coat.
_ON_PAGES = frozenset({"batch", "batch end", "film", "preparation", "application", "reading",
                       "observation", "defect", "non-conformance", "photo"})  # fmt: skip


def cards(told: Told, entries: Sequence[Entry]) -> tuple[Block, ...]:
    """Return all entries in order; those told on a coat's page in one row, imports in a table."""
    shown: list[Block] = []
    known: dict[bytes, int] = {}
    pages = _pages(told)
    for how, group in groupby(entries, key=lambda e: _how(e, pages)):
        if how == "import":
            shown.append(_imports(told, list(group)))
        elif how == "row":
            shown += _rows_of(told, list(group), pages, known)
        else:
            for entry in group:
                shown += _card(told, entry)
                shown += _known(told, entry, known)
    return tuple(shown)


def _how(entry: Entry, pages: Mapping[int, str]) -> str:
    if entry.kind == "import":
        return "import"
    return "row" if entry.number in pages and entry.kind in _ON_PAGES else "card"


def _pages(told: Told) -> dict[int, str]:
    """Return on the page of which coat an entry is told, by its number."""
    found: dict[int, str] = {}
    for coat in told.review.coats:
        for entry in told.entries_of(coat):
            found.setdefault(entry.number, coat.coat_name)
    return found


def _rows_of(
    told: Told, entries: Sequence[Entry], pages: Mapping[int, str], known: dict[bytes, int]
) -> list[Block]:  # fmt: skip
    """Return a row for each entry: what it is, where it is told in full, its hash."""
    rows: list[Row] = []
    after: list[Block] = []
    for entry in entries:
        what = cell(title(entry, told.say.words) or KINDS[entry.kind].label)
        first = known.get(canonical(entry.known), entry.number)
        runs = _known(told, entry, known)
        if runs and first != entry.number:
            what = (*what, Run(f" (known then: as with No {first})", "quiet"))
        else:
            after += [Prose((Run(f"No {entry.number}: ", bold=True), *r.runs)) for r in runs]
        rows.append((told.numbered(entry), (*told.when(entry), Run(f"\n{entry.by}")), what,
                     cell(pages[entry.number]), cell(entry.hash)))  # fmt: skip
    heads = ("No", "When, who", "What", "Told in full with", "Hash")
    return [Table(heads, (4, 20, 26, 13, 37), tuple(rows)), *after]


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
    return [Heading(head, 3), Prose(tuple(where)), *_fields(told, entry)]


def _fields(told: Told, entry: Entry) -> list[Block]:
    """Return what an entry holds as one paragraph and the names of what it does not."""
    kind = KINDS.get(entry.kind)
    keys = [f.key for f in kind.fields] if kind else []
    keys += [key for key in entry.data if key not in keys]
    runs: list[Run] = []
    missing = []
    for key in keys:
        value = told.changes.shown(entry, key, told.say)
        if value:
            runs += [Run(f"{field_of(entry.kind, key).label}: ", "quiet"), *value, Run(" · ")]
        else:
            missing.append(field_of(entry.kind, key).label.lower())
    blocks: list[Block] = [Prose(tuple(runs[:-1]))] if runs else []
    if missing:
        blocks.append(Prose(cell(f"Not kept: {', '.join(missing)}.", "quiet")))
    for change in told.changes.of_entry(entry.number):
        blocks.append(
            Prose(cell(
                f"{field_of(entry.kind, change.field).label} corrected by "
                f"{change.by or 'a person not named'}, {told.say.when(change.written_s)} "
                f"(No {change.number}): {change.reason}", "doubt"))
        )  # fmt: skip
    return blocks


def _known(told: Told, entry: Entry, before: dict[bytes, int]) -> list[Prose]:
    """Return what was known and shown then; what is the same as with an entry `before` is said so.

    Product and limits are the same for most of a coat and stand once.
    """
    first = before.setdefault(canonical(entry.known), entry.number)
    same = {key: entry.known[key] for key in _STANDING if entry.known.get(key)}
    then = before.setdefault(canonical(same), entry.number) if same else entry.number
    known = entry.known
    if then != entry.number:
        known = {key: value for key, value in known.items() if key not in _STANDING}
    runs = _known_runs(told, known)
    if then != entry.number:
        runs.insert(0, Run(f"product and limits as with No {then}. "))
    if not runs:
        return []
    if first != entry.number:
        runs = [Run(f"the same as with No {first}.")]
    return [Prose((Run("Known and shown then: ", bold=True), *runs))]


def _known_runs(told: Told, known: Mapping[str, Json]) -> list[Run]:
    runs: list[Run] = []
    product = known.get("product")
    if isinstance(product, Mapping):
        names = ("name", "status", "title", "revision", "issued")
        said = ", ".join(f"{k} {product[k]}" for k in names if product.get(k))
        runs.append(Run(f"product {said}. "))
    if known.get("verdict"):
        runs.append(Run(f"Verdict {known['verdict']}: {known.get('shown', '')}. "))
    reasons = rows_of(known.get("reasons"))
    for reason in (r for r in reasons if r.get("holds") != "not tested"):
        holds = _HOLDS.get(str(reason.get("holds")), str(reason.get("holds")))
        whose = f", {reason['whose']}" if reason.get("whose") else ""
        runs.append(Run(f"{reason.get('text') or reason.get('rule')} ({holds}{whose}). ",
                        "bad" if holds == "not held" else "plain"))  # fmt: skip
    untested = [
        str(r.get("text") or r.get("rule")) for r in reasons if r.get("holds") == "not tested"
    ]
    if untested:
        runs.append(Run(f"Not tested: {'; '.join(dict.fromkeys(untested))}. "))
    limits = [_limit(row) for row in rows_of(known.get("limits"))]
    runs += [Run(f"Limits: {'; '.join(limits)}. ")] if limits else []
    values = known.get("values")
    if isinstance(values, Mapping):
        runs += [Run(f"{field_of('reading', key).label}: {plain(value)}. ")
                 for key, value in values.items()]  # fmt: skip
    for used in rows_of(known.get("instruments")):
        out = used.get("out_of_date") == "yes"
        runs.append(Run(
            f"Instrument {used.get('id', '')}, serial {used.get('serial') or 'not kept'}, "
            f"calibration due {used.get('due') or 'not kept'}{' – OUT OF DATE' if out else ''}. ",
            "bad" if out else "plain"))  # fmt: skip
    return runs


def _limit(row: Mapping[str, Json]) -> str:
    low, high, unit = row.get("low"), row.get("high"), row.get("unit", "")
    bounds = f"{low} to {high}" if low and high else f"at least {low}" if low else f"at most {high}"
    return f"{row.get('label') or row.get('rule')} {bounds} {unit}, {row.get('whose', '')}"


def _imports(told: Told, entries: Sequence[Entry]) -> Table:
    """Return imports as rows; the hourly seals of one sensor on one day share a row."""
    together: dict[tuple[str, str], list[Entry]] = {}
    for entry in entries:
        sensor = str(entry.data.get("sensor") or "")
        day = told.say.when(entry.at_s)[:10] if sensor else f"No {entry.number}"
        together.setdefault((sensor, day), []).append(entry)
    rows = tuple(_import_row(told, group) for group in together.values())
    heads = ("No", "When, who", "File", "Source", "From, to", "Rows", "SHA-256")
    return Table(heads, (5, 16, 30, 12, 13, 11, 24), rows)


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
