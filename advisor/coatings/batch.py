"""How much to mix, in how many batches and panels, and when each batch is past use.

Thinner is in % of the mixed paint. Times in hours from mixing. The shares of the pot life that
are comfortable to use are common practice, no published source.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Literal

from advisor.base.errors import RangeError
from advisor.coatings.film import area_m2, litres, thinner_share

#: Share of what remains after induction that a painter uses with ease (common practice).
USABLE_SHARE = 0.6
USABLE_SHARE_HOT = 0.5
USABLE_SHARE_COOL = 0.7
HOT_FROM_C = 28.0
COOL_TO_C = 15.0
#: More batches than anyone mixes in one coat: some figure is wrong, so none are listed.
MOST_BATCHES = 200


@dataclass(frozen=True)
class Part:
    """One component of a batch, base first; litres where the ratio is by volume, else kg."""

    amount: float
    unit: Literal["L", "kg"]


@dataclass(frozen=True)
class Batch:
    """One batch. `area_m2` is what it covers, `reaches_m2` the area covered when it is empty.

    `mixed_at_h` counts from the first mixing, `use_up_by_h` and `dead_after_h` from its own.
    `parts` is empty and `thinner_l` None where a figure is missing.
    """

    number: int
    litres: float
    parts: tuple[Part, ...]
    thinner_l: float | None
    area_m2: float
    reaches_m2: float
    mixed_at_h: float | None
    use_up_by_h: float | None
    dead_after_h: float | None


@dataclass(frozen=True)
class BatchPlan:
    """Quantities for one coat; None where a figure is missing, and `missing` says which.

    `largest_batch_l` is the comfortable limit; `batches` are equal shares below it.
    """

    litres: float | None
    usable_h: float | None
    largest_batch_l: float | None
    largest_batch_m2: float | None
    batches: tuple[Batch, ...]
    panel_m2: float | None
    panels: int | None
    tray_refresh_min: float | None
    missing: tuple[str, ...]
    notes: tuple[str, ...]


#: Open time and tray life go by the surface.
UNREAD = "The surface was not read: panels and tray time go by it and can't be told."


def plan_batches(  # noqa: PLR0913 - every figure of the bench, by name, each may be missing
    *,
    area_m2: float | None,
    pace_m2_per_h: float | None,
    wft_um: float | None,
    loss_pct: float = 10.0,
    pot_life_h: float | None = None,
    induction_h: float | None = None,
    mix_temp_c: float | None = None,
    open_time_h: float | None = None,
    tray_life_h: float | None = None,
    scatter_h: float | None = None,
    ratio: Sequence[float] = (1.0,),
    ratio_by: Literal["volume", "mass"] = "volume",
    thinner_pct: float = 0.0,
    max_batch_kg: float | None = None,
    density_kg_per_l: float | None = None,
    surface_unread: bool = False,
) -> BatchPlan:
    """Plan the batches of one coat. NaN counts as missing; raises RangeError on impossible ones.

    `ratio` of one part is paint from one can: no pot life, one batch. Pot life and induction
    are those at the mix temperature. Where one of the times is 0 there is no batch or panel, and
    `notes` says so. `surface_unread`: times by the surface are blank for want of its reading.
    """
    figures = _Figures(
        area_m2=_given("area_m2", area_m2),
        pace_m2_per_h=_given("pace_m2_per_h", pace_m2_per_h),
        wft_um=_given("wft_um", wft_um),
        loss_pct=loss_pct,
        pot_life_h=_given("pot_life_h", pot_life_h, zero=True),
        induction_h=_given("induction_h", induction_h, zero=True) or 0.0,
        mix_temp_c=_temperature(mix_temp_c),
        open_time_h=_given("open_time_h", open_time_h, zero=True),
        tray_life_h=_given("tray_life_h", tray_life_h, zero=True),
        scatter_h=_given("scatter_h", scatter_h, zero=True),
        ratio=tuple(ratio),
        ratio_by=ratio_by,
        thinner_pct=thinner_pct,
        max_batch_kg=_given("max_batch_kg", max_batch_kg),
        density_kg_per_l=_given("density_kg_per_l", density_kg_per_l),
        surface_unread=surface_unread,
    )
    return _Planner(figures).plan()


def usable_share(mix_temp_c: float | None) -> float:
    """Return the comfortable share of the time left after induction (common practice)."""
    if mix_temp_c is None:
        return USABLE_SHARE
    if mix_temp_c >= HOT_FROM_C:
        return USABLE_SHARE_HOT
    return USABLE_SHARE_COOL if mix_temp_c <= COOL_TO_C else USABLE_SHARE


@dataclass(frozen=True)
class _Figures:
    area_m2: float | None
    pace_m2_per_h: float | None
    wft_um: float | None
    loss_pct: float
    pot_life_h: float | None
    induction_h: float
    mix_temp_c: float | None
    open_time_h: float | None
    tray_life_h: float | None
    scatter_h: float | None
    ratio: tuple[float, ...]
    ratio_by: Literal["volume", "mass"]
    thinner_pct: float
    max_batch_kg: float | None
    density_kg_per_l: float | None
    surface_unread: bool

    def __post_init__(self) -> None:
        if not self.ratio or not all(part > 0 and math.isfinite(part) for part in self.ratio):
            raise RangeError("ratio", str(self.ratio), "parts above 0, base first")
        thinner_share(self.thinner_pct)  # raises when out of range
        litres(0.0, 1.0, self.loss_pct)

    @property
    def one_can(self) -> bool:
        return len(self.ratio) == 1

    @property
    def at_once(self) -> tuple[str, ...]:
        """The times that are 0: run out the moment they begin."""
        times = {
            "pot life": None if self.one_can else self.pot_life_h,
            "open time": self.open_time_h,
            "tray life": self.tray_life_h,
            "scatter time": self.scatter_h,
        }
        return tuple(name for name, hours in times.items() if hours == 0)


@dataclass
class _Planner:
    """Works one plan out and gathers what is missing on the way."""

    figures: _Figures
    missing: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)

    def plan(self) -> BatchPlan:
        self.notes += [
            f"The {name} is 0 h: nothing can be worked at this temperature."
            for name in self.figures.at_once
        ]
        total = self._total_l()
        usable = self._usable_h()
        reach = self._reach_m2(usable)
        batches = self._batches(reach, usable)
        panel = self._panel_m2()
        return BatchPlan(
            litres=total,
            usable_h=usable,
            largest_batch_l=self._litres(reach),
            largest_batch_m2=reach,
            batches=batches,
            panel_m2=panel,
            panels=self._panels(panel),
            tray_refresh_min=self._tray_min(),
            missing=tuple(dict.fromkeys(self.missing)),
            notes=tuple(dict.fromkeys(self.notes)),
        )

    def _lacks(self, sentence: str) -> None:
        self.missing.append(sentence)

    def _litres(self, area: float | None) -> float | None:
        if area is None or self.figures.wft_um is None or not math.isfinite(area):
            return None
        return litres(area, self.figures.wft_um, self.figures.loss_pct)

    def _total_l(self) -> float | None:
        if self.figures.area_m2 is None:
            self._lacks("The area is missing: litres and batches can't be told.")
        if self.figures.wft_um is None:
            self._lacks("The wet film is missing (dry film or volume solids): no litres.")
        return self._litres(self.figures.area_m2)

    def _usable_h(self) -> float | None:
        figures = self.figures
        if figures.one_can:
            return None
        if figures.pot_life_h is None:
            self._lacks("The pot life is missing: batch size and last use can't be told.")
            return None
        if figures.pot_life_h == 0:
            return 0.0
        left = figures.pot_life_h - figures.induction_h
        if left <= 0:
            self.notes.append(
                f"The pot life ({figures.pot_life_h:g} h) is over before the induction "
                f"({figures.induction_h:g} h) ends: nothing is left to use."
            )
            return 0.0
        share = usable_share(figures.mix_temp_c)
        if figures.mix_temp_c is None:
            self._lacks("The mix temperature is missing: 0.6 of the time left is taken.")
        self.notes.append(
            f"A batch is planned for {share:g} of what is left of the pot life after "
            "induction (common practice)."
        )
        return left * share

    def _reach_m2(self, usable_h: float | None) -> float | None:
        """Area one batch may cover: by pot life and by mass; None where neither is known."""
        figures = self.figures
        by_mass = self._reach_by_mass()
        if figures.one_can:
            return by_mass if by_mass is not None else figures.area_m2
        if usable_h is None:
            return None
        if figures.pace_m2_per_h is None:
            self._lacks("The pace is missing: how far a batch reaches can't be told.")
            return None
        by_time = figures.pace_m2_per_h * usable_h
        return by_time if by_mass is None else min(by_time, by_mass)

    def _reach_by_mass(self) -> float | None:
        figures = self.figures
        if figures.max_batch_kg is None or figures.wft_um is None:
            return None
        if figures.density_kg_per_l is None:
            self._lacks(
                f"The density is missing: keep each batch under {figures.max_batch_kg:g} kg "
                "by scale."
            )
            return None
        paint_l = figures.max_batch_kg / figures.density_kg_per_l
        thinned_l = paint_l * (1.0 + figures.thinner_pct / 100.0)
        self.notes.append(f"No batch over {figures.max_batch_kg:g} kg: more heats itself up.")
        return area_m2(thinned_l, figures.wft_um, figures.loss_pct)

    def _batches(self, reach: float | None, usable_h: float | None) -> tuple[Batch, ...]:
        area = self.figures.area_m2
        if area is None or not reach or self.figures.wft_um is None or self.figures.at_once:
            return ()
        # A billionth: 2 × 12.5 m² of a limit of 12.5 m² are two batches, not three.
        count = max(1, math.ceil(area / reach - 1e-9))
        if count > MOST_BATCHES:
            self.notes.append(
                f"It would take {count} batches: check area, pace, film and pot life."
            )
            return ()
        return tuple(self._batch(number, count, usable_h) for number in range(1, count + 1))

    def _batch(self, number: int, count: int, usable_h: float | None) -> Batch:
        figures = self.figures
        area = (figures.area_m2 or 0.0) / count
        amount = self._litres(area) or 0.0
        thinner = amount * thinner_share(figures.thinner_pct)
        pace = figures.pace_m2_per_h
        # The next batch is mixed early by its induction, so the brush never waits.
        return Batch(
            number=number,
            litres=amount,
            parts=self._parts(amount - thinner),
            thinner_l=thinner,
            area_m2=area,
            reaches_m2=area * number,
            mixed_at_h=None if pace is None else area * (number - 1) / pace,
            use_up_by_h=None if usable_h is None else figures.induction_h + usable_h,
            dead_after_h=None if figures.one_can else figures.pot_life_h,
        )

    def _parts(self, paint_l: float) -> tuple[Part, ...]:
        figures = self.figures
        whole = sum(figures.ratio)
        if figures.ratio_by == "volume" or figures.one_can:
            return tuple(Part(paint_l * part / whole, "L") for part in figures.ratio)
        if figures.density_kg_per_l is None:
            self._lacks("The density is missing: the ratio is by mass, kg can't be told.")
            return ()
        paint_kg = paint_l * figures.density_kg_per_l
        return tuple(Part(paint_kg * part / whole, "kg") for part in figures.ratio)

    def _panel_m2(self) -> float | None:
        figures = self.figures
        limits = [time for time in (figures.scatter_h, figures.open_time_h) if time is not None]
        if not limits:
            self._lacks(
                UNREAD
                if figures.surface_unread
                else "The open time is missing: panels can't be sized; ask the maker."
            )
            return None
        if min(limits) == 0:
            return None
        if figures.pace_m2_per_h is None:
            self._lacks("The pace is missing: panels can't be sized.")
            return None
        return figures.pace_m2_per_h * min(limits)

    def _panels(self, panel: float | None) -> int | None:
        if panel is None or self.figures.area_m2 is None:
            return None
        return max(1, math.ceil(self.figures.area_m2 / panel - 1e-9))

    def _tray_min(self) -> float | None:
        if self.figures.tray_life_h is None:
            self._lacks(
                UNREAD
                if self.figures.surface_unread
                else "The tray life is missing: common practice is a fresh tray each 20-30 min."
            )
            return None
        return self.figures.tray_life_h * 60.0 or None


def _given(name: str, value: float | None, *, zero: bool = False) -> float | None:
    if value is None or math.isnan(value):
        return None
    if not math.isfinite(value) or value < 0 or (value == 0 and not zero):
        raise RangeError(name, f"{value:g}", "a number of 0 or more" if zero else "above 0")
    return value


def _temperature(value: float | None) -> float | None:
    if value is None or math.isnan(value):
        return None
    if not -40 <= value <= 60:
        raise RangeError("mix_temp_c", f"{value:g}", "°C from -40 to 60")
    return value
