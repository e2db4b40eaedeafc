"""Product files: every key read, every fault named with file, key, found and accepted."""

from __future__ import annotations

import json
import math
from dataclasses import fields, replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from advisor.base.errors import FileFormatError
from advisor.base.toml_file import MAX_BYTES
from advisor.coatings.product import (
    CLASSES,
    TIME_COLUMNS,
    Film,
    Hazards,
    Limits,
    Mix,
    NextCoat,
    Prepare,
    Product,
    Source,
    Times,
)
from advisor.coatings.product_file import parse_product, product_to_toml, read_product
from advisor.coatings.schema import product_schema

PRODUCTS = Path(__file__).parents[1] / "data" / "products"

SMALL = """
schema = 1
id = "small"
name = "Small"
class = "epoxy-undercoat"
status = "from data sheet"
[limits]
surface_temp_c = [10, 30]
[times]
temp_c = [10, 20, 30]
tack_free_h = [6, 3, 1.5]
"""


def parse(text: str) -> Product:
    return parse_product(text, "small.toml")


def fault(text: str) -> FileFormatError:
    with pytest.raises(FileFormatError) as caught:
        parse(text)
    error = caught.value
    assert error.file == "small.toml"
    assert "\n" not in str(error)
    return error


def test_every_key_of_a_full_sheet_is_read() -> None:
    product = read_product(PRODUCTS / "full-sheet.toml")
    assert product.name == 'Tide mill gloss, "shed" grade'
    assert product.source == Source("Invented data sheet", "3", "2024-05-01")
    assert product.mix == Mix((88.0, 12.0), "mass", 12.5, 1.25)
    assert product.limits == Limits(
        air_temp_c=(10.0, 32.0),
        surface_temp_c=(11.0, 30.0),
        cure_min_c=8.0,
        rh_pct=(30.0, 80.0),
        rh_floor_until="tack_free",
        margin_k=3.0,
        hold_margin_k=1.5,
        surface_trend="falling",
        margin_given=True,
        hold_given=True,
    )
    assert product.film == Film(48.0, (35.0, 45.0), 15.0)
    assert product.prepare == Prepare(4.0, 24.0, 0.25, 16.0, 3.0)
    assert product.hazards == Hazards(
        isocyanate=True, flammable=True, exotherm_over_kg=2.5, dust=True
    )
    assert set(product.times.columns) == set(TIME_COLUMNS)
    assert product.times.columns["pot_life_h"] == (8.0, 4.0, 2.0)
    assert math.isnan(product.times.columns["scatter_h"][0])
    same, epoxy = product.next_coats
    assert same.max_h[0] == math.inf
    assert same.max_h[1] == 72.0
    assert math.isnan(same.max_h[2])
    assert same.after_max == ("sand 320 and wipe", "tack coat")
    assert epoxy == NextCoat(over="epoxy-undercoat", forbidden=True)


def test_a_method_changes_only_what_it_names() -> None:
    sprayed = read_product(PRODUCTS / "full-sheet.toml").by_method("spray")
    assert sprayed.times.columns["tack_free_h"] == (5.0, 2.5, 1.0)
    assert sprayed.times.columns["pot_life_h"] == (8.0, 4.0, 2.0)
    assert sprayed.limits.margin_k == 5.0
    assert sprayed.limits.rh_pct == (30.0, 70.0)
    assert sprayed.limits.surface_temp_c == (11.0, 30.0)
    assert sprayed.mix.thinner_max_pct == 30.0
    assert sprayed.film.loss_pct == 45.0


def test_limits_not_given_are_the_common_practice_and_marked() -> None:
    limits = parse(SMALL).limits
    assert (limits.margin_k, limits.hold_margin_k) == (3.0, 2.0)
    assert not limits.margin_given
    assert not limits.hold_given


