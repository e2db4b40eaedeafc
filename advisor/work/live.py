"""The bench while a batch is live: what is mixed, what goes on, what must be heard."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import replace
from datetime import datetime
from typing import TYPE_CHECKING

from advisor.base.errors import AdvisorError
from advisor.record.canonical import Json
from advisor.record.entry import Entry, quantity
from advisor.work import batch_form, live_taps
from advisor.work.film_target import target_fields, thinner_pct
from advisor.work.known import known_of_coat
from advisor.work.live_alarms import in_turn
from advisor.work.live_look import Look
from advisor.work.live_state import LiveState
from advisor.work.live_views import BatchForm, ConditionsChanged, LiveBench
from advisor.work.observing import observation_data, taps_offered
from advisor.work.other_jobs import OF_JOB, OtherJobs, of_job

if TYPE_CHECKING:
    from advisor.coatings.product import Product
    from advisor.planning.job import Coat
    from advisor.work.workbench import Workbench

#: An answer shown longer ago than this is asked for anew before a batch is mixed, seconds.
SHOWN_S = 600.0


class Live:
    """The live bench. Every tap is kept before it returns."""

    def __init__(self, bench: Workbench) -> None:
        self._bench = bench
        self._state = LiveState(bench)
        self._look, self._others = Look(bench), OtherJobs(bench)
        self._seen_s = 0.0
        self._changed: ConditionsChanged | None = None

    def view(self, now_s: float) -> LiveBench:
        """Return the bench now. Cheap: called at every tick of the clock."""
        at = self._state.now()
        seen = self._look.at(at, now_s)
        self._seen_s, self._changed = now_s, seen.changed
        due, coming = self._others.alarms(at.job.id, now_s)
        return replace(
            seen,
            alarms=in_turn((*of_job(seen.alarms, at.job.id), *due)),
            coming=in_turn((*of_job(seen.coming, at.job.id), *coming)),
        )

    # --- batches -------------------------------------------------------------------------

    def batch_form(self, coat_id: str, now_s: float) -> BatchForm:
        """Offer a batch of a coat: its parts, the ratio asked, how much of each. May be slow.

        The answer to "may I mix now?" is asked for where it was not shown lately, so that the
        entry of the batch can say what was known.
        """
        self._seen_s = now_s
        coat = self._coat(coat_id)
        shown = self._bench.shown.get(coat_id)
        if shown is None or not 0 <= now_s - shown.at_s <= SHOWN_S:
            with suppress(AdvisorError):  # the entry then says that nothing was known
                self._bench.before_mixing(coat_id, now_s)
            shown = self._bench.shown.get(coat_id)
        plan = None if shown is None else shown.answer.batch
        mix_temp = str(self._bench.settings.get("mix_temp_c"))
        return self.checked(batch_form.offered(self._product(coat), coat, plan, mix_temp), now_s)

    def checked(self, form: BatchForm, now_s: float | None = None) -> BatchForm:
        """Return the form with what looks wrong in it; none of it is refused."""
        product = self._product(self._coat(form.coat_id))
        at_s = self._seen_s if now_s is None else now_s
        today = datetime.fromtimestamp(at_s, self._bench.words(at_s).zone).date()
        return batch_form.warned(form, product, today)

    def start_batch(self, form: BatchForm, now_s: float, at_s: float | None = None) -> Entry:
        """Keep a batch as mixed now, or at an earlier moment; RangeError for what is no number."""
        at_s = live_taps.moment(at_s, now_s)
        form = self.checked(form, now_s)
        data = batch_form.batch_data(form, self._product(self._coat(form.coat_id)))
        known = known_of_coat(self._bench, form.coat_id, now_s)
        if form.warnings:
            known["warnings"] = list(form.warnings)
        return self._add("batch", data, form.coat_id, at_s, now_s, known)

    # --- taps ----------------------------------------------------------------------------

    def tap(
        self,
        event: str,
        now_s: float,
        *,
        at_s: float | None = None,
        patch: str = "",
        why: str = "",
        coat_id: str = "",
        batch: int = 0,
    ) -> Entry:
        """Keep one event of `LiveBench.taps`, now or at an earlier moment.

        `coat_id` and `batch` (an entry number) where more than one is at the bench; otherwise
        the ones touched last. InputError where nothing at the bench fits the event.
        """
        at = self._state.now()
        asked = live_taps.Asked(event, live_taps.moment(at_s, now_s), now_s, patch, why, coat_id,
                                batch)  # fmt: skip
        tap = live_taps.tapped(at, asked)
        known = known_of_coat(self._bench, tap.coat_id, now_s) | self._as_shown()
        known |= live_taps.too_early(at, tap, asked.at_s)
        if tap.laid is None:
            return self._add(tap.kind, tap.data, tap.coat_id, asked.at_s, now_s, known)
        return live_taps.finish(self._bench, tap, asked, known)

    def observe(
        self, what: str, coat_id: str, now_s: float, *, at_s: float | None = None, text: str = ""
    ) -> Entry:
        """Keep what was seen on a film, such as "tape-dry", and which share of its time it took.

        See `work.observed` for what it changes.
        """
        at_s = live_taps.moment(at_s, now_s)
        said: dict[str, Json] = {"what": what, "text": text} if text else {"what": what}
        data = observation_data(self._bench, coat_id, at_s, said)
        known = known_of_coat(self._bench, coat_id, now_s)
        return self._add("observation", data, coat_id, at_s, now_s, known)

    def taps_of_film(self, coat_id: str) -> tuple[str, ...]:
        """Return what `observe` may be told by one tap of a film that dries, such as "tape-dry"."""
        return taps_offered(self._bench, coat_id)

    def film(
        self,
        coat_id: str,
        values: tuple[str, ...],
        now_s: float,
        film: str = "wet",
        at_s: float | None = None,
    ) -> Entry:
        """Keep film readings in µm as typed, now or earlier; InputError where one is no number."""
        at = self._state.now()
        coat = self._coat(coat_id)
        batch = live_taps.batch_of(at, coat_id)
        readings: list[Json] = [
            quantity(live_taps.film_text(value), "µm", "typed") for value in values
        ]
        data: dict[str, Json] = {"film": film, "readings": readings}
        data |= target_fields(self._bench, coat, film, thinner_pct(batch))
        going = at.state.at_work(coat_id)
        if going is not None and going.patches:
            data["patch"] = going.patches[-1].name
        if batch is not None:
            data["batch"] = str(batch.number)
        known = known_of_coat(self._bench, coat_id, now_s)
        return self._add("film", data, coat_id, live_taps.moment(at_s, now_s), now_s, known)

    def heard(self, key: str, now_s: float) -> None:
        """Note that an alarm was heard: it does not come again, over restarts too.

        The key says of which job it is: another may have been opened meanwhile.
        """
        job_id, _, key = key.rpartition(OF_JOB)
        with self._bench.store.write() as db:
            db.execute(
                "INSERT INTO alarm_heard (job_id, key, heard_s) VALUES (?, ?, ?) "
                "ON CONFLICT (job_id, key) DO NOTHING",
                (job_id, key, int(now_s)),
            )

    # --- inner ---------------------------------------------------------------------------

    def _add(  # what an entry is made of
        self,
        kind: str,
        data: dict[str, Json],
        coat_id: str,
        at_s: float,
        now_s: float,
        known: dict[str, Json],
    ) -> Entry:
        return self._bench.record.add(kind, data, at_s=at_s, now_s=now_s, coat_id=coat_id,
                                      known=known)  # fmt: skip

    def _coat(self, coat_id: str) -> Coat:
        return live_taps.coat_of(self._bench.job_in_hand(), coat_id)

    def _product(self, coat: Coat) -> Product:
        return self._bench.shelf.of_coat(coat)

    def _as_shown(self) -> dict[str, Json]:
        """What stood before the painter when conditions had changed."""
        changed = self._changed
        if changed is None:
            return {}
        return {
            "changed": {
                "advice": changed.advice,
                "headline": changed.headline,
                "stopping_line": changed.stopping_line,
                "why": list(changed.why),
            }
        }
