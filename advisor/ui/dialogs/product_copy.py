"""A product file to fill in, made from a template or from any product on the shelf."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

from advisor.coatings.product import Product
from advisor.coatings.product_file import parse_product, product_to_toml


def words_to_id(words: str, otherwise: str) -> str:
    """Turn words into an id: letters, digits and hyphens; `otherwise` where nothing is left."""
    plain = re.sub(r"\W+", "-", words.lower()).strip("-_")[:60].strip("-_")
    return plain or otherwise


def product_copy(product: Product, templates: Path, stem: str) -> str:
    """Return the text of a file named `stem` with an id and a name of its own.

    A template is copied as it stands, notes and all; it stays "typical values" until its
    figures are entered and its status is changed.
    """
    copy_id = words_to_id(stem, "my-product")
    if copy_id in ("same", "water", product.id):
        copy_id = f"my-{copy_id}"
    source = templates / f"{product.product_class}.toml"
    if product.id == f"typical-{product.product_class}" and source.is_file():
        text = _renamed(source.read_text(encoding="utf-8"), copy_id, stem)
    else:
        text = product_to_toml(replace(product, id=copy_id, name=stem))
    parse_product(text, f"{stem}.toml")
    return text


def _renamed(text: str, copy_id: str, name: str) -> str:
    shown = "".join(c for c in name if c.isprintable() and c not in '"\\')
    for key, value in (("id", copy_id), ("name", shown or copy_id)):
        line = f'{key} = "{value}"'
        text = re.sub(rf"(?m)^{key} = .*$", line, text, count=1)
    return text
