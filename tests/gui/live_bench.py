"""An invented live bench: what the window shows is set by hand, what it asks for is noted."""

from __future__ import annotations

from dataclasses import replace

from advisor.base.errors import InputError
from advisor.work.live_views import (
    Alarm,
    BatchForm,
    BatchInHand,
    ConditionsChanged,
    LiveBench,
    OnTheWork,
    PartMixed,
    PatchDone,
    ReadingDue,
)

from .conftest import NOW_S

MIN_S, HOUR_S = 60.0, 3600.0
COAT = "port-gloss-2"
EMPTY = LiveBench(NOW_S, "nothing", "", (), None, (), (), (), None, ())
BATCH = BatchInHand(
    12, COAT, "second gloss, port side", "Two-part gloss", NOW_S - 38 * MIN_S,
    NOW_S - 23 * MIN_S, NOW_S + 1.5 * HOUR_S, NOW_S + 3.2 * HOUR_S, 0.17,
    "Counted at 19.5 °C, the warmer of the tins and the shop.",
    ("Typical values of a template: enter your data sheet.",),
)  # fmt: skip
WORK = OnTheWork(
    COAT, "second gloss, port side", NOW_S - 20 * MIN_S, None,
    (PatchDone("sheer", NOW_S - 20 * MIN_S), PatchDone("", NOW_S - 9 * MIN_S),
     PatchDone("bow to thwart 2", NOW_S - 2 * MIN_S)),
    (100.0, 125.0), (110.0, 118.0, 97.0), "Mean 108 µm: inside the target.",
)  # fmt: skip
COMING = (
    Alarm("12-comfortable", NOW_S + 1.5 * HOUR_S, "use up this batch from here on", ""),
    Alarm("12-usable", NOW_S + 3.2 * HOUR_S, "batch 12 is dead", "", urgent=True),
)
DUE = (ReadingDue("every four hours", NOW_S + 40 * MIN_S, "the four-hourly reading"),)
GOING = LiveBench(
    NOW_S, "applying", "the coat is going on", (BATCH,), WORK, (), COMING, DUE, None,
    ("patch", "stop", "finish", "film", "batch used up", "batch discarded", "reading"),
)  # fmt: skip
DEAD = Alarm(
    "12-usable", NOW_S - 3 * MIN_S, "Batch 12 is at the end of its pot life",
    "Put no more of it on. Spread what is left thin in metal, outdoors: it can get hot.",
    urgent=True,
)  # fmt: skip
READY = Alarm("13-ready", NOW_S, "Batch 13 has stood long enough", "The first patch may go on.")
CHANGED = ConditionsChanged(
    "Humidity is 78%, the limit is 75%", "stop", "Finish the patch at the next seam, then stop.",
    42 * MIN_S, ("78% at 09:05, limit 75% (data sheet)", "It may fall again by 11:30."),
    NOW_S - 5 * MIN_S,
)  # fmt: skip
FORM = BatchForm(
    COAT, "Two-part gloss",
    (PartMixed("base", amount="0.54"), PartMixed("hardener", amount="0.27")),
    "2 : 1 by volume", "volume", mix_temp_c="18.5",
)  # fmt: skip


class InventedLive:
    """Stands in for the live bench; `asked` is every call that keeps something."""

    def __init__(self, view: LiveBench = EMPTY) -> None:
        self.shown = view
        self.asked: list[tuple[object, ...]] = []
        self.views = 0
        self.refuses = ""

    def view(self, now_s: float) -> LiveBench:
        self.views += 1
        return replace(self.shown, now_s=now_s)

    def taps_of_film(self, coat_id: str) -> tuple[str, ...]:
        return ()

    def batch_form(self, coat_id: str, now_s: float) -> BatchForm:
        return replace(FORM, coat_id=coat_id)

    def checked(self, form: BatchForm) -> BatchForm:
        base, hard = (float(part.amount or 0) for part in form.parts)
        wrong = hard and abs(base / hard - 2) > 0.1
        told = f"Mixed {base / hard:.1f} : 1, asked 2 : 1" if wrong else ""
        return replace(form, warnings=(told,) if told else ())

    def start_batch(self, form: BatchForm, now_s: float, at_s: float | None = None) -> None:
        self._keep("batch", form, at_s)

    def tap(self, event: str, now_s: float, *, at_s: float | None = None, patch: str = "",
            why: str = "", coat_id: str = "", batch: int = 0) -> None:  # fmt: skip
        self._keep(event, at_s, patch, coat_id, batch)

    def film(self, coat_id: str, values: tuple[str, ...], now_s: float, film: str = "wet",
             at_s: float | None = None) -> None:  # fmt: skip
        self._keep("film", coat_id, values, *(() if at_s is None else (at_s,)))

    def heard(self, key: str, now_s: float) -> None:
        self._keep("heard", key)
        left = tuple(alarm for alarm in self.shown.alarms if alarm.key != key)
        self.shown = replace(self.shown, alarms=left)

    def _keep(self, *what: object) -> None:
        if self.refuses:
            raise InputError(self.refuses)
        self.asked.append(what)
