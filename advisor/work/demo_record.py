"""The record the demo's invented crew has kept of what it has laid, made as a person makes one.

Every entry goes through the call a person's own entry goes through, at the clock of the crew, on
a bench of the crew's own; then all of it is moved to the shop in one transaction. So nobody sees
a batch of yesterday as one in hand, and the crew's instruments never read a value of the shop's.
"""

from __future__ import annotations

import math
import tempfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from functools import partial
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from advisor.base.store import Store
from advisor.climate import reading_store
from advisor.climate.reading_store import TypedReading
from advisor.climate.readings import Origin
from advisor.coatings.film import wet_film_um
from advisor.planning.job import Job, Laid
from advisor.record import chain
from advisor.record.canonical import Json
from advisor.record.entry import quantity
from advisor.record.in_force import number_text
from advisor.work import batch_form, instrument_list
from advisor.work.by_hand import ByHand, keep_by_hand
from advisor.work.demo_air import read_off
from advisor.work.instrument_list import Instrument
from advisor.work.kept import is_demo

if TYPE_CHECKING:
    from advisor.work.live_views import BatchForm
    from advisor.work.views import Reading
    from advisor.work.workbench import Workbench

#: Who wrote the demo's entries: nobody real.
CREW = "Demo crew"
MINUTE_S, HOUR_S, DAY_S = 60.0, 3600.0, 86400.0
#: Mixed this long before the first patch: the induction at a cool shed, and a little.
MIXED_BEFORE_S = 45 * MINUTE_S
PATCHES = ("bow", "midships", "stern")
#: Coats the crew noted patch by patch, with wet film; of the others it noted start and end.
IN_DETAIL = ("port-primer-2", "port-undercoat", "port-gloss-1", "sheer-stripe-gloss")
#: Told the next morning, when nobody knew the lot numbers any more.
TOLD_LATE = "starboard-primer-2"
#: Dry film as share of the least that was asked: one too thin, and it stays in the record.
DRY_FILM = MappingProxyType(
    {"port-undercoat": (1.2, 1.15, 1.3), "starboard-undercoat": (0.85, 0.95, 1.05)}
)

_ENTRY = ("job_id", "number", "kind", "area_id", "coat_id", "at_s", "written_s", "by", "hash",
          "line")  # fmt: skip
_EVENT = ("job_id", "coat_id", "kind", "at_s", "detail_json")

Step = tuple[float, Callable[[float], object]]


@dataclass(frozen=True)
class Crew:
    """The crew at a bench of its own, and the job as it will stand."""

    bench: Workbench
    job: Job

    def read(self, at_s: float) -> Reading:
        """Read the crew's thermometers: the shed's log at a moment, rounded as a person reads."""
        log = reading_store.load(self.bench.store, int(at_s) - 7200, int(at_s) + 7200,
                                 self.bench.readings_area, (Origin.IMPORTED,))  # fmt: skip
        return read_off(log, at_s)

    def day(self, at_s: float) -> date:
        """Return the local day of a moment."""
        return datetime.fromtimestamp(at_s, ZoneInfo(self.job.time_zone)).date()

    def laid(self, coat_id: str) -> Laid:
        """Return when a coat went on."""
        found = self.job.coat(coat_id).laid
        assert found is not None
        return found


def keep_demo_record(bench: Workbench, now_s: float) -> bool:
    """Keep the record of today's demo job, once; False where that job has a record already.

    Takes about a second: `load_demo` comes first and shows what it can without it.
    """
    from advisor.work.demo import load_demo

    job = bench.job_in_hand()
    if not is_demo(job.id) or bench.record.head().entries:
        return False
    with (
        tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as folder,
        Store(Path(folder) / "crew.sqlite3") as store,
    ):
        own = type(bench)(store, bench.resources)
        own.settings.set("person", CREW)
        laid = load_demo(own, now_s)
        if laid.id != job.id:  # it was opened on another day
            return False
        last = own.latest_reading(now_s)
        own.save_job(replace(laid, coats=tuple(replace(c, laid=None) for c in laid.coats)))
        for at_s, step in sorted(_steps(Crew(own, laid)), key=lambda one: one[0]):
            step(at_s)
        if last is not None:
            own.type_reading(last)
        return _moved(own, bench)


