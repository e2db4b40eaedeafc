"""One tap, one entry: what an event says, of which coat and which batch."""

from __future__ import annotations

from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING

from advisor.base.errors import InputError, RangeError
from advisor.planning.job import Coat, Job, Laid
from advisor.record.canonical import Json
from advisor.record.entry import Entry
from advisor.record.induction import BEGINS, ROUNDED_S, early_words, induction_end_s
from advisor.work import kept_events
from advisor.work.live_state import AtBench

if TYPE_CHECKING:
    from advisor.work.kept import Kept

#: Events that end a batch, and what became of it.
ENDS = MappingProxyType(
    {"batch used up": "used up", "batch discarded": "discarded", "batch set hard": "set hard"}
)
EVENTS = ("start", "patch", "stop", "carry on", "finish", *ENDS)
#: No wet or dry film is thicker, µm.
THICKEST_UM = 100_000.0


@dataclass(frozen=True)
class Asked:
    """A tap as it came; times UTC seconds."""

    event: str
    at_s: float
    now_s: float
    patch: str = ""
    why: str = ""
    coat_id: str = ""
    batch: int = 0


@dataclass(frozen=True)
class Tap:
    """The entry a tap becomes; `laid` where the coat is on with it."""

    kind: str
    coat_id: str
    data: dict[str, Json]
    laid: Laid | None = None


def moment(at_s: float | None, now_s: float) -> float:
    """Return when it happened; RangeError for a moment still to come."""
    if at_s is None:
        return now_s
    if at_s > now_s:
        raise RangeError("the time", "one still to come", "a time up to now")
    return at_s


def coat_of(job: Job, coat_id: str) -> Coat:
    """Return a coat of the job; InputError where there is none of that name."""
    found = next((coat for coat in job.coats if coat.id == coat_id), None)
    if found is None:
        names = ", ".join(coat.id for coat in job.coats)
        raise InputError(f"coat: found {coat_id!r}; accepted: {names}")
    return found


def tapped(at: AtBench, asked: Asked) -> Tap:
    """Return what a tap says; InputError where nothing at the bench fits it."""
    if asked.event in ENDS:
        return _batch_end(at, asked)
    if asked.event not in EVENTS:
        raise InputError(f"event: found {asked.event!r}; accepted: {', '.join(EVENTS)}")
    if asked.event == "start":
        return _start(at, asked)
    going = at.state.at_work(asked.coat_id)
    if going is None:
        raise InputError(f"{asked.event}: found no coat going on; accepted: start first")
    if asked.at_s < going.started_s:
        raise RangeError("the time", "one before the start", "a time after the first patch began")
    data = _data(at, asked, going.coat_id)
    if asked.event == "patch":
        data["patch"] = asked.patch or f"patch {len(going.patches) + 1}"
    laid = Laid(going.started_s, asked.at_s) if asked.event == "finish" else None
    return Tap("application", going.coat_id, data, laid)


def _start(at: AtBench, asked: Asked) -> Tap:
    batch = batch_of(at, asked.coat_id)
    coat_id = asked.coat_id or (batch.coat_id if batch is not None else "")
    if not coat_id:
        raise InputError("start: found no batch; accepted: a coat, or a batch mixed first")
    coat = coat_of(at.job, coat_id)
    if at.state.at_work(coat_id) is not None:
        raise InputError(f"start: found {coat.name} already going on; accepted: its next patch")
    if coat.laid is not None:
        raise InputError(f"start: found {coat.name} already on; accepted: take it back first")
    data = _data(at, asked, coat_id)
    if asked.patch:
        data["patch"] = asked.patch
    return Tap("application", coat_id, data)


def _data(at: AtBench, asked: Asked, coat_id: str) -> dict[str, Json]:
    data: dict[str, Json] = {"event": asked.event}
    if asked.event in ("start", "finish"):
        data["method"] = coat_of(at.job, coat_id).method
    batch = at.state.batch(asked.batch)
    if batch is None or batch.coat_id != coat_id:  # one in front may be another coat's
        batch = batch_of(at, coat_id)
    if batch is not None:
        data["batch"] = str(batch.number)
    if asked.why:
        data["why"] = asked.why
    return data


def _batch_end(at: AtBench, asked: Asked) -> Tap:
    """The named batch, else the oldest of the coat in hand: it is used up first."""
    open_ones = [b for b in at.state.batches if asked.coat_id in ("", b.coat_id)]
    found = at.state.batch(asked.batch) if asked.batch else next(iter(open_ones), None)
    if found is None:
        raise InputError(f"{asked.event}: found no such batch open; accepted: a batch in hand")
    data: dict[str, Json] = {"batch": str(found.number), "what": ENDS[asked.event]}
    if asked.why:
        data["why"] = asked.why
    return Tap("batch end", found.coat_id, data)


def too_early(at: AtBench, tap: Tap, at_s: float) -> dict[str, Json]:
    """Return the warning kept with paint put on while its batch still had to stand."""
    named = str(tap.data.get("batch", ""))
    batch = at.state.batch(int(named)) if named.isdecimal() else None
    end_s = None if batch is None else induction_end_s(batch)
    if tap.data.get("event") not in BEGINS or end_s is None or end_s - at_s < ROUNDED_S:
        return {}
    return {"warnings": [f"Started {early_words(end_s - at_s)}"]}


def batch_of(at: AtBench, coat_id: str) -> Entry | None:
    """Return the open batch mixed last for a coat, or for any where none is named."""
    fit = [batch for batch in at.state.batches if coat_id in ("", batch.coat_id)]
    return fit[-1] if fit else None


def finish(bench: Kept, tap: Tap, asked: Asked, known: dict[str, Json]) -> Entry:
    """Keep the end of a coat together with the coat being on."""
    assert tap.laid is not None
    draft = kept_events.finish_draft(bench, tap.coat_id, tap.laid, asked.now_s,
                                     said=tap.data, known=known)  # fmt: skip
    return kept_events.lay_coat(bench, tap.coat_id, tap.laid, draft)


def film_text(text: str) -> str:
    """Return one film reading as it is kept, µm; InputError, RangeError for what is none."""
    kept = text.strip().replace(",", ".")
    try:
        number = float(kept)
    except ValueError as error:
        raise InputError(f"film: found {text!r}; accepted: a number in µm") from error
    if not 0 < number <= THICKEST_UM:  # NaN fails too
        raise RangeError("film", text, f"above 0, up to {THICKEST_UM:g} µm")
    return kept