def test_waterborne_holds_its_humidity_floor_to_tack_free_unless_told() -> None:
    wet = SMALL.replace("epoxy-undercoat", "waterborne-two-part")
    assert parse(wet).limits.rh_floor_until == "tack_free"
    told = wet.replace("[limits]", '[limits]\nrh_floor_until = "application"')
    product = parse(told)
    assert product.limits.rh_floor_until == "application"
    assert parse(product_to_toml(product)) == product


@pytest.mark.parametrize(
    ("written", "parts"),
    [
        ('"2:1"', (2.0, 1.0)),
        ("[2, 1]", (2.0, 1.0)),
        ('"88:12"', (88.0, 12.0)),
        ('" 3 : 1 "', (3.0, 1.0)),
        ("[1]", (1.0,)),
        ('"100:1.5"', (100.0, 1.5)),
    ],
)
def test_ratio_spellings(written: str, parts: tuple[float, ...]) -> None:
    assert parse(f"{SMALL}[mix]\nratio = {written}").mix.ratio == parts


@pytest.mark.parametrize(
    "written", ['"2/1"', '"2:"', '"0:1"', '"nan:1"', '"inf:1"', '"-2:1"', "[]", "[0, 1]", "2", '""']
)
def test_ratios_that_are_none(written: str) -> None:
    error = fault(f"{SMALL}[mix]\nratio = {written}")
    assert error.where.startswith("mix.ratio")
    assert "2:1" in error.accepted


@pytest.mark.parametrize(
    ("old", "new", "where", "found", "accepted"),
    [
        ("schema = 1", "schema = 2", "schema", "2", "1, the version"),
        ("schema = 1", "schema = true", "schema", "true", "1, the version"),
        ("schema = 1", "", "schema", "nothing", "1, the version"),
        ('id = "small"', 'id = "same"', "id", '"same"', "not"),
        ('id = "small"', 'id = "a b"', "id", '"a b"', "letters"),
        ('id = "small"', "id = 7", "id", "7", "letters"),
        ('name = "Small"', 'name = " "', "name", '" "', "not empty"),
        ("epoxy-undercoat", "epoxy-undercot", "class", "undercot", 'nearest is "epoxy-undercoat"'),
        ("from data sheet", "data sheet", "status", "data sheet", '"template", "from data sheet"'),
        ("surface_temp_c = [10, 30]", "", "limits.surface_temp_c", "nothing", "[12, 30]"),
        ("surface_temp_c = [10, 30]", "surface_temp_c = [30, 10]", "limits.surface_temp_c",
         "[30, 10]", "lower"),
        ("surface_temp_c = [10, 30]", "surface_temp_c = [10]", "limits.surface_temp_c",
         "a list of 1", "lowest"),
        ("surface_temp_c = [10, 30]", "surface_temp_c = 10", "limits.surface_temp_c", "10",
         "lowest"),
        ("[10, 20, 30]", "[10, 20, 20]", "times.temp_c[2]", "20 after 20", "warmer"),
        ("[10, 20, 30]", "[]", "times.temp_c", "a list of 0", "rows"),
        ("[10, 20, 30]", '[10, "-", 30]', "times.temp_c[1]", '"-" (value 2 of 3)', "°C"),
        ("[10, 20, 30]", "[10, 20, 400]", "times.temp_c[2]", "400", "100"),
        ("[6, 3, 1.5]", "[6, 3]", "times.tack_free_h", "2 values", "3, one for each row"),
        ("[6, 3, 1.5]", "[6, true, 1.5]", "times.tack_free_h[1]", "true (value 2 of 3)", '"-"'),
        ("[6, 3, 1.5]", "[6, -3, 1.5]", "times.tack_free_h[1]", "-3", "0 or more"),
        ("[6, 3, 1.5]", "[6, nan, 1.5]", "times.tack_free_h[1]", "nan", '"-" for a blank'),
        ("[6, 3, 1.5]", "[6, inf, 1.5]", "times.tack_free_h[1]", "inf", "0 or more"),
        ("[6, 3, 1.5]", '[6, "", 1.5]', "times.tack_free_h[1]", '""', '"-"'),
        ("[6, 3, 1.5]", '[6, "unlimited", 1.5]', "times.tack_free_h[1]", "unlimited", '"-"'),
        ("[6, 3, 1.5]", "6", "times.tack_free_h", "6", "a list of hours"),
        ("tack_free_h", "handle_h", "times", "neither", "tack_free_h"),
        ("tack_free_h", "tackfree_h", "times.tackfree_h", "unknown key", '"tack_free_h"'),
        ("[limits]", "[limits]\nmargin_K = 3", "limits.margin_K", "unknown key", '"margin_k"'),
        ("[limits]", "[limits]\nmargin_k = 37.4", "limits.margin_k", "37.4", "difference"),
        ("[limits]", "[limit]", "limit", "unknown key", '"limits"'),
        ("[limits]", "[limits]\nrh_pct = [0, 850]", "limits.rh_pct[1]", "850", "100"),
        ("[limits]", '[limits]\nsurface_trend = "up"', "limits.surface_trend", "up", "rising"),
    ],
)  # fmt: skip
def test_faults_name_the_key_the_find_and_what_is_accepted(
    old: str, new: str, where: str, found: str, accepted: str
) -> None:
    assert SMALL.count(old) == 1
    error = fault(SMALL.replace(old, new))
    assert error.where == where
    assert found in error.found
    assert accepted in error.accepted


