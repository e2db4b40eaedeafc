"""Small invented products, series and words. All figures are made up to be easy to reckon with."""

from __future__ import annotations

from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import ArrayLike, NDArray

from advisor.climate.readings import ReadingTable
from advisor.climate.series import Series
from advisor.coatings.product import Film, Hazards, Limits, Mix, NextCoat, Product, Times
from advisor.planning.case import Case
from advisor.planning.words import Words

NAN, INF = float("nan"), float("inf")
ROWS = (10.0, 20.0, 30.0)
#: Monday 2026-06-01 00:00 UTC.
MONDAY_S = 1_780_272_000
HOUR_S, DAY_S = 3600, 86400
UTC_WORDS = Words("metric", ZoneInfo("UTC"), MONDAY_S)


def product(
    columns: dict[str, tuple[float, ...]],
    *,
    rows: tuple[float, ...] = ROWS,
    product_class: str = "epoxy-undercoat",
    limits: Limits | None = None,
    next_coats: tuple[NextCoat, ...] = (),
    template: bool = False,
    product_id: str = "",
) -> Product:
    """Return a product from its columns; limits wide open unless given."""
    return Product(
        id=product_id or f"my-{product_class}",
        name=f"invented {product_class}",
        product_class=product_class,
        status="template" if template else "from data sheet",
        limits=limits or Limits(),
        times=Times(rows, columns),
        mix=Mix((2.0, 1.0)),
        film=Film(50.0, (50.0, 50.0), 0.0),
        next_coats=next_coats,
        hazards=Hazards(),
    )


def gloss(**changes: object) -> Product:
    """Two-part gloss: no induction, tack-free 4 h at 20 °C, tape-dry 8 h, no dew-safe row."""
    given: dict[str, object] = {
        "columns": {
            "pot_life_h": (6.0, 3.0, 1.5),
            "tack_free_h": (8.0, 4.0, 2.0),
            "tape_dry_h": (16.0, 8.0, 4.0),
        },
        "product_class": "two-part-gloss",
        "limits": Limits(air_temp_c=(8.0, 32.0), surface_temp_c=(10.0, 32.0), rh_pct=(0.0, 85.0)),
        "next_coats": (NextCoat("same", (12.0, 8.0, 4.0), (96.0, 48.0, 24.0)),),
    }
    return product(**(given | changes))  # type: ignore[arg-type]


def barrier(**changes: object) -> Product:
    """Epoxy barrier with induction, minimum 4 h and maximum 24 h at 20 °C."""
    given: dict[str, object] = {
        "columns": {
            "induction_h": (0.5, 0.25, 0.0),
            "pot_life_h": (6.0, 3.0, 1.5),
            "tack_free_h": (8.0, 4.0, 2.0),
        },
        "product_class": "epoxy-barrier",
        "next_coats": (
            NextCoat("same", (8.0, 4.0, 2.0), (48.0, 24.0, 12.0)),
            NextCoat("two-part-gloss", (8.0, 4.0, 2.0), (48.0, 24.0, 12.0), ("sand",)),
            NextCoat("alkyd", forbidden=True, prepare="test patch and barrier coat"),
        ),
    }
    return product(**(given | changes))  # type: ignore[arg-type]


def filler(**changes: object) -> Product:
    """Fairing filler: sandable 6 h at 20 °C, no tack-free, nothing to hold."""
    given: dict[str, object] = {
        "columns": {"pot_life_h": (1.0, 0.5, 0.25), "sandable_h": (12.0, 6.0, 3.0)},
        "product_class": "epoxy-filler",
    }
    return product(**(given | changes))  # type: ignore[arg-type]


def one_row(**changes: object) -> Product:
    """Epoxy with a single row at 23 °C: tack-free 4 h, pot life 2 h."""
    given: dict[str, object] = {
        "columns": {"pot_life_h": (2.0,), "tack_free_h": (4.0,)},
        "rows": (23.0,),
        "product_class": "epoxy-undercoat",
        "limits": Limits(surface_temp_c=(5.0, 35.0)),
    }
    return product(**(given | changes))  # type: ignore[arg-type]


def steady(
    hours: float,
    *,
    air: float = 20.0,
    dew: float = 10.0,
    surface: float = 20.0,
    start_s: int = MONDAY_S,
    wind: float | None = None,
    rain: float | None = None,
) -> Series:
    """Series of one constant climate, `hours` long, ends included."""
    n = round(hours * 12) + 1
    return series(
        np.full(n, air),
        np.full(n, dew),
        np.full(n, surface),
        start_s=start_s,
        wind=None if wind is None else np.full(n, wind),
        rain=None if rain is None else np.full(n, rain),
    )


def series(
    air: ArrayLike,
    dew: ArrayLike,
    surface: ArrayLike,
    *,
    hot: ArrayLike | None = None,
    start_s: int = MONDAY_S,
    wind: ArrayLike | None = None,
    rain: ArrayLike | None = None,
) -> Series:
    """Series from arrays; a single number stands for the whole length."""
    n = max(np.size(x) for x in (air, dew, surface))

    def full(x: ArrayLike) -> NDArray[np.float64]:
        return np.array(np.broadcast_to(np.asarray(x, float), (n,)))

    optional = [None if x is None else full(x) for x in (hot, wind, rain)]
    return Series(start_s, full(air), full(dew), full(surface), *optional)


def case(of: Product, apply_h: float = 1.0, **changes: object) -> Case:
    """Coat that is judged by its central values alone."""
    return Case(of, apply_h, **({"certain": True} | changes))  # type: ignore[arg-type]


def readings(time_s: ArrayLike, **columns: ArrayLike) -> ReadingTable:
    """Table of readings without flags."""
    times = np.asarray(time_s, dtype=np.int64)
    found = {name: np.asarray(values, float) for name, values in columns.items()}
    return ReadingTable(times, found, np.zeros(len(times), dtype=np.uint16))
