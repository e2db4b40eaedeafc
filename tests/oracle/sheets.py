"""Invented data sheets of every class, and what they say about the next coat."""

import math

from tests.oracle.plain_types import FILLERS, PlainNext, PlainProduct

CLASSES = [
    "two-part-gloss",
    "two-part-clear",
    "one-part-polyurethane",
    "alkyd",
    "epoxy-undercoat",
    "epoxy-barrier",
    "epoxy-filler",
    "vinylester-filler",
    "polyester-filler",
    "gelcoat",
    "epoxy-resin",
    "waterborne-two-part",
    "antifouling",
    "zinc-epoxy",
    "non-skid",
]
ROWS = [5.0, 10.0, 15.0, 20.0, 25.0, 30.0, 35.0]


def generous_product(rng):
    """A data sheet that lets mild days pass."""
    first = rng.choice([0, 1])
    last = rng.choice([5, 6])
    rows = ROWS[first : last + 1]
    if rng.random() < 0.15:
        rows = [20.0]
    product_class = rng.choice(CLASSES)
    tack = rng.choice([0.25, 0.5, 1.0, 2.0, 3.0, 5.0])
    columns = {}
    if product_class in FILLERS:
        columns["sandable_h"] = falling(rng, rows, tack)
    else:
        columns["tack_free_h"] = falling(rng, rows, tack)
    if rng.random() < 0.6:
        columns["induction_h"] = falling(rng, rows, rng.choice([0.0, 0.25, 0.25, 0.5]))
    if rng.random() < 0.7:
        columns["pot_life_h"] = falling(rng, rows, rng.choice([3.0, 4.0, 6.0]))
    if rng.random() < (0.1 if product_class in FILLERS else 0.5):
        columns["dew_safe_h"] = falling(rng, rows, tack * rng.choice([1.0, 2.0, 4.0]))
    if product_class not in FILLERS and rng.random() < 0.8:
        columns["tape_dry_h"] = falling(rng, rows, tack * rng.choice([2.0, 5.0]))
    return PlainProduct(
        product_class=product_class,
        rows=rows,
        columns=columns,
        air=rng.choice([None, (0.0, 40.0), (5.0, 35.0)]),
        surface=rng.choice([None, (0.0, 40.0), (5.0, 35.0)]),
        cure_min=rng.choice([None, None, 3.0]),
        rh=rng.choice([None, (5.0, 95.0), (10.0, 90.0)]),
        rh_floor_until=rng.choice(["application", "application", "tack_free"]),
        margin_k=rng.choice([3.0, 3.0, 2.5]),
        hold_margin_k=rng.choice([2.0, 2.0, 1.5]),
        template=rng.random() < 0.3,
    )


def falling(rng, rows, at_20):
    """Hours that fall with temperature, rounded as a data sheet prints them."""
    factor = rng.choice([1.0, 1.5, 2.0, 2.6])
    return [quarter(at_20 * factor ** ((20.0 - row) / 10.0)) for row in rows]


def quarter(hours):
    """To quarters of an hour, twelfths when short."""
    return round(hours * 4.0) / 4.0 if hours > 1.0 else round(hours * 12.0) / 12.0


def spoil_cells(product, rng, share):
    """Blank, unlimited and zero cells here and there; nobody lets a mix stand for ever."""
    for name, cells in product.columns.items():
        for k in range(len(cells)):
            if rng.random() < share:
                cells[k] = rng.choice([math.nan, math.nan, math.inf, 0.0])
                if name == "induction_h" and math.isinf(cells[k]):
                    cells[k] = 0.0
    mend_pot_life(product)


def mend_pot_life(product):
    """No pot life of zero hours: such a sheet is never printed."""
    if "pot_life_h" in product.columns:
        cells = product.columns["pot_life_h"]
        product.columns["pot_life_h"] = [0.25 if cell == 0 else cell for cell in cells]


def tack_of(product):
    """The column that ends the open phase."""
    return "tack_free_h" if "tack_free_h" in product.columns else "sandable_h"


def rows_from(product, lowest):
    """The table without its colder rows."""
    keep = [k for k, row in enumerate(product.rows) if row >= lowest]
    return cut_rows(product, keep)


def rows_to(product, highest):
    """The table without its warmer rows."""
    keep = [k for k, row in enumerate(product.rows) if row <= highest]
    return cut_rows(product, keep)


def cut_rows(product, keep):
    """Only the rows kept."""
    columns = {name: [cells[k] for k in keep] for name, cells in product.columns.items()}
    return [product.rows[k] for k in keep], columns


def next_coat(rng, rows):
    """The row for the coat on top: forbidden, missing, or with its hours."""
    kind = rng.random()
    if kind < 0.04:
        return None
    if kind < 0.08:
        return PlainNext(forbidden=True)
    least = falling(rng, rows, rng.choice([2.0, 6.0, 12.0, 16.0]))
    most = falling(rng, rows, rng.choice([8.0, 24.0, 30.0, 48.0]))
    if rng.random() < 0.25:
        for cells in (least, most):
            for k in range(len(cells)):
                if rng.random() < 0.2:
                    cells[k] = rng.choice([math.nan, math.inf, 0.0])
    if rng.random() < 0.3:
        most = None
    if rng.random() < 0.04:
        least = None
    return PlainNext(min_h=least, max_h=most)