@pytest.mark.parametrize(
    ("more", "where"),
    [
        ("[[next]]\nmin_h = [1, 1, 1]", "next[0].over"),
        ('[[next]]\nover = "same"\nmin_h = [1, 1]', "next[0].min_h"),
        ('[[next]]\nover = "same"\nmin_h = [1, "unlimited", 1]', "next[0].min_h[1]"),
        ('[[next]]\nover = "same"\nmax_h = [1, "forever", 1]', "next[0].max_h[1]"),
        ('[[next]]\nover = "same"\n[[next]]\nover = "same"', "next[1].over"),
        ('[[next]]\nover = "same"\nforbidden = 1', "next[0].forbidden"),
        ('[[next]]\nover = "same"\nafter_max = "sand"', "next[0].after_max"),
        ("[next]\nover = 1", "next"),
        ("[method.sprai]\nloss_pct = 3", "method.sprai"),
        ("[method.spray.times]\npot_life_h = [1]", "method.spray.times.pot_life_h"),
        ("[method.spray.times]\ntemp_c = [1]", "method.spray.times.temp_c"),
        ("[film]\nvolume_solids_pct = 0", "film.volume_solids_pct"),
        ("[film]\ndft_um = [40, 30]", "film.dft_um"),
        ("[hazards]\nexotherm_over_kg = true", "hazards.exotherm_over_kg"),
        ("[mix]\ndensity_kg_per_l = " + "9" * 400, "mix.density_kg_per_l"),
        ("[source]\nissued = 3", "source.issued"),
    ],
)
def test_faults_in_the_optional_tables(more: str, where: str) -> None:
    assert fault(SMALL + more).where == where


def test_a_filler_needs_sandable_instead() -> None:
    filler = SMALL.replace("tack_free_h", "sandable_h").replace("epoxy-undercoat", "epoxy-filler")
    product = parse(filler)
    assert product.has("sandable_h")
    assert not product.has("tack_free_h")


def test_files_that_are_none(tmp_path: Path) -> None:
    with pytest.raises(FileFormatError, match="no such file"):
        read_product(tmp_path / "absent.toml")
    with pytest.raises(FileFormatError, match="accepted: a readable product file"):
        read_product(tmp_path)
    with pytest.raises(FileFormatError, match="accepted: a readable product file"):
        read_product(Path("a\0b"))
    latin = tmp_path / "latin.toml"
    latin.write_bytes(SMALL.encode() + "# 20 °C".encode("latin-1"))
    with pytest.raises(FileFormatError, match=r"latin\.toml: line 12: found a byte.*0xb0"):
        read_product(latin)
    large = tmp_path / "large.toml"
    large.write_bytes(b"#" * (MAX_BYTES + 1))
    with pytest.raises(FileFormatError, match="over 1 MB"):
        read_product(large)


