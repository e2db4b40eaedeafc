"""Evidence for or against a cause, from a coat's own record.

A check looks at one thing and answers for, against or not known. What was never read or written
down is not known: it speaks neither way.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

import numpy as np

from advisor.coatings.product import EPOXIES, TWO_PART_GLOSS
from advisor.planning.case import ROOM_C, column_table
from advisor.planning.rules import PRACTICE
from advisor.planning.timeline import Phase
from advisor.planning.words import duration
from advisor.record.entry import Entry, number_of, numbers_of
from advisor.record.induction import ROUNDED_S
from advisor.record.review.batches import begun_s
from advisor.record.review.coat import Parts
from advisor.record.review.interval import WORSE, sides_of
from advisor.record.review.limits import Asked, reviewed
from advisor.record.review.look import Look
from advisor.record.review.summary import NAMES
from advisor.record.review.told import SANDED, numbers_in
from advisor.record.review_types import LimitInForce, Standing, TimeSpan
from advisor.record.review_words import ends
from advisor.record.telling import day_and_clock

Side = Literal["for", "against", "not known"]
#: Sides, the one that counts most last.
SIDES: tuple[Side, ...] = ("against", "not known", "for")
#: A change of the surface over the coat that counts as rising, K.
RISING_K = 1.0
#: Fields and words that tell of wiping.
WIPED = ("dried and wiped", "sanded and wiped", "washed", "degreased", "solvent wipe", "dust wipe")


#: Which way a standing speaks.
_SIDE_OF: Mapping[Standing, Side] = MappingProxyType(
    {"outside": "for", "inside": "against", "not known": "not known"}
)


@dataclass(frozen=True)
class Answer:
    """What a check found, and the entry that says so."""

    side: Side
    text: str
    entry_number: int | None = None


@dataclass(frozen=True, eq=False)
class Scene:
    """A coat with what its review was made of."""

    look: Look
    at: Parts

    @property
    def wet_film(self) -> tuple[float, float | None] | None:
        """Thickest wet film read and the most that was asked for, µm; None without readings."""
        film = next((f for f in self.at.films if f.film == "wet"), None)
        return None if film is None else (film.high_um, film.target_um[1])


Check = Callable[[Scene], Answer | None]


def over(quantity: str, limit: float, unit: str, phase: Phase) -> Check:
    """For where a quantity was read over a figure in a phase."""
    return lambda scene: _read(scene, quantity, (None, limit), unit, phase)


def under(quantity: str, limit: float, unit: str, phase: Phase) -> Check:
    """For where a quantity was read under a figure in a phase."""
    return lambda scene: _read(scene, quantity, (limit, None), unit, phase)


def _read(
    scene: Scene, quantity: str, span: tuple[float | None, float | None], unit: str, phase: Phase
) -> Answer:
    low, high = span
    limit = LimitInForce(quantity, NAMES[quantity], low, high, unit, PRACTICE)
    found = reviewed(Asked(limit, phase, quantity), scene.look.tracks, scene.at.laid)
    review, words = found.review, scene.look.words
    figure = words.value(low if low is not None else high or 0.0, unit)
    asked = f"{'under' if low is not None else 'over'} {figure}"
    if review.worst is None or review.worst_at_s is None:
        return Answer("not known", f"{NAMES[quantity]} {WHEN[phase]}: not read")
    said = f"{NAMES[quantity]} {words.value(review.worst, unit)}"
    moment = day_and_clock(review.worst_at_s, words)
    if review.standing == "outside":
        return Answer("for", f"{said} at {moment}, {asked} {WHEN[phase]}")
    if found.gaps:
        return Answer("not known", f"{NAMES[quantity]} not read from {ends(found.gaps[0], words)}")
    return Answer("against", f"never {asked} {WHEN[phase]}; nearest {said}, {moment}")


#: When a phase is, in words.
WHEN: Mapping[Phase, str] = MappingProxyType(
    {
        Phase.APPLICATION: "while it went on",
        Phase.TO_TACK_FREE: "until tack-free",
        Phase.TO_DEW_SAFE: "until it could take dew",
    }
)


def blush_air(scene: Scene) -> Answer:
    """Humidity over 65 % with the surface under 18 °C at the same time, until tack-free."""
    tracks, words = scene.look.tracks, scene.look.words
    span = scene.at.laid.span(Phase.TO_TACK_FREE)
    humid = tracks.rh.part(span)
    for time_s, rh in zip(humid.time_s, humid.value, strict=True):
        cold = tracks.surface.at(float(time_s))
        if cold is not None and rh > 65 and cold < 18:
            figures = f"{words.value(rh, '%')} with the surface at {words.value(cold, '°C')}"
            return Answer("for", f"humidity {figures}, {day_and_clock(time_s, words)}")
    gaps = _gaps(scene, "rh", Phase.TO_TACK_FREE) or _gaps(scene, "surface", Phase.TO_TACK_FREE)
    if gaps or not len(humid):
        return Answer("not known", "humidity and surface were not read all the way to tack-free")
    return Answer("against", "never over 65 % with the surface under 18 °C until tack-free")


def _gaps(scene: Scene, quantity: str, phase: Phase) -> tuple[TimeSpan, ...]:
    limit = LimitInForce(quantity, "", -1e9, None, "", PRACTICE)
    return reviewed(Asked(limit, phase, quantity), scene.look.tracks, scene.at.laid).gaps


def wetted(scene: Scene) -> Answer:
    """Surface at or below the dew point from preparation until it could take dew."""
    words = scene.look.words
    if scene.at.dips:
        when = day_and_clock(scene.at.dips[0].from_s, words)
        return Answer("for", f"surface at or below the dew point, {when}")
    gaps = _gaps(scene, "margin", Phase.TO_DEW_SAFE)
    if gaps:
        return Answer("not known", f"surface and dew point not read from {ends(gaps[0], words)}")
    return Answer("against", "surface always above the dew point until it could take dew")


def wet_at_start(scene: Scene) -> Answer:
    """Surface at or below the dew point before mixing, and not dried since."""
    start = scene.at.laid.from_s
    before = [dip for dip in scene.at.dips if dip.from_s <= start]
    if before:
        when = day_and_clock(before[0].from_s, scene.look.words)
        return Answer("for", f"wetted {when}, and no drying is logged before it was mixed")
    room = scene.look.tracks.margin.at(start)
    if room is None:
        return Answer("not known", "surface and dew point at the start were not read")
    shown = scene.look.words.value(room, "K")
    return Answer("for" if room < 3.0 else "against", f"{shown} above dew point at the start")


def thick_film(limit_um: float | None = None) -> Check:
    """For where a wet film was thicker than asked, or than a figure of the trade."""

    def check(scene: Scene) -> Answer:
        film = scene.wet_film
        if film is None:
            return Answer("not known", "wet film: not read")
        most, asked = film[0], film[1] if limit_um is None else limit_um
        if asked is None:
            return Answer("not known", f"wet film up to {most:.0f} µm; no target was kept")
        side: Side = "for" if most > asked else "against"
        return Answer(side, f"wet film up to {most:.0f} µm, most asked {asked:.0f} µm",
                      _thickest(scene))  # fmt: skip

    return check


def _thickest(scene: Scene) -> int | None:
    """The entry with the thickest wet film."""
    wet = [e for e in scene.at.tale.of("film") if e.data.get("film") == "wet"]
    read = [e for e in wet if numbers_of(e.data.get("readings"))]
    thickest = max(read, key=lambda e: max(numbers_of(e.data.get("readings"))), default=None)
    return None if thickest is None else thickest.number


def too_early(scene: Scene) -> Answer | None:
    """Went on before the minimum of the coat below was over."""
    return _interval(scene, "min")


def too_late(scene: Scene) -> Answer | None:
    """Went on after the bond of the coat below had closed."""
    return _interval(scene, "max")


def _interval(scene: Scene, name: str) -> Answer | None:
    below = scene.at.below
    if below is None or below.row is None or below.row.forbidden:
        return None
    found = [side for kind, side in sides_of(below, below.row, scene.look.tracks) if kind == name]
    if not found:
        return None
    worst = max(found, key=lambda side: WORSE.index(side.standing))
    return Answer(_SIDE_OF[worst.standing], f"{below.since}; {worst.text}")


def old_batch(scene: Scene) -> Answer:
    """Used past its pot life."""
    found = scene.at.batches
    if not found:
        return Answer("not known", "no batch is in the record")
    worst = max(found, key=lambda batch: WORSE.index(batch.standing))
    return Answer(_SIDE_OF[worst.standing], worst.text, worst.entry.number)


def over_thinned(scene: Scene) -> Answer:
    """More thinner than the data sheet allows."""
    most = scene.look.product.mix.thinner_max_pct
    told = numbers_in(scene.at.tale.of("batch"), "thinner")
    if not told:
        return Answer("not known", "thinner: not in the record")
    value, number = max(told)
    side: Side = "for" if value > most else "against"
    return Answer(side, f"thinner {value:g} %, at most {most:g} %", number)


def short_induction(scene: Scene) -> Answer | None:
    """A batch went on before it had stood as long as was asked; the worst of them counts."""
    batches = scene.at.tale.of("batch")
    asked = [(batch, _induction_h(scene, batch)) for batch in batches]
    found = [_stood(scene, batch, hours) for batch, hours in asked if hours is not None]
    if found:
        return max(found, key=lambda answer: SIDES.index(answer.side))
    if batches or column_table(scene.look.product, "induction_h") is None:
        return None
    return Answer("not known", "induction: no batch is in the record")


def _induction_h(scene: Scene, batch: Entry) -> float | None:
    """Hours kept with a batch, else of the data sheet now, NaN where blank; None for none asked."""
    kept = number_of(batch.data.get("induction"))
    table = column_table(scene.look.product, "induction_h")
    if kept is not None or table is None:
        return kept
    mix_c = number_of(batch.data.get("mix_temp"))
    return table.at_one(ROOM_C if mix_c is None else mix_c)


def _stood(scene: Scene, batch: Entry, asked_h: float) -> Answer:
    begun = begun_s(batch, scene.at.tale)
    if begun is None or np.isnan(asked_h):
        why = "blank on the data sheet" if begun is not None else "when it was begun is not told"
        return Answer("not known", f"induction of the batch of entry {batch.number}: {why}")
    early_s = asked_h * 3600.0 - (begun - batch.at_s)
    side: Side = "for" if early_s >= ROUNDED_S else "against"
    stood = duration((begun - batch.at_s) / 3600.0)
    return Answer(side, f"induction: stood {stood}, asked {duration(asked_h)}", batch.number)


def cold_mix(scene: Scene) -> Answer:
    """The paint itself under 15 °C."""
    told = numbers_in(scene.at.tale.of("batch"), "mix_temp")
    if not told:
        return Answer("not known", "temperature of the mix: not in the record")
    value, number = min(told)
    shown = scene.look.words.value(value, "°C")
    return Answer("for" if value < 15 else "against", f"mix at {shown}", number)


def burner(scene: Scene) -> Answer:
    """A heater without a flue running while the film was open."""
    span = scene.at.laid.span(Phase.TO_TACK_FREE)
    told = [e for e in _readings(scene, span) if e.data.get("heater")]
    running = [e for e in told if e.data.get("heater") == "unvented on"]
    if running:
        when = day_and_clock(running[0].at_s, scene.look.words)
        return Answer("for", f"unvented heater on at {when}", running[0].number)
    if not told:
        return Answer("not known", "whether a heater was on is not in the record")
    return Answer("against", "no unvented heater on at any reading", told[0].number)


def _readings(scene: Scene, span: TimeSpan) -> list[Entry]:
    return [
        one.now
        for one in scene.look.record
        if one.entry.kind == "reading"
        and not one.struck_out
        and span.from_s - 3600 <= one.now.at_s <= span.to_s
    ]


def not_wiped(scene: Scene) -> Answer:
    """No wiping, washing or degreasing logged in the day before."""
    return _prepared(scene, WIPED, "wiping or degreasing")


def not_keyed(scene: Scene) -> Answer:
    """No sanding logged since the coat below."""
    return _prepared(scene, SANDED, "sanding")


def _prepared(scene: Scene, kinds: tuple[str, ...], name: str) -> Answer:
    start, below = scene.at.laid.from_s, scene.at.below
    since = start - 86400 if below is None else below.previous.end_s
    done = scene.at.tale.prepared_between(since, start, *kinds)
    if done:
        when = day_and_clock(done[-1].at_s, scene.look.words)
        return Answer("against", f"{done[-1].data['what']} {when}", done[-1].number)
    return Answer("not known", f"no {name} is logged before it")


def failed_water_break(scene: Scene) -> Answer:
    """The water-break test before it failed."""
    done = [e for e in scene.at.tale.prepared
            if e.at_s <= scene.at.laid.from_s and e.data.get("water_break")]  # fmt: skip
    if not done or done[-1].data["water_break"] == "not done":
        return Answer("not known", "water-break test: not in the record")
    failed = done[-1].data["water_break"] == "failed"
    return Answer("for" if failed else "against",
                  f"water-break test {done[-1].data['water_break']}", done[-1].number)  # fmt: skip


def damp_timber(scene: Scene) -> Answer:
    """Moisture content over what the data sheet asks, else over 18 % (common practice)."""
    limit = scene.look.product.prepare.timber_moisture_max_pct or 18.0
    before = [e for e in scene.at.tale.prepared if e.at_s <= scene.at.laid.from_s]
    told = numbers_in(before, "moisture")
    if not told:
        return Answer("not known", "moisture content: not in the record")
    value, number = told[-1]
    side: Side = "for" if value > limit else "against"
    return Answer(side, f"moisture content {value:g} %, at most {limit:g} %", number)


def rising(scene: Scene) -> Answer:
    """The surface got warmer while it went on."""
    laid, words = scene.at.laid, scene.look.words
    part = scene.look.tracks.surface.part(TimeSpan(laid.from_s, laid.ended_s))
    if len(part) < 2:
        return Answer("not known", "surface: not read from the start to the end of the coat")
    change = float(part.value[-1] - part.value[0])
    side: Side = "for" if change > RISING_K else "against"
    return Answer(side, f"surface changed by {words.value(change, 'K')} while it went on")


def late_after_preparation(hours: float) -> Check:
    """More time between preparation and the first patch than the surface keeps."""

    def check(scene: Scene) -> Answer:
        start = scene.at.tale.started_s or scene.at.laid.from_s
        done = scene.at.tale.prepared_between(-np.inf, start, *SANDED)
        if not done:
            return Answer("not known", "when it was prepared is not in the record")
        gone = (start - done[-1].at_s) / 3600.0
        side: Side = "for" if gone > hours else "against"
        return Answer(side, f"{duration(gone)} between preparation and paint, "
                      f"at most {duration(hours)}", done[-1].number)  # fmt: skip

    return check


def forbidden(scene: Scene) -> Answer | None:
    """The data sheet of the coat below does not allow this one over it."""
    below = scene.at.below
    if below is None or below.row is None:
        return None
    if below.row.forbidden:
        return Answer("for", "the data sheet does not allow this coat over the one below")
    return Answer("against", "the data sheet allows this coat over the one below")


def only(name: str, holds: Callable[[Scene], bool]) -> Check:
    """Against where the cause cannot be, by what was painted or how; silent where it can."""
    return lambda scene: None if holds(scene) else Answer("against", name)


IS_EPOXY = only("not an epoxy", lambda s: s.look.product.product_class in EPOXIES)
IS_TWO_PART_GLOSS = only(
    "not a two-part gloss", lambda s: s.look.product.product_class in TWO_PART_GLOSS
)
IS_SPRAY = only("not sprayed", lambda s: s.look.coat.method == "spray")
IS_STEEL = only("not on steel", lambda s: s.look.job.area(s.look.coat.area_id).substrate == "steel")
