"""A job: areas with their substrate, coats in order, the crew's hours, what is already down."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal, TypeVar

from advisor.climate.shop.shop import Shop
from advisor.climate.skin import COLOURS, Skin

Substrate = Literal["timber", "plywood", "steel", "aluminium", "grp", "concrete", "filled hull"]
METHODS = ("brush", "roll", "spray")
SUBSTRATES = ("timber", "plywood", "steel", "aluminium", "grp", "concrete", "filled hull")


@dataclass(frozen=True)
class Area:
    """A part painted as one: its size, what it is made of and, outdoors, what it faces.

    `colour` is one of skin.COLOURS; `heading_deg` the bearing the patch faces, None not said.
    """

    id: str
    name: str
    area_m2: float
    substrate: Substrate = "timber"
    outdoors: bool = False
    trend: Literal["rising", "falling"] | None = None
    thickness_mm: float | None = None
    tilt_deg: float = 90.0
    heading_deg: float | None = None
    colour: str = "middle"

    @property
    def skin(self) -> Skin:
        """Return what its surface temperature depends on."""
        return Skin(
            self.substrate,
            self.thickness_mm,
            self.outdoors,
            self.tilt_deg,
            self.heading_deg,
            COLOURS[self.colour],
        )


@dataclass(frozen=True)
class Laid:
    """When a coat went on: first patch and last patch, UTC seconds."""

    start_s: float
    end_s: float


@dataclass(frozen=True)
class Coat:
    """One coat on one area. `laid` is None while it is still to do."""

    id: str
    name: str
    area_id: str
    product_id: str
    pace_m2_per_h: float
    method: Literal["brush", "roll", "spray"] = "brush"
    reverse: bool = False
    laid: Laid | None = None


@dataclass(frozen=True)
class Job:
    """The whole job. Coats are in the order they go on; each area has its own sequence."""

    id: str
    name: str
    place: str
    time_zone: str
    areas: tuple[Area, ...]
    coats: tuple[Coat, ...]
    working_hours: str = ""
    surface_lag_h: float | None = None
    shop: Shop | None = None

    def area(self, area_id: str) -> Area:
        """Return an area by id; KeyError when there is none."""
        return next_or_key_error(self.areas, area_id)

    def coat(self, coat_id: str) -> Coat:
        """Return a coat by id; KeyError when there is none."""
        return next_or_key_error(self.coats, coat_id)

    def apply_h(self, coat: Coat) -> float:
        """Hours from first to last patch."""
        return self.area(coat.area_id).area_m2 / coat.pace_m2_per_h

    def below(self, coat: Coat) -> Coat | None:
        """Return the coat under this one on the same area, None for the first."""
        same = [c for c in self.coats if c.area_id == coat.area_id]
        at = same.index(coat)
        return same[at - 1] if at > 0 else None

    def above(self, coat: Coat) -> Coat | None:
        """Return the coat over this one on the same area, None for the last."""
        return next((c for c in self.coats if self.below(c) == coat), None)

    def top_coats(self) -> tuple[Coat, ...]:
        """Return the last coat that is on each area, in order."""
        tops = {c.area_id: c for c in self.coats if c.laid is not None}
        return tuple(c for c in self.coats if tops.get(c.area_id) is c)

    def next_coats(self) -> tuple[Coat, ...]:
        """Return coats still to do, in order."""
        return tuple(c for c in self.coats if c.laid is None)

    def with_coat(self, coat: Coat) -> Job:
        """Return the job with one coat replaced by id."""
        return replace(self, coats=tuple(coat if c.id == coat.id else c for c in self.coats))


T = TypeVar("T", Area, Coat)


def next_or_key_error(items: tuple[T, ...], wanted: str) -> T:
    """Return the item with an id."""
    for item in items:
        if item.id == wanted:
            return item
    raise KeyError(wanted)
