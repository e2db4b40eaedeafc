"""The shelf of products: the templates of a folder and the user's own files."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path

from advisor.base.errors import FileFormatError, InputError
from advisor.base.paths import resource
from advisor.coatings.product import CLASSES, Product
from advisor.coatings.product_file import read_product
from advisor.coatings.schema import nearest


def templates_dir() -> Path:
    """Return the folder of the templates that come with the program."""
    return resource("products")


def library(folder: Path, extra: Iterable[Path] = ()) -> dict[str, Product]:
    """Read every product file of `folder`, then `extra` files or folders; keys are product ids.

    An extra file replaces a product of `folder` with the same id (a template made your own).
    Raises FileFormatError for a file that cannot be used, or an id twice in the same shelf.
    """
    products = _shelf(_files(folder))
    own = _shelf([file for path in extra for file in (_files(path) if path.is_dir() else [path])])
    return {**products, **own}


def find(products: Mapping[str, Product], product_id: str) -> Product:
    """Find a product by id, or a class's template by the class; raises InputError."""
    found = products.get(product_id)
    if found is None and product_id in CLASSES:
        found = products.get(f"typical-{product_id}")
    if found is not None:
        return found
    if not products:
        raise InputError(f'product "{product_id}": none are known; accepted: a product file')
    close = nearest(product_id, list(products))
    raise InputError(
        f'product "{product_id}": found no such id; the nearest is "{close}"; '
        f"accepted: {', '.join(products)}"
    )


def _files(folder: Path) -> list[Path]:
    if not folder.is_dir():
        raise FileFormatError(str(folder), "", "no such folder", "a folder of product files")
    return sorted(folder.glob("*.toml"))


def _shelf(files: Iterable[Path]) -> dict[str, Product]:
    shelf: dict[str, Product] = {}
    came_from: dict[str, Path] = {}
    for file in files:
        product = read_product(file)
        earlier = came_from.get(product.id)
        if earlier is not None and earlier.resolve() != file.resolve():
            found = f'"{product.id}", which {earlier.name} has too'
            raise FileFormatError(file.name, "id", found, "an id no other product has")
        shelf[product.id], came_from[product.id] = product, file
    return shelf