def _moved(own: Workbench, bench: Workbench) -> bool:
    """Move record, events and typed readings; False where the record was begun meanwhile."""
    job_id = own.job_in_hand().id
    with own.store.read() as db:
        entries = db.execute(f"SELECT {', '.join(_ENTRY)} FROM entry ORDER BY number").fetchall()
        events = db.execute(f"SELECT {', '.join(_EVENT)} FROM event ORDER BY at_s").fetchall()
    with bench.store.write() as db:
        if chain.head(db, job_id).entries:
            return False
        for table, columns, rows in (("entry", _ENTRY, entries), ("event", _EVENT, events)):
            marks = ", ".join("?" * len(columns))
            db.executemany(
                f"INSERT INTO {table} ({', '.join(columns)}) VALUES ({marks})", rows
            )  # fmt: skip
        for row in _typed(own):
            reading_store.put_typed(db, row, bench.readings_area)
    return True


def _typed(own: Workbench) -> Iterator[TypedReading]:
    table = reading_store.load(own.store, 0, 2**40, own.readings_area, (Origin.TYPED,))
    names = ("air_temp_c", "rh_pct", "surface_temp_c", "surface_hot_c")
    for k, time_s in enumerate(table.time_s):
        values = {name: float(table.column(name)[k]) for name in names}
        yield TypedReading(
            int(time_s), **{n: None if math.isnan(v) else v for n, v in values.items()}
        )


def _steps(crew: Crew) -> Iterator[Step]:
    coats = [coat.id for coat in crew.job.coats if coat.laid is not None]
    first_s = min(crew.laid(coat).start_s for coat in coats)
    yield from _instruments(crew, first_s - 2 * HOUR_S)
    for coat_id in coats:
        yield from _coat(crew, coat_id)
    yield from _prepared(crew)
    yield from _films(crew)
    yield from _mistaken_reading(crew)


def _instruments(crew: Crew, at_s: float) -> Iterator[Step]:
    """The calibration of the surface probe ran out a month before the work began."""
    kept = (
        ("Demo hygrometer", "air and humidity", "± 2 % RH", 120, 245),
        ("Demo surface probe", "surface", "± 0.5 K", 395, -30),
        ("Demo film gauge", "dry film", "± 3 µm", 200, 165),
    )
    today = crew.day(at_s)
    for number, (name, measures, accuracy, ago, ahead) in enumerate(kept, 1):
        made, due = ((today + timedelta(days=d)).isoformat() for d in (-ago, ahead))
        one = Instrument(name, measures, "invented for the demo", f"demo-{number}", made, due,
                         accuracy)  # fmt: skip
        keep = partial(instrument_list.keep_instrument, crew.bench, one)
        yield at_s + number * MINUTE_S, keep


# --- coats -----------------------------------------------------------------------------------


def _coat(crew: Crew, coat_id: str) -> Iterator[Step]:
    bench, laid = crew.bench, crew.laid(coat_id)
    if coat_id == TOLD_LATE:
        yield (
            laid.end_s + 20 * HOUR_S,
            lambda now_s: bench.lay_coat(coat_id, laid.start_s, laid.end_s, now_s),
        )
        return

    def tap(event: str) -> Callable[[float], object]:
        return lambda now_s: bench.live.tap(event, now_s, coat_id=coat_id)

    yield (
        laid.start_s - MIXED_BEFORE_S,
        lambda now_s: bench.live.start_batch(_batch(crew, coat_id, now_s), now_s),
    )
    yield laid.start_s, tap("start")
    if coat_id in IN_DETAIL:
        yield from _in_detail(crew, coat_id)
    yield laid.end_s, tap("finish")
    yield laid.end_s + 5 * MINUTE_S, tap("batch used up")


def _in_detail(crew: Crew, coat_id: str) -> Iterator[Step]:
    bench, laid = crew.bench, crew.laid(coat_id)
    yield (
        laid.start_s - MIXED_BEFORE_S - 5 * MINUTE_S,
        lambda now_s: bench.type_reading(
            crew.read(now_s),
            now_s,
            bench.job_in_hand().coat(coat_id).area_id,
            reason="before mixing",
        ),
    )
    for number, patch in enumerate(PATCHES, 1):
        at_s = laid.start_s + (laid.end_s - laid.start_s) * number / (len(PATCHES) + 1)
        yield at_s, partial(bench.live.tap, "patch", patch=patch, coat_id=coat_id)
    yield (
        laid.end_s - 2 * MINUTE_S,
        lambda now_s: bench.live.film(coat_id, _wet_film(crew, coat_id), now_s),
    )


