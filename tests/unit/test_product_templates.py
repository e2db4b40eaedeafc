"""The fifteen templates: marked as typical, free of contradictions, with the trade's figures."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from advisor.coatings.film import wet_film_um
from advisor.coatings.lint import lint
from advisor.coatings.product import CLASSES, FILLERS, TWO_PART_GLOSS, Product
from advisor.coatings.product_file import parse_product, product_to_toml
from advisor.coatings.shelf import library, templates_dir

SHELF = library(templates_dir())
ALL = pytest.mark.parametrize("product", SHELF.values(), ids=SHELF.keys())


def template(class_id: str) -> Product:
    return SHELF[f"typical-{class_id}"]


def middle(product: Product, column: str) -> float:
    """The 20 °C figure."""
    return product.times.columns[column][product.times.temp_c.index(20.0)]


def test_one_for_each_class_and_file() -> None:
    assert {product.product_class for product in SHELF.values()} == set(CLASSES)
    assert {file.stem for file in templates_dir().glob("*.toml")} == set(CLASSES)


@ALL
def test_marked_as_typical(product: Product) -> None:
    assert product.is_template
    assert product.id == f"typical-{product.product_class}"
    assert product.name.endswith("(typical values)")
    text = Path(templates_dir(), f"{product.product_class}.toml").read_text(encoding="utf-8")
    assert text.startswith("# Typical values")
    assert "enter your data sheet's" in text
    assert "safe" not in text.lower()


@ALL
def test_no_contradictions(product: Product) -> None:
    assert [finding for finding in lint(product) if finding.severity == "error"] == []


@ALL
def test_reads_back_equal(product: Product) -> None:
    assert parse_product(product_to_toml(product), "again.toml") == product


@ALL
def test_milestones_of_the_class(product: Product) -> None:
    if product.product_class in FILLERS:
        assert product.has("sandable_h")
        assert not product.has("tack_free_h")
    else:
        assert product.has("tack_free_h")
    assert product.has("tape_dry_h") == (product.product_class in TWO_PART_GLOSS)
    assert not product.limits.margin_given


# Middle figures of the trade's time table (common practice).
@pytest.mark.parametrize(
    ("class_id", "column", "hours"),
    [
        ("two-part-gloss", "pot_life_h", 4),
        ("two-part-gloss", "tack_free_h", 3),
        ("two-part-gloss", "tape_dry_h", 28),
        ("two-part-gloss", "full_cure_h", 14 * 24),
        ("one-part-polyurethane", "tray_life_h", 35 / 60),
        ("epoxy-undercoat", "induction_h", 20 / 60),
        ("epoxy-filler", "sandable_h", 16),
        ("polyester-filler", "pot_life_h", 6 / 60),
        ("waterborne-two-part", "pot_life_h", 3),
        ("zinc-epoxy", "tack_free_h", 0.75),
        ("non-skid", "scatter_h", 0.25),
    ],
)
def test_middle_figures(class_id: str, column: str, hours: float) -> None:
    # Minutes are written as hours to four decimals.
    assert middle(template(class_id), column) == pytest.approx(hours, abs=5e-5)


@pytest.mark.parametrize(
    ("below", "above", "low", "high"),
    [
        ("two-part-gloss", "two-part-gloss", 16, 48),
        ("epoxy-undercoat", "two-part-gloss", 16, 72),
        ("epoxy-undercoat", "epoxy-undercoat", 12, 168),
        ("epoxy-undercoat", "one-part-polyurethane", 24, 120),
        ("epoxy-barrier", "antifouling", 6 - 2, 9),
        ("epoxy-filler", "epoxy-undercoat", 16, math.inf),
        ("polyester-filler", "epoxy-undercoat", 4, math.inf),
        ("epoxy-resin", "one-part-polyurethane", 336, math.inf),
        ("epoxy-resin", "epoxy-barrier", 5, 24),
        ("zinc-epoxy", "epoxy-undercoat", 5, 2160),
        ("two-part-gloss", "non-skid", 16, 48),
        ("non-skid", "two-part-gloss", 16, 48),
    ],
)
def test_next_coat_at_20_degrees(below: str, above: str, low: float, high: float) -> None:
    row = template(below).next_over(template(above))
    assert row is not None
    at_20 = template(below).times.temp_c.index(20.0)
    assert (row.min_h[at_20], row.max_h[at_20]) == (low, high)


@pytest.mark.parametrize("below", ["alkyd", "one-part-polyurethane"])
@pytest.mark.parametrize("above", ["two-part-gloss", "epoxy-undercoat", "epoxy-barrier"])
def test_strong_solvent_over_one_part_is_forbidden(below: str, above: str) -> None:
    row = template(below).next_over(template(above))
    assert row is not None
    assert row.forbidden
    assert "test patch" in row.after_max[0]


def test_blank_at_10_degrees_where_the_class_stops() -> None:
    for class_id in ("gelcoat", "waterborne-two-part"):
        assert math.isnan(template(class_id).times.columns["pot_life_h"][0])


def test_spray_takes_more_thinner_and_loses_more() -> None:
    gloss = template("two-part-gloss")
    sprayed = gloss.by_method("spray")
    assert (gloss.mix.thinner_max_pct, sprayed.mix.thinner_max_pct) == (10, 33)
    assert sprayed.film.loss_pct > gloss.film.loss_pct


def test_wet_film_of_gloss_is_what_a_comb_reads() -> None:
    # 30-40 µm dry at 45 % and 10 % thinner: the trade's 75-100 µm wet, to the nearest 5 µm.
    wet = wet_film_um(template("two-part-gloss").film, 10)
    assert wet == pytest.approx((75, 100), abs=2.5)