def test_windows_line_ends_and_byte_order_mark(tmp_path: Path) -> None:
    file = tmp_path / "notepad.toml"
    file.write_bytes(b"\xef\xbb\xbf" + SMALL.replace("\n", "\r\n").encode())
    assert read_product(file) == parse(SMALL)


@pytest.mark.parametrize("text", ["schema = ", "a = " + "[" * 5000, "schema = 1\nschema = 1"])
def test_what_is_not_toml_says_so_in_one_line(text: str) -> None:
    assert "TOML" in fault(text).found


def test_the_unknown_key_file_names_the_nearest() -> None:
    with pytest.raises(
        FileFormatError, match=r'times\.tack_free_min.*nearest key is "tack_free_h"'
    ):
        read_product(PRODUCTS / "unknown-key.toml")


@pytest.mark.parametrize("name", ["full-sheet", "one-row"])
def test_written_files_read_back_equal(name: str) -> None:
    product = read_product(PRODUCTS / f"{name}.toml")
    assert parse(product_to_toml(product)) == product


def test_a_given_margin_stays_given_when_it_equals_the_default() -> None:
    product = parse(SMALL.replace("[limits]", "[limits]\nmargin_k = 3\nhold_margin_k = 2"))
    back = parse(product_to_toml(product))
    assert back == product
    assert back.limits.margin_given
    assert back.limits.hold_given


cells = st.one_of(st.just(math.nan), st.floats(0, 1e5))
words = st.text(
    st.characters(codec="utf-8", exclude_categories=("Cs", "Cc")), min_size=1, max_size=30
).filter(lambda text: text.strip())


@given(
    name=words,
    title=words,
    row=st.tuples(cells, cells, cells),
    latest=st.tuples(*[st.one_of(cells, st.just(math.inf))] * 3),
    ratio=st.lists(st.floats(1e-3, 1e4), min_size=1, max_size=4),
    margin=st.floats(0, 30),
)
def test_any_product_reads_back_equal(
    name: str,
    title: str,
    row: tuple[float, ...],
    latest: tuple[float, ...],
    ratio: list[float],
    margin: float,
) -> None:
    product = replace(
        parse(SMALL),
        name=name,
        source=Source(title=title),
        mix=Mix(ratio=tuple(ratio)),
        limits=Limits(surface_temp_c=(10.0, 30.0), margin_k=margin, margin_given=True),
        times=Times((10.0, 20.0, 30.0), {"tack_free_h": row}),
        next_coats=(NextCoat("same", row, latest, (title,)),),
    )
    # NaN is compared by its writing, since a drawn NaN is not the reader's own.
    assert product_to_toml(parse(product_to_toml(product))) == product_to_toml(product)


def test_the_description_and_the_types_have_the_same_keys() -> None:
    schema = product_schema()
    tables = schema["properties"]
    times = set(tables["times"]["properties"])
    assert times == {"temp_c", *TIME_COLUMNS}
    assert set(schema["$defs"]["method"]["properties"]["times"]["properties"]) == set(TIME_COLUMNS)
    assert tables["class"]["enum"] == list(CLASSES)
    for name, kind in (
        ("source", Source), ("mix", Mix), ("film", Film), ("prepare", Prepare), ("hazards", Hazards)
    ):  # fmt: skip
        assert set(tables[name]["properties"]) == {each.name for each in fields(kind)}
    limits = {each.name for each in fields(Limits)} - {"margin_given", "hold_given"}
    assert set(schema["$defs"]["limits"]["properties"]) == limits
    coat = {each.name for each in fields(NextCoat)}
    assert set(tables["next"]["items"]["properties"]) == coat
    assert json.dumps(schema)  # plain JSON through and through
