"""Batches against their pot life, and film readings against what was asked for."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Literal

import numpy as np

from advisor.coatings.product import Product
from advisor.coatings.tables import TimeTable
from advisor.planning.case import column_table
from advisor.planning.words import Words
from advisor.record.countdowns import AirSince, Mixed, countdown
from advisor.record.entry import Entry, number_of, numbers_of
from advisor.record.expiry import last_day
from advisor.record.induction import BEGINS, ROUNDED_S, early_words, induction_end_s
from advisor.record.ratio import RATIO_OFF, RATIO_ROUNDED, off, parts_of, wrong_way
from advisor.record.review.interval import WORSE
from advisor.record.review.told import Told
from advisor.record.review.track import ROUNDING, Track
from advisor.record.review_types import BatchReview, FilmReview, Standing
from advisor.record.telling import day_and_clock


def batches(
    told: Told, product: Product, air: Track, now_s: float, words: Words
) -> tuple[BatchReview, ...]:
    """Hold every batch of a coat against its pot life.

    Inside by the running clock on the mix or the warmer air; outside where even the data sheet's
    figure at the mix as it was entered had passed (its longest, where nobody entered one), where
    it was begun before the induction kept with it was over, where a component was out of date, and
    where the amounts do not make the ratio asked for.
    """
    mixed = told.of("batch")
    return tuple(_batch(entry, told, product, air, now_s, words) for entry in mixed)


def _batch(
    entry: Entry, told: Told, product: Product, air: Track, now_s: float, words: Words
) -> BatchReview:
    last = _last_used(entry, told)
    entered = number_of(entry.data.get("mix_temp"))
    mixed = Mixed(entry.at_s, () if entered is None else ((entry.at_s, entered),))
    since = (air.time_s >= entry.at_s) & (air.time_s <= (now_s if last is None else last))
    read = AirSince(air.time_s[since].astype(float), air.value[since])
    found = countdown(product, mixed, read, now_s if last is None else last)
    until, plain = found.usable_until_s, _plain_until(entry, product, entered)
    standing = _standing(last, until, plain) if plain is not None or _ages(product) else "inside"
    text = _said(standing, last, until, plain, words)
    early_s = _early_s(entry, told)
    if early_s >= ROUNDED_S:
        standing, text = "outside", f"started {early_words(early_s)}; {text}"
    for worse, told_of in (*_out_of_date(entry, words), *_ratio(entry)):
        standing = max(standing, worse, key=WORSE.index)
        text = f"{told_of}; {text}"
    return BatchReview(entry, entry.at_s, until, last, standing, text)


def _out_of_date(batch: Entry, words: Words) -> list[tuple[Standing, str]]:
    """Say of which components the date was past, by the shop's own day, or cannot be read."""
    mixed, rows = datetime.fromtimestamp(batch.at_s, words.zone).date(), batch.data.get("parts")
    found: list[tuple[Standing, str]] = []
    for row in rows if isinstance(rows, Sequence) else ():
        text = str(row.get("expiry") or "") if isinstance(row, Mapping) else ""
        if not text or not isinstance(row, Mapping):
            continue
        day, name = last_day(text), row.get("part", "a component")
        if day is None:
            found.append(("not known", f"use by {text} of {name} is no date"))
        elif day < mixed:
            found.append(("outside", f"{name} expired on {day.isoformat()}"))
    return found


def _ratio(batch: Entry) -> list[tuple[Standing, str]]:
    """Say how far the ratio was off, by the amounts kept with the batch; nothing without them."""
    asked, mixed = (parts_of(batch.data.get(key)) for key in ("ratio_asked", "ratio_mixed"))
    if asked is None or mixed is None or len(asked) != len(mixed):
        return []
    said = f"mixed {batch.data['ratio_mixed']}, asked {batch.data['ratio_asked']}"
    if wrong_way(batch.data):
        return [("not known", f"{said}: measured the other way")]
    return [("outside", said)] if abs(off(asked, mixed)[1]) > RATIO_OFF + RATIO_ROUNDED else []


def _last_used(batch: Entry, told: Told) -> float | None:
    """When the last of a batch went on; an event without a number means the newest batch."""
    mixed = told.of("batch")
    used = [
        event.at_s
        for event in told.of("application")
        if event.data.get("event") in ("patch", "stop", "finish")
        and _batch_of(event, mixed) == batch.number
    ]
    ended = [
        end.at_s
        for end in told.of("batch end")
        if end.data.get("batch") == str(batch.number) and end.data.get("what") == "used up"
    ]
    if not used and not ended and len(mixed) == 1:
        return told.ended_s
    return max(used, default=None) or max(ended, default=None)


