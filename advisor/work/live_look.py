"""One look at the bench: batches counted down, the coat going on, what is due, what changed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from advisor.base.errors import AdvisorError
from advisor.base.units import Units
from advisor.coatings.film import wet_film_um
from advisor.coatings.product import Product
from advisor.planning.job import Coat
from advisor.planning.words import Words, duration
from advisor.record.bench_state import Going
from advisor.record.countdowns import AirSince, Countdown, Mixed, countdown
from advisor.record.entry import Entry, number_of
from advisor.record.in_force import from_known, limits_of
from advisor.record.review_types import LimitInForce
from advisor.work import live_alarms, live_rounds, live_words
from advisor.work.at_work import HOLD_S, NO_ROWS, Rows, RowsAtWork
from advisor.work.film_target import thinner_pct
from advisor.work.live_changed import Watch, changed
from advisor.work.live_state import AtBench
from advisor.work.live_views import (
    BatchInHand,
    ConditionsChanged,
    LiveBench,
    OnTheWork,
    PatchDone,
    ReadingDue,
)
from advisor.work.observed import Calibration, calibrations, stretched

if TYPE_CHECKING:
    from advisor.work.kept import Kept

#: Rows are wanted from this long before a batch was mixed: the reading before mixing, seconds.
BEFORE_S = 3600.0
#: A batch with no end noted is let go this long after it is past use, or was mixed, seconds.
FORGOTTEN_S = 24 * 3600.0


@dataclass(frozen=True, eq=False)
class Counted:
    """An open batch with its coat and countdown; `left` where its coat is on without it ended."""

    entry: Entry
    coat: Coat
    product: Product
    count: Countdown
    view: BatchInHand
    left: bool


class Look:
    """Looks at the bench; keeps the rows read from look to look."""

    def __init__(self, bench: Kept) -> None:
        self._bench = bench
        self._rows = RowsAtWork(bench)
        self._seen: tuple[tuple[str, int], Mapping[str, Calibration]] | None = None

    def at(self, at: AtBench, now_s: float) -> LiveBench:
        """Return the bench at a moment."""
        words = self._bench.words(now_s)
        notes: list[str] = []
        batches = self._batches(at, now_s, words, notes)
        going = at.state.at_work()
        change = self._changed(at, batches, going, now_s, words)
        readings = self._readings(at, batches, going, change, now_s)
        used = [(b.view, _use(b, going)) for b in batches]
        found = live_alarms.alarms(used, readings, change, words)
        sounding = live_alarms.sounding(found, at.heard, now_s)
        step = live_words.step_of(going, batches, now_s)
        return LiveBench(
            now_s,
            step,
            live_words.headline(step, at.job, going, batches, words),
            tuple(b.view for b in batches),
            None if going is None else self._work(at, going, batches, words.units),
            sounding.due,
            sounding.coming,
            readings,
            change,
            live_words.taps(step, batches, change, now_s),
            tuple(notes),
        )

    # --- batches -------------------------------------------------------------------------

    def _batches(self, at: AtBench, now_s: float, words: Words, notes: list[str]) -> list[Counted]:
        """Count every open batch down; those nobody ended are let go in the end."""
        found = []
        for entry in at.state.batches:
            if now_s - entry.at_s > live_rounds.LONGEST_S:
                notes.append(live_words.no_end(at.job, entry, words))
                continue
            try:
                counted = self._counted(at, entry, now_s, words)
            except (AdvisorError, KeyError) as error:
                notes.append(f"A batch cannot be counted down: {error}")
                continue
            if _forgotten(counted, now_s):
                notes.append(live_words.no_end(at.job, entry, words))
            elif not (counted.left and counted.count.usable_until_s is None):
                found.append(counted)
        return found

    def _counted(self, at: AtBench, entry: Entry, now_s: float, words: Words) -> Counted:
        coat, product = self._product(at, entry.coat_id)
        rows = self._of(at, coat, entry.at_s, now_s)
        air = _air(rows, entry.at_s)
        count = countdown(product, _mixed(at, entry), air, now_s)
        title = live_words.batch_title(coat, entry, words)
        view = BatchInHand(
            entry.number,
            coat.id,
            title,
            product.name,
            entry.at_s,
            count.induction_until_s,
            count.comfortable_until_s,
            count.usable_until_s,
            count.used_share,
            f"counted at {words.value(count.temp_c, '°C')}",
            (*count.assumptions, *_old_air(air, count, now_s)),
        )
        on = any(f.coat_id == coat.id and f.end_s >= entry.at_s for f in at.state.finished)
        return Counted(entry, coat, product, count, view, on)

    def _product(self, at: AtBench, coat_id: str) -> tuple[Coat, Product]:
        coat = at.job.coat(coat_id)
        return coat, self._bench.shelf.of_coat(coat)

    def _of(self, at: AtBench, coat: Coat, since_s: float, now_s: float) -> Rows:
        return self._rows.of(coat.area_id, since_s - BEFORE_S, now_s, at.read)

    # --- the coat going on ---------------------------------------------------------------

    def _work(self, at: AtBench, going: Going, batches: list[Counted], units: Units) -> OnTheWork:
        title, target = going.coat_id, None
        used = [b.entry for b in batches if b.entry.number in going.batches]
        try:
            coat, product = self._product(at, going.coat_id)
            title = f"{coat.name}, {at.job.area(coat.area_id).name}"
            target = wet_film_um(product.film, thinner_pct(used[-1] if used else None))
        except (AdvisorError, KeyError):
            pass  # a coat taken off the job since: what was done on it is still shown
        span = (None, None) if target is None else target
        return OnTheWork(
            going.coat_id,
            title,
            going.started_s,
            going.stopped_s,
            tuple(PatchDone(patch.name, patch.at_s) for patch in going.patches),
            span,
            going.wet_um,
            live_words.film_text(going.wet_um, target, units),
        )

    # --- what changed, what is due -------------------------------------------------------

    def _changed(
        self,
        at: AtBench,
        batches: list[Counted],
        going: Going | None,
        now_s: float,
        words: Words,
    ) -> ConditionsChanged | None:
        open_ones = [b for b in batches if not b.left]
        if going is None and not open_ones:
            return None
        coat_id = going.coat_id if going is not None else open_ones[-1].coat.id
        mine = [b for b in open_ones if b.coat.id == coat_id]
        try:
            coat, product = self._product(at, coat_id)
        except (AdvisorError, KeyError):
            return None
        since = min([b.entry.at_s for b in mine] + ([going.started_s] if going else []))
        used = mine[-1] if mine else None
        watch = Watch(
            self._of(at, coat, since, now_s).since(since),
            self._limits(at, coat, product, used),
            since,
            going,
            None if used is None else used.count.usable_until_s,
        )
        return changed(watch, now_s, words)

    def _limits(
        self, at: AtBench, coat: Coat, product: Product, used: Counted | None
    ) -> tuple[LimitInForce, ...]:
        """The limits the batch was mixed under, else those of the product now."""
        kept = () if used is None else from_known(used.entry.known)
        if kept:
            return kept
        from advisor.work.days import WIND_LIMIT_M_S

        area = at.job.area(coat.area_id)
        return limits_of(product, coat.method, area, WIND_LIMIT_M_S[coat.method])

    def _readings(
        self,
        at: AtBench,
        batches: list[Counted],
        going: Going | None,
        change: ConditionsChanged | None,
        now_s: float,
    ) -> tuple[ReadingDue, ...]:
        waiting = [b for b in batches if not b.left and (going is None
                   or b.coat.id != going.coat_id)]  # fmt: skip
        asked: list[ReadingDue] = []
        if going is not None or waiting:
            coat_id = going.coat_id if going is not None else waiting[-1].coat.id
            began = [b.entry.at_s for b in waiting] + ([going.started_s] if going else [])
            rows = self._rows_of(at, coat_id, min(began), now_s)
            mixed = tuple(b.entry.at_s for b in waiting) if going is None else ()
            since = None if change is None else change.since_s
            rounds = live_rounds.Rounds(rows.whole_s, mixed, going, (), since)
            asked += live_rounds.readings_due(rounds, now_s)
        asked += self._curing(at, now_s)
        # Films of one day ask for the same reading: it is asked for once.
        return tuple(sorted(set(asked), key=lambda due: (due.due_s, due.reason)))

    def _curing(self, at: AtBench, now_s: float) -> list[ReadingDue]:
        """Readings of the top films that cannot take dew yet, the soonest asked for."""
        asked: list[ReadingDue] = []
        tops = {c.area_id: c.id for c in at.job.top_coats()}
        for film in at.state.finished:
            if not 0 <= now_s - film.end_s <= live_rounds.LONGEST_S:
                continue
            try:
                coat, product = self._product(at, film.coat_id)
            except (AdvisorError, KeyError):
                continue
            if tops.get(coat.area_id) != coat.id:
                continue
            rows = self._of(at, coat, film.end_s - live_rounds.GAP_S, now_s)
            seen = self._calibrations(at).get(product.id)
            product = product if seen is None else stretched(product, seen.factor)
            take = live_rounds.can_take_dew_s(product, film, rows, now_s)
            rounds = live_rounds.Rounds(rows.whole_s, curing=((film, take),))
            asked += live_rounds.readings_due(rounds, now_s)
        return asked

    def _calibrations(self, at: AtBench) -> Mapping[str, Calibration]:
        """What was seen of films, asked for anew where the record grew."""
        if self._seen is None or self._seen[0] != (at.job.id, at.number):
            self._seen = ((at.job.id, at.number), calibrations(self._bench))
        return self._seen[1]

    def _rows_of(self, at: AtBench, coat_id: str, since_s: float, now_s: float) -> Rows:
        try:
            coat, _ = self._product(at, coat_id)
        except (AdvisorError, KeyError):
            return NO_ROWS
        return self._of(at, coat, since_s, now_s)


def _use(batch: Counted, going: Going | None) -> live_alarms.Use:
    if batch.left:
        return "left over"
    laying = going is not None and batch.entry.number in going.batches
    return "laying" if laying else "waiting"


def _mixed(at: AtBench, entry: Entry) -> Mixed:
    """The mix temperature of a batch and what was told of it since."""
    first = number_of(entry.data.get("mix_temp"))
    entered = () if first is None else ((entry.at_s, first),)
    later = tuple(told for told in at.told_c if told[0] >= entry.at_s)
    return Mixed(entry.at_s, entered + later)


def _air(rows: Rows, since_s: float) -> AirSince:
    """Air read since the mixing, with the reading that stood then."""
    known = rows.air_temp_c == rows.air_temp_c
    time_s, air = rows.time_s[known], rows.air_temp_c[known]
    first = max(0, int((time_s <= since_s).sum()) - 1)
    return AirSince(time_s[first:], air[first:])


def _old_air(air: AirSince, count: Countdown, now_s: float) -> tuple[str, ...]:
    """Say where a pot life that still runs is counted by air read long ago."""
    old_s = now_s - float(air.time_s[-1]) if len(air.time_s) else 0.0
    if old_s <= HOLD_S or count.usable_until_s is None or count.usable_until_s <= now_s:
        return ()
    ago = duration(old_s / 3600)
    return (f"shop air: not read for {ago}, the pot life is shorter if it got warmer",)


def _forgotten(batch: Counted, now_s: float) -> bool:
    end = batch.count.usable_until_s
    return now_s - (batch.entry.at_s if end is None else end) > FORGOTTEN_S
