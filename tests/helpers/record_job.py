"""An invented record of the gig Dunlin: entries, and the review of two coats made from them.

All names, products and figures are invented. The readings are a made-up spring night with a
hole of seven hours and a dip below the dew point.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from advisor.record.canonical import NO_HASH, Json
from advisor.record.entry import Draft, Entry, entry_of, line_of, quantity
from advisor.record.review_types import (
    BatchReview,
    CoatReview,
    Decision,
    FilmReview,
    IntervalReview,
    JobReview,
    LimitInForce,
    LimitReview,
    ReadingsOfCoat,
    TimeSpan,
)

ZONE = "Europe/London"
#: 2026-05-14 09:00 in London.
START_S = 1778745600
HOUR = 3600
MADE_S = START_S + 5 * 86400
KNOWN: Mapping[str, Json] = {
    "product": {"id": "demo-two-part-gloss", "name": "Two-part gloss (demo)", "status": "template",
                "title": "Invented sheet", "revision": "3", "issued": "2026-01-10",
                "sha256": "ab" * 32},
    "limits": [{"rule": "margin", "label": "Above dew point", "low": "3", "high": "", "unit": "K",
                "whose": "common practice"}],
    "verdict": "go", "shown": "Go: may be mixed until 13:40",
    "reasons": [{"rule": "margin", "phase": "now", "holds": "yes", "measured": "4.2", "limit": "3",
                 "unit": "K", "whose": "common practice", "text": "4.2 K above dew point"}],
    "values": {"air_temp": {"value": "14.5", "unit": "°C", "source": "typed",
                            "at": "2026-05-14T08:50:00+01:00"}},
    "instruments": [{"id": "hygro", "serial": "H-0042", "calibrated": "2024-02-01",
                     "due": "2026-02-01", "out_of_date": "yes"}],
}  # fmt: skip


class Record:
    """A record in memory, chained as the store chains it."""

    def __init__(self, job_id: str = "dunlin") -> None:
        self.job_id, self.entries = job_id, list[Entry]()

    @property
    def head(self) -> str:
        return self.entries[-1].hash if self.entries else NO_HASH

    def add(
        self,
        kind: str,
        data: Mapping[str, Json],
        at_s: float,
        *,
        area: str = "",
        coat: str = "",
        late_s: float = 20,
        by: str = "A. Reader",
        known: Mapping[str, Json] | None = None,
    ) -> Entry:
        draft = Draft(kind, self.job_id, at_s, at_s + late_s, ZONE, by, data, area, coat,
                      known or {})  # fmt: skip
        line = line_of(draft, len(self.entries) + 1, self.head, "1.0")
        self.entries.append(entry_of(line))
        return self.entries[-1]


def typed_reading(air: str, rh: str, surface: str, dew: str, margin: str) -> dict[str, Json]:
    return {
        "air_temp": quantity(air, "°C", "typed", "hygro"),
        "rh": quantity(rh, "%", "typed", "hygro"),
        "surface_temp": quantity(surface, "°C", "typed", "probe"),
        "dew_point": quantity(dew, "°C", "computed"),
        "margin": quantity(margin, "K", "computed"),
        "pressure": quantity("1013", "hPa", "estimated"),
        "formula": "saturation over water, 1013 hPa",
        "spot": "keel, forward",
        "reason": "before mixing",
    }


def head_entries(record: Record) -> None:
    """Job and instruments."""
    record.add("job", {
        "name": "Pilot gig Dunlin", "item": "ten-metre pilot gig", "item_id": "D-7",
        "owner": "Mill Creek crew (invented)", "place": "tide-mill shed", "enclosure": "stone shed",
        "previous_coating": "one-part enamel, sanded off", "people": "A. Reader; Żaneta Ořech",
        "areas": [{"id": "port", "name": "port side", "area_m2": "9.4", "substrate": "timber",
                   "outdoors": "no"}],
        "coats": [{"id": "gloss-1", "name": "first gloss", "area": "port",
                   "product": "demo-two-part-gloss", "method": "roll and tip", "dft_um": "35"},
                  {"id": "gloss-2", "name": "second gloss", "area": "port",
                   "product": "demo-two-part-gloss", "method": "roll and tip", "dft_um": ""}],
        "products": [{"id": "demo-two-part-gloss", "name": "Two-part gloss (demo)",
                      "status": "template", "title": "Invented sheet", "revision": "3",
                      "issued": "2026-01-10", "sha256": "ab" * 32}],
    }, START_S - 86400)  # fmt: skip
    record.add("instrument", {
        "id": "hygro", "measures": "air and humidity", "type": "hand hygrometer",
        "serial": "H-0042", "calibrated": "2024-02-01", "due": "2026-02-01",
        "accuracy": "± 0.5 °C, ± 3 %", "range": "-10 to 50 °C", "position": "on the staging",
    }, START_S - 80000)  # fmt: skip
    record.add("instrument", {"id": "probe", "measures": "surface", "serial": "P-9",
                              "calibrated": "2026-01-05", "due": "2027-01-05"},
               START_S - 80000)  # fmt: skip


def coat_entries(record: Record, coat: str, at_s: float) -> None:
    """Everything a good record has of one coat."""
    area, add = "port", record.add
    add("preparation", {"what": "sanded and wiped", "grit": "P320", "wipe": "two-rag wipe",
                        "water_break": "passed", "moisture": quantity("12.5", "%", "typed")},
        at_s - 2 * HOUR, area=area)  # fmt: skip
    read = add("reading", typed_reading("14.5", "72", "13.9", "9.5", "4.4"), at_s - 600, area=area)
    batch = add("batch", {
        "product": "Two-part gloss (demo)", "colour": "ivory",
        "parts": [{"part": "base", "batch": "B-1107", "expiry": "2027-03", "value": "0.60",
                   "unit": "L"},
                  {"part": "hardener", "batch": "H-2214", "expiry": "2026-04", "value": "0.30",
                   "unit": "L"},
                  {"part": "thinner", "batch": "", "expiry": "", "value": "0.05", "unit": "L"}],
        "ratio_asked": "2 : 1 by volume", "ratio_mixed": "2 : 1", "ratio_by": "volume",
        "thinner": quantity("5.5", "%", "computed"), "mix_temp": quantity("17.0", "°C", "typed"),
        "strained": "yes", "induction": quantity("0.25", "h", "data sheet"),
        "pot_life": quantity("4.6", "h", "data sheet"),
    }, at_s, coat=coat, area=area, known=KNOWN)  # fmt: skip
    add("application", {"event": "start", "method": "roll and tip", "tool": "100 mm foam roller"},
        at_s + 1200, coat=coat, area=area)  # fmt: skip
    for n, patch in enumerate(("bow", "midships", "stern")):
        add("application", {"event": "patch", "patch": patch}, at_s + 1800 + 900 * n, coat=coat,
            area=area)  # fmt: skip
    film = [quantity(v, "µm", "typed", "comb") for v in ("80", "85", "78", "90")]
    add("film", {"film": "wet", "readings": film, "target_low": quantity("75", "µm", "data sheet"),
                 "target_high": quantity("100", "µm", "data sheet"), "patch": "midships"},
        at_s + 3000, coat=coat, area=area)  # fmt: skip
    add("application", {"event": "finish", "weather": "fog from the creek"}, at_s + 4500, coat=coat,
        area=area)  # fmt: skip
    add("batch end", {"batch": str(batch.number), "what": "discarded",
                      "leftover": quantity("0.10", "L", "typed")}, at_s + 2 * HOUR, coat=coat,
        area=area)  # fmt: skip
    add("reading", typed_reading("13.0", "85", "12.1", "10.5", "1.6"), at_s + 4 * HOUR, area=area,
        late_s=3 * HOUR)  # fmt: skip
    add("correction", {
        "corrects": str(read.number), "corrects_hash": read.hash,
        "reason": "misread: the second digit was a 5",
        "values": [{"field": "rh", "was": quantity("72", "%", "typed", "hygro"),
                    "now": quantity("75", "%", "typed", "hygro")}],
    }, at_s + 5 * HOUR, area=area, by="Żaneta Ořech")  # fmt: skip
    add("observation", {"what": "tack-free", "text": "no mark under a light touch"},
        at_s + 6 * HOUR, coat=coat, area=area)  # fmt: skip
    add("defect", {"defect": "gloss loss", "extent": "about a third, lower strakes",
                   "text": "dull in the morning"}, at_s + 24 * HOUR, coat=coat,
        area=area)  # fmt: skip
    add("non-conformance", {"what": "margin under 2 K at night", "decision": "sand and recoat",
                            "decided_by": "A. Reader"}, at_s + 25 * HOUR, coat=coat,
        area=area)  # fmt: skip


def night(at_s: float) -> ReadingsOfCoat:
    """Return a made-up night: typed at first, then a log with a hole, wet before dawn."""
    log = np.arange(at_s + HOUR, at_s + 30 * HOUR, 300)
    log = log[(log < at_s + 10 * HOUR) | (log > at_s + 17 * HOUR)]
    time_s = np.r_[at_s - 600, at_s + 1500, log].astype(np.int64)
    hours = (time_s - at_s) / HOUR
    swing = np.cos((hours - 6) / 24 * 2 * np.pi)
    air, surface = 10 + 5 * swing, 9.5 + 4 * np.cos((hours - 7.5) / 24 * 2 * np.pi)
    dew = np.minimum(np.full(len(time_s), 7.0) - 0.6 * swing, air - 0.1)
    rh = 100 * np.exp(17.62 * dew / (243.12 + dew) - 17.62 * air / (243.12 + air))
    source = ("typed", "typed", *("imported" if t < at_s + 10 * HOUR else "measured" for t in log))
    return ReadingsOfCoat(time_s, air, rh, dew, surface, surface - dew, source,
                          np.arange(len(time_s)) == 40)  # fmt: skip


def _limits(readings: ReadingsOfCoat, at_s: float) -> tuple[LimitReview, ...]:
    worst = int(np.argmin(readings.margin_k))
    out = TimeSpan(at_s + 17.1 * HOUR, at_s + 22.5 * HOUR)
    margin = LimitInForce("margin", "Above dew point", 3.0, None, "K", "common practice")
    hold = LimitInForce("hold_margin", "Above dew point until it can take dew", 2.0, None, "K",
                        "assumption")  # fmt: skip
    humid = LimitInForce("humidity", "Humidity", 30.0, 75.0, "%", "data sheet, typical values")
    air = LimitInForce("air_temp", "Air", 12.0, 30.0, "°C", "data sheet, typical values")
    return (
        LimitReview(air, "application", "inside", (), 13.2, at_s + 1500, "typed",
                    1.25, 1.25),
        LimitReview(margin, "to_tack_free", "inside", (), 3.1, at_s + 5 * HOUR, "imported",
                    6.0, 6.0),
        LimitReview(hold, "hold", "outside", (out,),
                    float(readings.margin_k[worst]), float(readings.time_s[worst]),
                    readings.source[worst], 15.0, 22.0),
        LimitReview(humid, "to_tack_free", "not known", (), None, None, "", 0.0, 6.0),
    )  # fmt: skip


def coat_review(record: Record, coat: str, name: str, at_s: float) -> CoatReview:
    readings = night(at_s)
    mine = tuple(e for e in record.entries if e.coat_id == coat)
    batch = next(e for e in mine if e.kind == "batch")
    return CoatReview(
        coat, name, "port", "port side", "Two-part gloss (demo)", "3", at_s + 1800, at_s + 4500,
        at_s + 6 * HOUR, at_s + 28 * HOUR, "outside",
        "Outside a limit for 5 h 24 min: under 2 K above the dew point before dawn",
        _limits(readings, at_s),
        IntervalReview("undercoat", "undercoat", 20.5, 16.0, 72.0, "inside",
                       "20.5 h after the undercoat; its table asks 16 to 72 h"),
        (BatchReview(batch, at_s, at_s + 4.6 * HOUR, at_s + 4500, "inside",
                     "last used 1 h 15 min after mixing, within 4.6 h"),),
        (FilmReview("wet", 4, 78.0, 83.25, 90.0, (75.0, 100.0), "inside"),),
        (TimeSpan(at_s + 10 * HOUR, at_s + 17 * HOUR),),
        (TimeSpan(at_s + 18.2 * HOUR, at_s + 20.4 * HOUR),),
        Decision("go", at_s, "wait", "Then: go. With the readings that came: wait from 02:00."),
        readings, mine, ("Drying and re-preparation after the dip are not in the record.",),
    )  # fmt: skip


def job_review() -> JobReview:
    """Two coats of the port side, with a record of about forty entries."""
    record = Record()
    head_entries(record)
    second_s = START_S + 2 * 86400
    coat_entries(record, "gloss-1", START_S)
    coat_entries(record, "gloss-2", second_s)
    coats = (
        coat_review(record, "gloss-1", "first gloss", START_S),
        coat_review(record, "gloss-2", "second gloss", second_s),
    )
    return JobReview("dunlin", "Pilot gig Dunlin", coats, tuple(record.entries), record.head,
                     MADE_S)  # fmt: skip


def with_entry(review: JobReview, kind: str, data: Mapping[str, Json], coat: str = "") -> JobReview:
    """Return the review with one more entry at the end of its record."""
    record = Record(review.job_id)
    record.entries += review.entries
    added = record.add(kind, data, MADE_S - HOUR, coat=coat, area="port" if coat else "")
    coats = tuple(
        replace(c, entries=(*c.entries, added)) if c.coat_id == coat else c for c in review.coats
    )
    return replace(review, entries=tuple(record.entries), coats=coats, head=record.head)
