"""The report as JSON: what the review found, every reading behind it, every entry with its hash."""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from typing import TypeAlias

from advisor import __version__
from advisor.record.canonical import Json, parsed
from advisor.record.report.told import Told
from advisor.record.review_types import (
    BatchReview,
    CoatReview,
    Decision,
    FilmReview,
    IntervalReview,
    LimitReview,
    ReadingsOfCoat,
    TimeSpan,
)

#: Form of the file; a reader refuses one it does not know.
FORM = 1
Found: TypeAlias = "Json | float | Sequence[Found] | dict[str, Found]"
_COLUMNS = ("air_temp_c", "rh_pct", "dew_point_c", "surface_temp_c", "margin_k")


def report_json(told: Told) -> bytes:
    """Return the report; numbers in house units, what is not known as null."""
    review = told.review
    found: dict[str, Found] = {
        "report": FORM,
        "program": __version__,
        "made": _when(told, review.made_s),
        "time_zone": told.say.words.zone.key,
        "job": {"id": review.job_id, "name": review.job_name},
        "record": {"entries": len(review.entries), "head": review.head},
        "problems": list(review.problems),
        "coats": [_coat(told, coat) for coat in review.coats],
        "entries": [{"hash": e.hash, "entry": parsed(e.line)} for e in review.entries],
    }
    # Without indents, since those take Python's own slow writer: a log has a million readings.
    return (json.dumps(found, ensure_ascii=False, allow_nan=False) + "\n").encode()


def _coat(told: Told, coat: CoatReview) -> dict[str, Found]:
    return {
        "id": coat.coat_id, "name": coat.coat_name,
        "area": {"id": coat.area_id, "name": coat.area_name},
        "product": coat.product_name, "revision": coat.product_revision,
        "started": _when(told, coat.started_s), "ended": _when(told, coat.ended_s),
        "tack_free": _when(told, coat.tack_free_s), "dew_safe": _when(told, coat.dew_safe_s),
        "standing": coat.standing, "summary": coat.summary,
        "limits": [_limit(told, limit) for limit in coat.limits],
        "interval": _interval(coat.interval),
        "batches": [_batch(told, batch) for batch in coat.batches],
        "films": [_film(film) for film in coat.films],
        "gaps": [_span(told, span) for span in coat.gaps],
        "dips": [_span(told, span) for span in coat.dips],
        "decision": _decision(told, coat.decision),
        "notes": list(coat.notes),
        "entries": [entry.number for entry in told.entries_of(coat)],
        "readings": _readings(told, coat.readings),
    }  # fmt: skip


def _interval(found: IntervalReview | None) -> dict[str, Found] | None:
    if found is None:
        return None
    return {
        "previous": found.previous_coat_id, "clock_h": _number(found.clock_h),
        "min_h": _number(found.min_h), "max_h": _number(found.max_h),
        "standing": found.standing, "text": found.text,
    }  # fmt: skip


def _decision(told: Told, found: Decision | None) -> dict[str, Found] | None:
    if found is None:
        return None
    return {
        "then": found.then_verdict, "at": _when(told, found.then_at_s),
        "now": found.now_verdict, "text": found.text,
    }  # fmt: skip


def _limit(told: Told, found: LimitReview) -> dict[str, Found]:
    limit = found.limit
    return {
        "rule": limit.rule, "label": limit.label, "low": _number(limit.low),
        "high": _number(limit.high), "unit": limit.unit, "whose": limit.whose,
        "phase": found.phase, "standing": found.standing, "worst": _number(found.worst),
        "worst_at": _when(told, found.worst_at_s), "worst_source": found.worst_source,
        "outside": [_span(told, span) for span in found.outside],
        "outside_h": _number(found.hours_outside), "known_h": _number(found.hours_known),
        "asked_h": _number(found.hours_asked),
    }  # fmt: skip


def _batch(told: Told, batch: BatchReview) -> dict[str, Found]:
    return {
        "entry": batch.entry.number, "mixed": _when(told, batch.mixed_s),
        "usable_until": _when(told, batch.usable_until_s),
        "last_used": _when(told, batch.last_used_s), "standing": batch.standing,
        "text": batch.text,
    }  # fmt: skip


def _film(film: FilmReview) -> dict[str, Found]:
    return {
        "film": film.film, "count": film.count, "low_um": _number(film.low_um),
        "mean_um": _number(film.mean_um), "high_um": _number(film.high_um),
        "target_um": [_number(one) for one in film.target_um], "standing": film.standing,
    }  # fmt: skip


def _readings(told: Told, readings: ReadingsOfCoat) -> dict[str, Found]:
    columns: dict[str, Found] = {
        "time": [_when(told, float(at)) for at in readings.time_s],
        "source": list(readings.source),
        "doubtful": [bool(one) for one in readings.doubtful],
    }
    for name in _COLUMNS:
        columns[name] = [_number(float(value)) for value in getattr(readings, name)]
    return columns


def _span(told: Told, span: TimeSpan) -> dict[str, Found]:
    return {"from": _when(told, span.from_s), "to": _when(told, span.to_s)}


def _when(told: Told, time_s: float | None) -> str | None:
    return told.say.iso(time_s) or None


def _number(value: float | None) -> float | None:
    """Return a number to a ten-thousandth: more digits would only be the computer's."""
    return None if value is None or not math.isfinite(value) else round(float(value), 4)
