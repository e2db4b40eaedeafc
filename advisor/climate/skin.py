"""What an area is made of and what it sees: all its surface temperature depends on."""

from __future__ import annotations

from dataclasses import dataclass
from types import MappingProxyType


@dataclass(frozen=True)
class Skin:
    """A surface to be painted.

    `substrate` is one of planning.job.SUBSTRATES or "filled hull". Outdoors: `tilt_deg` from
    horizontal (0 a deck, 90 a side), `heading_deg` the compass bearing the patch faces (None:
    not said, so the hottest of the four sides counts for the hottest spot), `absorptance` of
    sunlight by its colour.
    """

    substrate: str = "timber"
    thickness_mm: float | None = None
    outdoors: bool = False
    tilt_deg: float = 90.0
    heading_deg: float | None = None
    absorptance: float = 0.6


#: Usual thickness where nobody said, mm (common practice for small craft and trailers).
USUAL_THICKNESS_MM = MappingProxyType(
    {
        "timber": 22.0,
        "plywood": 12.0,
        "steel": 5.0,
        "aluminium": 4.0,
        "grp": 8.0,
        "concrete": 150.0,
        "filled hull": 15.0,
    }
)
#: Sunlight absorbed by colour, by eye: rounded from measured paints (white 0.19–0.25, grey 0.87,
#: black 0.97; values as published for cool-roof and enamel paints), the rest common practice.
COLOURS = MappingProxyType({"white": 0.25, "pale": 0.4, "middle": 0.6, "dark": 0.85, "black": 0.95})
