"""What was known and shown when an entry was written; what an entry before had stands once."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

from advisor.record.canonical import Json, canonical
from advisor.record.entry import Entry
from advisor.record.report.blocks import Cell, Run
from advisor.record.report.changes import field_of
from advisor.record.report.say import plain, rows_of

_HOLDS = MappingProxyType({"yes": "held", "no": "not held"})
#: What is known of a coat or of the shop rather than of a moment, and how it is called.
_STANDING = (("product and limits", ("product", "limits")), ("instruments", ("instruments",)))


@dataclass(frozen=True, eq=False)
class KnownBefore:
    """By what was known, the number of the entry it was printed with."""

    first: dict[bytes, int] = field(default_factory=dict)

    def same(self, entry: Entry) -> int:
        """Return the first entry with which all of this was known, itself where there is none."""
        return self.first.get(canonical(entry.known), entry.number)

    def met(self, known: Mapping[str, Json], number: int) -> int:
        """Return the first entry with which a part was known, and remember it."""
        return self.first.setdefault(canonical(known), number)


def known_then(entry: Entry, before: KnownBefore) -> Cell:
    """Return what was known and shown then; what is the same as with an entry `before` is said so.

    Product, limits and instruments are the same for most of a coat and stand once.
    """
    known = dict(entry.known)
    before_all = before.met(known, entry.number)
    runs: list[Run] = []
    for called, keys in _STANDING:
        same = {key: known[key] for key in keys if known.get(key)}
        then = before.met(same, entry.number) if same else entry.number
        if then != entry.number:
            runs.append(Run(f"{called.capitalize()} as with No {then}. "))
            runs += _out_of_date(same)
            known = {key: value for key, value in known.items() if key not in keys}
    runs += _runs(known)
    if runs and before_all != entry.number:
        return (Run(f"The same as with No {before_all}. "), *_out_of_date(entry.known))
    return tuple(runs)


def _out_of_date(known: Mapping[str, Json]) -> list[Run]:
    """Repeat which instruments were out of date: that is never left to be looked up."""
    late = [used for used in rows_of(known.get("instruments")) if used.get("out_of_date") == "yes"]
    names = ", ".join(str(used.get("id", "")) for used in late)
    return [Run(f"OUT OF DATE: {names}. ", "bad")] if late else []


def _runs(known: Mapping[str, Json]) -> list[Run]:
    runs: list[Run] = []
    product = known.get("product")
    if isinstance(product, Mapping):
        names = ("name", "status", "title", "revision", "issued")
        said = ", ".join(f"{k} {product[k]}" for k in names if product.get(k))
        runs.append(Run(f"Product {said}. "))
    shown = str(known.get("shown", ""))
    if known.get("verdict"):
        runs.append(Run(f"Verdict {known['verdict']}: {shown}. "))
    runs += _reasons(known, shown)
    limits = [_limit(row) for row in rows_of(known.get("limits"))]
    runs += [Run(f"Limits: {'; '.join(limits)}. ")] if limits else []
    values = known.get("values")
    if isinstance(values, Mapping):
        runs += [Run(f"{field_of('reading', key).label}: {plain(value)}. ")
                 for key, value in values.items()]  # fmt: skip
    return [*runs, *(_instrument(used) for used in rows_of(known.get("instruments")))]


def _reasons(known: Mapping[str, Json], shown: str) -> list[Run]:
    """Return what held and what did not, and in one sentence what was not tested."""
    runs: list[Run] = []
    untested: list[str] = []
    for reason in rows_of(known.get("reasons")):
        text = str(reason.get("text") or reason.get("rule"))
        if reason.get("holds") == "not tested":
            untested += [] if text in (*untested, shown) else [text]
            continue
        holds = _HOLDS.get(str(reason.get("holds")), str(reason.get("holds")))
        whose = f", {reason['whose']}" if reason.get("whose") else ""
        runs.append(Run(f"{text} ({holds}{whose}). ", "bad" if holds == "not held" else "plain"))
    return [*runs, Run(f"Not tested: {'; '.join(untested)}. ")] if untested else runs


def _instrument(used: Mapping[str, Json]) -> Run:
    out = used.get("out_of_date") == "yes"
    return Run(
        f"Instrument {used.get('id', '')}, serial {used.get('serial') or 'not kept'}, "
        f"calibration due {used.get('due') or 'not kept'}{' – OUT OF DATE' if out else ''}. ",
        "bad" if out else "plain")  # fmt: skip


def _limit(row: Mapping[str, Json]) -> str:
    low, high, unit = row.get("low"), row.get("high"), row.get("unit", "")
    bounds = f"{low} to {high}" if low and high else f"at least {low}" if low else f"at most {high}"
    return f"{row.get('label') or row.get('rule')} {bounds} {unit}, {row.get('whose', '')}"