def _batch(crew: Crew, coat_id: str, now_s: float) -> BatchForm:
    """Fill the form of a batch in with invented lot numbers, in the ratio that is asked."""
    coat = crew.job.coat(coat_id)
    product = crew.bench.shelf.of_coat(coat)
    mix_temp = number_text(crew.read(now_s).air_temp_c or 0.0, 0)
    form = batch_form.offered(product, coat, None, mix_temp)
    best_before = crew.day(now_s) + timedelta(days=240)
    parts = [
        replace(part, batch=f"DEMO-{coat.product_id[5:8].upper()}{k + 1}", amount=number_text(
            share * (0.5 if form.ratio_by == "volume" else 0.4), 2),
            expiry=best_before.isoformat())
        for k, (part, share) in enumerate(zip(form.parts, product.mix.ratio, strict=False))
    ]  # fmt: skip
    return replace(form, parts=tuple(parts), strained="yes")


def _wet_film(crew: Crew, coat_id: str) -> tuple[str, ...]:
    """Read the wet film in the middle of what is asked, to the steps of a gauge, µm."""
    coat = crew.job.coat(coat_id)
    product = crew.bench.shelf.of_coat(coat)
    span = wet_film_um(product.film, 0.0)
    assert span is not None
    middle = 5 * round((span[0] + span[1]) / 10)
    return tuple(number_text(um, 0) for um in (middle - 5, middle, middle + 5))


# --- besides ---------------------------------------------------------------------------------


def _prepared(crew: Crew) -> Iterator[Step]:
    """Sanded and wiped before undercoat and gloss; what was seen of the undercoat before."""
    bench = crew.bench
    for coat_id in ("port-undercoat", "starboard-undercoat", "port-gloss-1", "starboard-gloss-1"):
        at_s = crew.laid(coat_id).start_s - 90 * MINUTE_S
        yield at_s, partial(_sanded, bench, crew.job.coat(coat_id).area_id)
    seen_s = crew.laid("port-gloss-1").start_s - 3 * HOUR_S
    yield seen_s, lambda now_s: bench.live.observe("sandable", "port-undercoat", now_s)


def _films(crew: Crew) -> Iterator[Step]:
    """Dry film of the undercoat on both sides, two days after it."""
    for number, coat_id in enumerate(DRY_FILM):
        at_s = crew.laid(coat_id).end_s + 1.5 * DAY_S + number * 10 * MINUTE_S
        yield at_s, partial(_by_hand, crew.bench, _dry_film(crew, coat_id), coat_id)


def _sanded(bench: Workbench, area_id: str, now_s: float) -> None:
    bench.log_sanded(now_s, area_id, now_s)


def _by_hand(bench: Workbench, data: dict[str, Json], coat_id: str, now_s: float) -> None:
    keep_by_hand(bench, ByHand("film", data, now_s, coat_id=coat_id), now_s)


def _dry_film(crew: Crew, coat_id: str) -> dict[str, Json]:
    span = crew.bench.shelf.find(crew.job.coat(coat_id).product_id).product.film.dft_um
    assert span is not None
    read: list[Json] = [
        quantity(number_text(share * span[0], 0), "µm", "typed") for share in DRY_FILM[coat_id]
    ]
    return {"film": "dry", "readings": read, "instrument_check": "zero and 50 µm shim"}


def _mistaken_reading(crew: Crew) -> Iterator[Step]:
    """A humidity with its digits exchanged, put right ten minutes later."""
    bench, kept = crew.bench, []
    at_s = crew.laid("bottom-boards-primer").start_s - 20 * MINUTE_S
    right = crew.read(at_s)

    def wrong(now_s: float) -> None:
        text = f"{right.rh_pct or 0.0:.0f}"
        swapped = text[::-1] if text[::-1] != text else str(int(text) + 9)
        kept.append(bench.type_reading(replace(right, rh_pct=float(swapped)), now_s,
                                       "bottom-boards", reason="before mixing"))  # fmt: skip

    def put_right(now_s: float) -> None:
        assert kept[0] is not None
        rh = quantity(f"{right.rh_pct or 0.0:.0f}", "%", "typed")
        bench.record.correct(kept[0].number, {"rh": rh}, "digits exchanged", now_s)

    yield at_s, wrong
    yield at_s + 10 * MINUTE_S, put_right
