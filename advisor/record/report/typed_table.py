"""Readings a person wrote: a column for what was read, and what is the same for all said once."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from types import MappingProxyType

from advisor.record.entry import Entry, number_of
from advisor.record.kinds import KINDS
from advisor.record.report.blocks import Cell, Prose, Row, Run, Table, cell
from advisor.record.report.say import rows_of
from advisor.record.report.told import Told
from advisor.record.review.limits import slack_of
from advisor.record.review.track import ROUNDING
from advisor.record.review_types import CoatReview, LimitReview

#: Numbers that stand in a column of their own, with its width beside that of the others.
_COLUMNS = ("air_temp", "rh", "wet_bulb", "dew_point", "frost_point", "surface_temp",
            "surface_hot", "margin", "material_temp")  # fmt: skip
_AROUND = ("spot", "wind", "light", "weather", "ventilation", "heater", "reason", "flags")
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
    columns, around = told.held(entries, _COLUMNS), told.held(entries, _AROUND)
    rows: list[Row] = []
    for entry in entries:
        seen = [(*told.when(entry), Run(f"\n{entry.by}"))]
        seen += [told.text(entry, key) for key in columns]
        if around:
            seen.append(_around(told, entry, around))
        rows.append((told.numbered(entry), *seen, _judged(told, coat, entry)))
    labels = [KINDS["reading"].field(key).label for key in columns]
    heads = ("No", "When, who", *labels, *(("Around, why",) if around else ()), "Limits in force")
    share = 48 / max(len(columns), 1)
    widths = (4, 16, *(share for _ in columns), *((16,) if around else ()), 16)
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
        found.append(Prose((*flat, Run(f"{which}."))))
    return tuple(found)


def _around(told: Told, entry: Entry, keys: tuple[str, ...]) -> Cell:
    kept = told.held([entry], keys)
    return told.lines(entry, kept) if kept else cell("")


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
