"""The shelf of products: templates, the user's own, and names that are nearly right."""

from __future__ import annotations

from pathlib import Path

import pytest

from advisor.base.errors import FileFormatError, InputError
from advisor.coatings.product_file import product_to_toml
from advisor.coatings.shelf import find, library, templates_dir

PRODUCTS = Path(__file__).parents[1] / "data" / "products"


def test_folder_and_extra_files_are_read_by_id() -> None:
    products = library(templates_dir(), [PRODUCTS / "full-sheet.toml", PRODUCTS / "one-row.toml"])
    assert len(products) == 17
    assert all(key == product.id for key, product in products.items())
    assert "tide-mill-gloss" in products


def test_an_own_file_replaces_the_template_of_the_same_id(tmp_path: Path) -> None:
    template = library(templates_dir())["typical-alkyd"]
    own = tmp_path / "mine.toml"
    own.write_text(
        product_to_toml(template).replace('status = "template"', 'status = "from data sheet"'),
        encoding="utf-8",
    )
    products = library(templates_dir(), [tmp_path])
    assert len(products) == 15
    assert not products["typical-alkyd"].is_template


def test_an_id_twice_names_both_files(tmp_path: Path) -> None:
    for name in ("a.toml", "b.toml"):
        (tmp_path / name).write_bytes((PRODUCTS / "one-row.toml").read_bytes())
    with pytest.raises(FileFormatError, match=r"b\.toml: id: found \"one-row-primer\", which a\.t"):
        library(templates_dir(), [tmp_path])
    with pytest.raises(FileFormatError, match=r"b\.toml"):
        library(tmp_path)


def test_the_same_file_named_twice_is_one() -> None:
    file = PRODUCTS / "one-row.toml"
    assert len(library(templates_dir(), [file, file])) == 16


def test_missing_folder_and_file_are_named(tmp_path: Path) -> None:
    with pytest.raises(FileFormatError, match="no such folder"):
        library(tmp_path / "absent")
    with pytest.raises(FileFormatError, match="no such file"):
        library(templates_dir(), [tmp_path / "absent.toml"])


def test_find_by_id_and_by_class() -> None:
    products = library(templates_dir())
    assert find(products, "typical-gelcoat").product_class == "gelcoat"
    assert find(products, "gelcoat").id == "typical-gelcoat"


def test_a_name_nearly_right_is_told_the_nearest() -> None:
    products = library(templates_dir())
    with pytest.raises(InputError, match='the nearest is "typical-two-part-gloss"'):
        find(products, "typical-twopart-gloss")
    with pytest.raises(InputError, match="none are known"):
        find({}, "anything")
