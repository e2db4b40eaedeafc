"""Film build and spreading rate: µm of film, m² per litre, litres.

Rules: wet film × volume solids = dry film (MIL-HDBK-1110, procedure 13), litres per m² =
film in mm. Thinner is given in % of the mixed paint and adds its whole volume to the wet film.
"""

from __future__ import annotations

import math

from advisor.base.errors import RangeError
from advisor.coatings.product import Film, Span

#: 1 litre spread over 1 m² stands 1000 µm high.
UM_M2_PER_L = 1000.0


def wft_um(dft_um: float, volume_solids_pct: float, thinner_pct: float = 0.0) -> float:
    """Return the wet film in µm that dries to `dft_um`; solids and thinner in %."""
    _above_zero("dft_um", dft_um)
    return dft_um * (1.0 + _thinner(thinner_pct)) / _solids(volume_solids_pct)


def dft_um(wft_um: float, volume_solids_pct: float, thinner_pct: float = 0.0) -> float:
    """Return the dry film in µm left by `wft_um` of wet film; solids and thinner in %."""
    _above_zero("wft_um", wft_um)
    return wft_um * _solids(volume_solids_pct) / (1.0 + _thinner(thinner_pct))


def spread_m2_per_l(dft_um: float, volume_solids_pct: float, loss_pct: float = 0.0) -> float:
    """Return m² per litre of unthinned paint at a dry film in µm; theoretical without loss."""
    _above_zero("dft_um", dft_um)
    return UM_M2_PER_L * _solids(volume_solids_pct) / dft_um / (1.0 + _loss(loss_pct))


def litres(area_m2: float, wft_um: float, loss_pct: float = 0.0) -> float:
    """Return litres of mixed (and thinned) paint for an area at a wet film in µm."""
    _above_zero("wft_um", wft_um)
    if not (area_m2 >= 0 and math.isfinite(area_m2)):
        raise RangeError("area_m2", f"{area_m2:g}", "an area in m², 0 or more")
    return area_m2 * wft_um / UM_M2_PER_L * (1.0 + _loss(loss_pct))


def area_m2(litres: float, wft_um: float, loss_pct: float = 0.0) -> float:
    """Return m² that so many litres of mixed paint cover at a wet film in µm."""
    _above_zero("wft_um", wft_um)
    if not (litres >= 0 and math.isfinite(litres)):
        raise RangeError("litres", f"{litres:g}", "litres, 0 or more")
    return litres * UM_M2_PER_L / wft_um / (1.0 + _loss(loss_pct))


def thinner_share(thinner_pct: float) -> float:
    """Return the share of thinner in the thinned paint, 0 to 0.5."""
    added = _thinner(thinner_pct)
    return added / (1.0 + added)


def wet_film_um(film: Film, thinner_pct: float = 0.0) -> Span | None:
    """Return the lowest and highest wet film of a data sheet in µm; None where it says not."""
    if film.dft_um is None or film.volume_solids_pct is None:
        return None
    thin, thick = film.dft_um
    solids = film.volume_solids_pct
    return wft_um(thin, solids, thinner_pct), wft_um(thick, solids, thinner_pct)


def _above_zero(name: str, value: float) -> None:
    if not (value > 0 and math.isfinite(value)):
        raise RangeError(name, f"{value:g}", "µm above 0")


def _solids(percent: float) -> float:
    if not 0 < percent <= 100:
        raise RangeError("volume_solids_pct", f"{percent:g}", "% above 0 and up to 100")
    return percent / 100.0


def _thinner(percent: float) -> float:
    if not 0 <= percent <= 100:
        raise RangeError("thinner_pct", f"{percent:g}", "% from 0 to 100 of the mixed paint")
    return percent / 100.0


def _loss(percent: float) -> float:
    if not 0 <= percent <= 100:
        raise RangeError("loss_pct", f"{percent:g}", "% from 0 to 100 on top of the film")
    return percent / 100.0
