"""Which product is meant: an id of the shelf, a class, or a product file."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from zoneinfo import ZoneInfo

from advisor.base.errors import RangeError
from advisor.base.store import Store
from advisor.coatings.product import Product
from advisor.coatings.product_file import parse_product, read_product
from advisor.coatings.shelf import find, library, templates_dir
from advisor.planning.case import Previous
from advisor.work.moments import parse_moment

PREVIOUS_ACCEPTED = (
    "PRODUCT@START/END, such as typical-alkyd@2025-06-01T09:00+02:00/2025-06-01T11:00+02:00"
)


def known_products(database: Path | None) -> dict[str, Product]:
    """Return templates and, from a database that is there, the user's own; keys are ids."""
    shelf = library(templates_dir())
    if database is not None and database.is_file():
        with Store(database) as store:
            shelf.update(stored_products(store))
    return shelf


def stored_products(store: Store) -> dict[str, Product]:
    """Return the products kept in the database, by id."""
    with store.read() as db:
        rows = db.execute("SELECT id, toml FROM product ORDER BY id").fetchall()
    return {key: parse_product(text, f"product {key}") for key, text in rows}


def is_file_name(text: str) -> bool:
    """Whether a product is named by its file rather than by its id."""
    return text.lower().endswith(".toml") or "/" in text or "\\" in text


def choose_product(text: str, database: Path | None) -> Product:
    """Return the product of an id, class or file; InputError names the nearest id."""
    if is_file_name(text):
        return read_product(Path(text))
    return find(known_products(database), text)


def choose_previous(
    text: str, database: Path | None, zone: ZoneInfo | None, *, reverse: bool = False
) -> Previous:
    """Read "PRODUCT@START/END": the coat below, first patch to last patch painted."""
    product, at, times = text.rpartition("@")
    start, slash, end = times.partition("/")
    if not (product and at and start and slash and end):
        raise RangeError("--previous", repr(text), PREVIOUS_ACCEPTED)
    first = parse_moment(start, zone, "--previous START")
    last = parse_moment(end, zone, "--previous END")
    if last < first:
        raise RangeError("--previous", f"{times}", "an END not before its START")
    return Previous(choose_product(product, database), first, last, reverse)


def in_list_order(products: Mapping[str, Product]) -> list[Product]:
    """Return products in the order of a list: one's own before templates, then by id."""
    return sorted(products.values(), key=lambda p: (p.is_template, p.id))