def _early_s(batch: Entry, told: Told) -> float:
    """How long before the end of its induction a batch was begun, seconds; 0 where it was not."""
    end_s, begun = induction_end_s(batch), begun_s(batch, told)
    return 0.0 if end_s is None or begun is None else max(0.0, end_s - begun)


def begun_s(batch: Entry, told: Told) -> float | None:
    """When the first of a batch went on, UTC seconds; None where the record does not say."""
    mixed = told.of("batch")
    begun = [
        event.at_s
        for event in told.of("application")
        if event.data.get("event") in BEGINS and _batch_of(event, mixed) == batch.number
    ]
    if not begun and len(mixed) == 1 and told.started_s is not None:
        begun = [told.started_s]
    return min(begun, default=None)


def _batch_of(event: Entry, mixed: Sequence[Entry]) -> int | None:
    named = str(event.data.get("batch", ""))
    if named:
        return int(named) if named.isdecimal() else None
    before = [entry.number for entry in mixed if entry.at_s <= event.at_s]
    return before[-1] if before else None


def _plain_until(entry: Entry, product: Product, entered_c: float | None) -> float | None:
    """End of the data sheet's own figure, as it was kept with the batch or as it is now."""
    kept_h = number_of(entry.data.get("pot_life"))
    table = column_table(product, "pot_life_h")
    hours = kept_h if kept_h is not None else _table_h(table, entered_c)
    return None if hours is None or not np.isfinite(hours) else entry.at_s + hours * 3600.0


def _table_h(table: TimeTable | None, entered_c: float | None) -> float | None:
    if table is None or np.isnan(table.hours).all():
        return None
    return float(np.nanmax(table.hours)) if entered_c is None else table.at_one(entered_c)


def _standing(last: float | None, until: float | None, plain: float | None) -> Standing:
    if last is None:
        return "not known"
    if until is not None and last <= until + ROUNDING:
        return "inside"
    return "outside" if plain is not None and last > plain + ROUNDING else "not known"


def _said(
    standing: Standing, last: float | None, until: float | None, plain: float | None, words: Words
) -> str:
    if until is None and plain is None:
        return "the data sheet gives no pot life here"
    end = until if until is not None else plain
    assert end is not None
    usable = f"past use at {day_and_clock(end, words)}"
    if last is None:
        return f"{usable}; when the last of it went on is not in the record"
    told = f"last used {day_and_clock(last, words)}, {usable}"
    if standing == "not known":
        return f"{told} by the running clock on the measured air; by its mix as entered it lasted"
    return told


def _ages(product: Product) -> bool:
    """Whether a pot life is there or missing: one can alone has none."""
    return len(product.mix.ratio) > 1 or asks_batch(product)


def asks_batch(product: Product) -> bool:
    """Whether the product has a pot life that a batch must keep."""
    table = column_table(product, "pot_life_h")
    return table is not None and not np.isnan(table.hours).all()


def films(told: Told) -> tuple[FilmReview, ...]:
    """Put the film readings of each kind together; the mean is held against the target."""
    kinds: tuple[Literal["wet", "dry"], ...] = ("wet", "dry")
    return tuple(found for film in kinds if (found := _film(told, film)) is not None)


def _film(told: Told, film: Literal["wet", "dry"]) -> FilmReview | None:
    entries = [e for e in told.of("film") if e.data.get("film") == film]
    values = [um for entry in entries for um in numbers_of(entry.data.get("readings"))]
    if not values:
        return None
    target, mean = _target(entries), float(np.mean(values))
    return FilmReview(film, len(values), min(values), mean, max(values), target,
                      _film_standing(mean, target))  # fmt: skip


def _target(entries: Sequence[Entry]) -> tuple[float | None, float | None]:
    for entry in reversed(entries):
        low, high = (number_of(entry.data.get(key)) for key in ("target_low", "target_high"))
        if low is not None or high is not None:
            return low, high
    return None, None


def _film_standing(mean: float, target: tuple[float | None, float | None]) -> Standing:
    low, high = target
    if low is None and high is None:
        return "not known"
    under = low is not None and mean < low - ROUNDING
    over = high is not None and mean > high + ROUNDING
    return "outside" if under or over else "inside"
