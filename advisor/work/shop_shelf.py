"""The shop's shelf: the templates that come with the program and the user's own products."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from advisor.base.errors import InputError
from advisor.base.store import Store
from advisor.base.toml_file import read_toml_text

# What reads files is imported when first asked for: the window is drawn before it.
if TYPE_CHECKING:
    from advisor.coatings.product import Product
    from advisor.planning.job import Coat


@dataclass(frozen=True)
class OnShelf:
    """A product with the text of its file, which an entry names by its hash."""

    product: Product
    toml: bytes


class ShopShelf:
    """Products by id; a product of the user's own stands before a template of the same id."""

    def __init__(self, store: Store, folder: Path) -> None:
        self._store = store
        self._folder = folder
        #: What was read last, by id; one's own counts only while its text is the same.
        self._own: dict[str, OnShelf] = {}
        self._templates: dict[str, OnShelf] = {}

    def products(self) -> dict[str, Product]:
        """Return templates and the user's own, by id."""
        from advisor.coatings.product_file import parse_product
        from advisor.coatings.shelf import library

        found = library(self._folder)
        with self._store.read() as db:
            rows = db.execute("SELECT id, toml FROM product").fetchall()
        return found | {key: parse_product(toml, f"{key}.toml") for key, toml in rows}

    def add_file(self, path: Path) -> Product:
        """Read a product file and keep it; FileFormatError when it cannot be used."""
        from advisor.coatings.product_file import parse_product

        text = read_toml_text(path, "product")
        product = parse_product(text, path.name)
        with self._store.write() as db:
            db.execute("INSERT OR REPLACE INTO product (id, toml) VALUES (?, ?)",
                       (product.id, text))  # fmt: skip
        return product

    def find(self, product_id: str) -> OnShelf:
        """Return one product, quickly; InputError where it is not on the shelf."""
        found = self._own_product(product_id) or self._template(product_id)
        if found is None:
            raise InputError(
                f"product {product_id!r}: found it nowhere on the shelf; "
                "accepted: a product of the list, or add its file"
            )
        return found

    def of_coat(self, coat: Coat) -> Product:
        """Return a coat's product as it is by its method; InputError as `find`."""
        return self.find(coat.product_id).product.by_method(coat.method)

    def _own_product(self, product_id: str) -> OnShelf | None:
        from advisor.coatings.product_file import parse_product

        with self._store.read() as db:
            row = db.execute("SELECT toml FROM product WHERE id = ?", (product_id,)).fetchone()
        if row is None:
            return None
        toml, known = str(row[0]).encode(), self._own.get(product_id)
        if known is None or known.toml != toml:
            known = OnShelf(parse_product(row[0], f"{product_id}.toml"), toml)
            self._own[product_id] = known
        return known

    def _template(self, product_id: str) -> OnShelf | None:
        from advisor.coatings.product_file import read_product

        if not self._templates:
            for path in sorted(self._folder.glob("*.toml")):
                product = read_product(path)
                self._templates[product.id] = OnShelf(product, path.read_bytes())
        return self._templates.get(product_id)
