"""What was known and shown at the moment an entry was kept.

Only what is at hand is gathered here, so that a tap is kept at once: the answer last shown for
the coat, the newest values, the limits of the product, the instruments. What cannot be told is
left out, and a sentence says so; nothing of it can keep an entry from being kept.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING

from advisor.base.errors import AdvisorError
from advisor.record.canonical import Json
from advisor.record.entry import iso
from advisor.record.in_force import as_known, limits_of, number_text
from advisor.work import instrument_list

if TYPE_CHECKING:
    from collections.abc import Sequence

    from advisor.coatings.product import Product
    from advisor.planning.explain import Reason
    from advisor.planning.job import Coat, Job
    from advisor.work.kept import Kept
    from advisor.work.views import BeforeMixing

#: How a reason stands, in the words of the record.
HOLDS = MappingProxyType({True: "yes", False: "no", None: "not tested"})
#: Fields of a reading by column of the store, with their units.
VALUES = (
    ("air_temp_c", "air_temp", "°C"),
    ("rh_pct", "rh", "%"),
    ("dew_point_c", "dew_point", "°C"),
    ("surface_temp_c", "surface_temp", "°C"),
    ("surface_hot_c", "surface_hot", "°C"),
    ("pressure_hpa", "pressure", "hPa"),
    ("wind_m_s", "wind", "m/s"),
    ("rain_mm", "rain", "mm"),
)


@dataclass(frozen=True)
class Shown:
    """An answer that stood before the painter, and since when (UTC seconds)."""

    at_s: float
    answer: BeforeMixing


def known_of_coat(bench: Kept, coat_id: str, now_s: float) -> dict[str, Json]:
    """Return what is known of a coat now; what fails is named under `not_known`."""
    missing: list[Json] = []
    known: dict[str, Json] = {}
    job = bench.job_in_hand()
    for part in (_product, _values, _instruments, _shown):
        try:
            known |= part(bench, job, job.coat(coat_id), now_s)
        except (AdvisorError, KeyError, ValueError, ArithmeticError) as error:
            missing.append(str(error))
    return known | {"not_known": missing} if missing else known


def known_of_values(bench: Kept, now_s: float) -> dict[str, Json]:
    """Return the newest values and the instruments, for what is about no coat."""
    job = bench.job_in_hand()
    return _instruments(bench, job, None, now_s)


def _product(bench: Kept, job: Job, coat: Coat, now_s: float) -> dict[str, Json]:
    from advisor.work.days import WIND_LIMIT_M_S

    found = bench.shelf.find(coat.product_id)
    area, product = job.area(coat.area_id), found.product
    limits = limits_of(product, coat.method, area, WIND_LIMIT_M_S[coat.method])
    return {"product": product_facts(product, found.toml), "limits": as_known(limits)}


def product_facts(product: Product, toml: bytes) -> dict[str, Json]:
    """Return which data sheet a product stands for, with the SHA-256 of its file."""
    return {
        "id": product.id,
        "name": product.name,
        "status": product.status,
        "title": product.source.title,
        "revision": product.source.revision,
        "issued": product.source.issued,
        "sha256": hashlib.sha256(toml).hexdigest(),
    }


def _values(bench: Kept, job: Job, coat: Coat, now_s: float) -> dict[str, Json]:
    latest = bench.latest_values(now_s, coat.area_id)
    kept = instrument_list.instruments_kept(bench.store)
    found: dict[str, Json] = {}
    for column, field, unit in VALUES:
        if column in latest:
            value = latest[column]
            found[field] = {
                "value": number_text(value.value),
                "unit": unit,
                "source": str(value.origin),
                "at": iso(value.time_s, job.time_zone),
                "instrument": instrument_list.reads_with(kept, field)
                if value.origin == "typed"
                else "",
            }
    return {"values": found}


def _instruments(bench: Kept, job: Job, coat: Coat | None, now_s: float) -> dict[str, Json]:
    kept = instrument_list.instruments_kept(bench.store)
    return {"instruments": instrument_list.as_known(kept, now_s, job.time_zone)}


def _shown(bench: Kept, job: Job, coat: Coat, now_s: float) -> dict[str, Json]:
    shown = bench.shown.get(coat.id)
    if shown is None:
        return {"shown": "no answer had been asked for"}
    answer = shown.answer
    return {
        "verdict": "sand first" if answer.sand_first else answer.verdict.json,
        "shown": answer.headline,
        "shown_at": iso(shown.at_s, job.time_zone),
        "reasons": _reasons(answer.reasons),
    }


def _reasons(reasons: Sequence[Reason]) -> list[Json]:
    return [
        {
            "rule": reason.rule,
            "phase": str(reason.phase),
            # A missing outlook breaks no limit: it was not tested.
            "holds": HOLDS[None if reason.rule == "data" else reason.holds],
            "measured": number_text(reason.measured),
            "limit": number_text(reason.limit),
            "unit": reason.unit,
            "whose": reason.whose,
            "text": reason.text,
        }
        for reason in reasons
    ]
