"""Readings a person wrote: a column for what was read, and what is the same for all said once."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from types import MappingProxyType

from advisor.record.entry import Entry, number_of
from advisor.record.report.blocks import Cell, Prose, Row, Run, Table, cell
from advisor.record.report.say import rows_of
from advisor.record.report.told import Told
from advisor.record.review.limits import slack_of
from advisor.record.review.track import ROUNDING
from advisor.record.review_types import CoatReview, LimitReview

#: What stands in a column together, with its width: a number needs room for its source.
_COLUMNS: Mapping[str, tuple[int, tuple[str, ...]]] = MappingProxyType({
    "Air": (20, ("air_temp", "rh", "wet_bulb")),
    "Dew point": (23, ("dew_point", "frost_point", "margin")),
    "Surface, material": (21, ("surface_temp", "surface_hot", "material_temp")),
    "Around, why": (15, ("spot", "wind", "light", "weather", "ventilation", "heater", "reason",
                         "flags")),
})  # fmt: skip
#: What was used to find the dew point; it is said under the table.
_BY = ("formula", "pressure")
#: The field of a reading that a limit is held against; the hotter side of a surface where read.
_FIELDS: Mapping[str, str] = MappingProxyType({
    "air_temp": "air_temp", "surface_temp": "surface_temp", "humidity": "rh", "margin": "margin",
    "hold_margin": "margin", "wind": "wind",
})  # fmt: skip


def typed_readings_table(
    told: Told, coat: CoatReview | None, entries: Sequence[Entry]
) -> Table:  # fmt: skip
    """Return what was read, around it, and whether it was inside the limits in force."""
    held = {name: told.held(entries, keys) for name, (_, keys) in _COLUMNS.items()}
    columns = {name: keys for name, keys in held.items() if keys}
    rows: list[Row] = []
    for entry in entries:
        seen = [told.lines(entry, keys) for keys in columns.values()]
        rows.append((told.numbered(entry), (*told.when(entry), Run(f"\n{entry.by}")), *seen,
                     _judged(told, coat, entry)))  # fmt: skip
    heads = ("No", "When, who", *columns, "Limits in force")
    widths = (4, 15, *(_COLUMNS[name][0] for name in columns), 14)
    return Table(heads, widths, tuple(rows))


def under_readings(told: Told, entries: Sequence[Entry]) -> tuple[Prose, ...]:
    """Say once how the dew points were found, at which pressure, for which entries."""
    groups: dict[tuple[Run, ...], list[int]] = {}
    for entry in entries:
        if keys := told.held([entry], _BY):
            groups.setdefault(told.lines(entry, keys), []).append(entry.number)
    found = []
    for runs, numbers in groups.items():
        flat = tuple(Run(r.text.replace("\n", "; "), r.tone, r.bold, r.struck) for r in runs)
        which = "" if len(groups) == 1 else f" (entries {', '.join(map(str, numbers))})"
        found.append(Prose((*flat, Run(f"{which}.")), small=True))
    return tuple(found)


def _judged(told: Told, coat: CoatReview | None, entry: Entry) -> Cell:
    """Return pass or fail as it was shown with the reading, else by the limits of its coat."""
    runs: list[Run] = []
    for row in rows_of(entry.known.get("reasons")):
        failed = row.get("holds") == "no"
        mark = "▲" if failed else "●" if row.get("holds") == "yes" else "?"
        runs.append(Run(f"{mark} {row.get('rule', '')}\n", "bad" if failed else "plain"))
    if runs:
        return tuple(runs)
    asked = list(_asked(told, coat, entry))
    if not asked:
        return (Run("no limit to hold it against", "quiet"),)
    broken = [text for text, room in asked if room < -ROUNDING]
    if broken:
        return cell("\n".join(f"▲ {text}" for text in broken), "bad")
    return cell(f"● inside {len(asked)} of {len(asked)}", "good")


def _asked(told: Told, coat: CoatReview | None, entry: Entry) -> Iterator[tuple[str, float]]:
    """Each limit in force at a reading, as it is said where broken, and the room left to it."""
    import numpy as np

    data = told.changes.now(entry).data
    for review in coat.limits if coat else ():
        limit = review.limit
        key = _FIELDS.get(limit.rule, "")
        if limit.rule == "surface_temp" and limit.low is None and data.get("surface_hot"):
            key = "surface_hot"
        value = number_of(data.get(key)) if key else None
        if coat is not None and value is not None and _holds(coat, review, entry.at_s):
            asked = told.say.bounds(limit.low, limit.high, limit.unit)
            shown = told.say.value(value, limit.unit)
            yield (f"{limit.label.lower()} {shown}, {asked}",
                   float(slack_of(limit, np.array([value]))[0]))  # fmt: skip


def _holds(coat: CoatReview, review: LimitReview, at_s: float) -> bool:
    """Whether a limit was in force; before the work it is looked at for what is to come."""
    if review.phase == "hold":
        return coat.tack_free_s is not None and at_s >= coat.tack_free_s
    if review.phase in ("start", "application"):
        return at_s <= coat.ended_s
    end_s = coat.dew_safe_s if review.phase == "to_dew_safe" else coat.tack_free_s
    return end_s is None or at_s <= end_s
