"""The surface of an area: how it follows shop air indoors, and sun, sky and wind outdoors."""

from __future__ import annotations

from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
from numpy.typing import ArrayLike, NDArray

from advisor.base.errors import RangeError
from advisor.climate.skin import USUAL_THICKNESS_MM, Skin
from advisor.physics.slab import Back, Slab, steady_coefficient_c

FloatArray = NDArray[np.float64]

#: Indoor surface coefficient, W/(m² K), still air and radiation to the walls: 1/0.13 of ISO 6946
#: for walls.
INDOOR_H_W_M2_K = 7.7


@dataclass(frozen=True)
class Material:
    """What a substrate is made of, and what stands behind it in a shop."""

    density_kg_m3: float
    heat_capacity_j_kg_k: float
    conductivity_w_m_k: float
    back: Back
    source: str


_TABLE = "EN ISO 10456 / SIA 381-1, as quoted in a public table"
_MEMORY = "from memory, common values"
MATERIALS = MappingProxyType(
    {
        "timber": Material(450.0, 1700.0, 0.13, "same air", f"{_TABLE} (spruce)"),
        "plywood": Material(700.0, 1600.0, 0.17, "same air", _MEMORY),
        "steel": Material(7850.0, 460.0, 50.0, "same air", f"{_TABLE} (structural steel)"),
        "aluminium": Material(2700.0, 900.0, 230.0, "same air", _TABLE),
        "grp": Material(1600.0, 1100.0, 0.25, "same air", f"{_MEMORY} (hand lay-up)"),
        "concrete": Material(2300.0, 880.0, 1.65, "closed", _TABLE),
        # Laminate and light filler taken as one; cabin linings close the back.
        "filled hull": Material(1200.0, 1200.0, 0.2, "closed", _MEMORY),
    }
)


def material(skin: Skin) -> Material:
    """Return what the skin's substrate is made of; `RangeError` where it is none we know."""
    found = MATERIALS.get(skin.substrate)
    if found is None:
        raise RangeError("substrate", repr(skin.substrate), ", ".join(MATERIALS))
    return found


def slab_of(skin: Skin) -> Slab:
    """Return the skin as a slab; the usual thickness where none was said."""
    made = material(skin)
    told = skin.thickness_mm
    thickness_mm = USUAL_THICKNESS_MM[skin.substrate] if told is None else told
    if not 0.1 <= thickness_mm <= 2000.0:
        raise RangeError("thickness_mm", f"{thickness_mm:g}", "0.1 to 2000")
    # Outdoors the back sees neither wind nor sky: closed for every substrate.
    back: Back = "closed" if skin.outdoors else made.back
    return Slab(
        made.density_kg_m3,
        made.heat_capacity_j_kg_k,
        made.conductivity_w_m_k,
        thickness_mm / 1000.0,
        back,
    )


def indoor_surface_c(
    skin: Skin, air_temp_c: ArrayLike, step_h: float, start_c: ArrayLike | None = None
) -> FloatArray:
    """Return the surface, °C, that follows shop air [n] or [s, n] on a grid of `step_h` hours.

    `start_c`, a number or [s], is the surface at the first point; air where not told. NaN in
    air is NaN in the answer.
    """
    return steady_coefficient_c(slab_of(skin), air_temp_c, step_h, INDOOR_H_W_M2_K, start_c)
