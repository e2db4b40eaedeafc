"""Each finding of the lint, provoked by one change to a clean sheet."""

from __future__ import annotations

from pathlib import Path

import pytest

from advisor.coatings.lint import Finding, lint
from advisor.coatings.product_file import parse_product, read_product

PRODUCTS = Path(__file__).parents[1] / "data" / "products"

CLEAN = """
schema = 1
id = "clean"
name = "Clean"
class = "two-part-gloss"
status = "from data sheet"
[mix]
ratio = "2:1"
[limits]
air_temp_c = [10, 30]
surface_temp_c = [10, 30]
rh_pct = [30, 75]
margin_k = 3
hold_margin_k = 2
[film]
volume_solids_pct = 45
dft_um = [30, 40]
[times]
temp_c = [10, 20, 30]
induction_h = [0.5, 0.25, 0.25]
pot_life_h = [8, 4, 2]
open_time_h = [0.5, 0.4, 0.3]
tack_free_h = [6, 3, 2]
tape_dry_h = [48, 28, 16]
dew_safe_h = [50, 30, 18]
[[next]]
over = "same"
min_h = [30, 16, 10]
max_h = [72, 48, 24]
after_max = ["sand 320"]
[method.spray.times]
tack_free_h = [5, 2.5, 1.5]
[hazards]
isocyanate = true
"""


def findings(old: str = "", new: str = "") -> list[Finding]:
    assert old == "" or CLEAN.count(old) == 1
    return lint(parse_product(CLEAN.replace(old, new) if old else CLEAN, "clean.toml"))


def test_a_clean_sheet_has_no_findings() -> None:
    assert findings() == []


@pytest.mark.parametrize(
    ("old", "new", "key", "severity", "words"),
    [
        ("hold_margin_k = 2", "hold_margin_k = 4", "limits.hold_margin_k", "error", "4 K is over"),
        ("margin_k = 3\nhold_margin_k = 2", "margin_k = 1", "limits.hold_margin_k", "error",
         "default"),
        ("[50, 30, 18]", "[50, 2, 1]", "times.dew_safe_h", "error", "before tack_free_h"),
        ("[48, 28, 16]", "[48, 2, 1]", "times.tape_dry_h", "error", "before tack_free_h"),
        ("[8, 4, 2]", "[8, 4, 0.1]", "times.pot_life_h", "error", "before induction_h"),
        ("[8, 4, 2]", "[4, 8, 2]", "times.pot_life_h", "error", "rises from 4 h at 10"),
        ("[8, 4, 2]", '[4, "-", 8]', "times.pot_life_h", "error", "rises from 4 h at 10"),
        ("[8, 4, 2]", '[8, "-", 2]', "times.pot_life_h", "ask", "blank at 20 °C: ask the maker"),
        ("[30, 16, 10]", "[80, 16, 10]", "next[0].min_h", "error", "over max_h"),
        ("[72, 48, 24]", "[72, 48, 60]", "next[0].max_h", "error", "rises"),
        ("max_h = [72, 48, 24]\n", "", "next[0].max_h", "ask", "blank at 10, 20, 30 °C"),
        ('after_max = ["sand 320"]\n', "", "next[0].after_max", "ask", "ask the maker"),
        ('over = "same"', 'over = "antifoulin"', "next[0].over", "note", '"antifouling"'),
        ('over = "same"', 'over = "water"', "next", "ask", "further coat"),
        ('over = "same"', 'over = "same"\nforbidden = true', "next[0]", "warning", "has hours"),
        ("[5, 2.5, 1.5]", "[5, 2.5, 4]", "method.spray.times.tack_free_h", "error", "rises"),
        ("[5, 2.5, 1.5]", "[60, 2.5, 1.5]", "method.spray.times.tape_dry_h", "error", "before"),
        ("surface_temp_c = [10, 30]", "surface_temp_c = [5, 30]", "limits.surface_temp_c",
         "warning", "below the lowest row"),
        ("surface_temp_c = [10, 30]", "surface_temp_c = [10, 40]", "limits.surface_temp_c",
         "warning", "above the top row"),
        ("rh_pct = [30, 75]\n", "", "limits.rh_pct", "ask", "ask the maker"),
        ("volume_solids_pct = 45\n", "", "film.volume_solids_pct", "ask", "ask the maker"),
        ('ratio = "2:1"\n', "", "mix.ratio", "ask", "no ratio"),
        ("isocyanate = true", "dust = true", "hazards.isocyanate", "warning", "hazard sheet"),
        ('"from data sheet"', '"template"', "status", "note", "enter your data sheet's"),
        ('"two-part-gloss"', '"alkyd"', "mix.ratio", "warning", "check the class"),
    ],
)  # fmt: skip
def test_one_change_one_finding(old: str, new: str, key: str, severity: str, words: str) -> None:
    matching = [each for each in findings(old, new) if each.key == key]
    assert [each.severity for each in matching][:1] == [severity]
    assert words in matching[0].message


def test_two_part_gloss_that_never_says_when_it_takes_dew() -> None:
    text = CLEAN.replace("tape_dry_h = [48, 28, 16]\ndew_safe_h = [50, 30, 18]\n", "")
    (finding,) = lint(parse_product(text, "clean.toml"))
    assert (finding.key, finding.severity) == ("times.tape_dry_h", "warning")
    # One of the two is enough.
    assert findings("tape_dry_h = [48, 28, 16]\n") == []


def test_one_row_is_stretched_not_off_the_table() -> None:
    found = lint(read_product(PRODUCTS / "one-row.toml"))
    assert [each.key for each in found if each.severity in {"error", "warning"}] == []
    assert any(each.key == "times.temp_c" and each.severity == "note" for each in found)


def test_always_sand_is_no_contradiction() -> None:
    assert findings("[72, 48, 24]", "[0, 0, 0]") == []


def test_errors_come_first() -> None:
    found = findings("[8, 4, 2]", '[4, 8, "-"]')
    assert [each.severity for each in found] == ["error", "ask"]


def test_blanks_outside_the_limits_are_nobody_s_question() -> None:
    text = CLEAN.replace("surface_temp_c = [10, 30]", "surface_temp_c = [15, 30]")
    assert lint(parse_product(text.replace("[8, 4, 2]", '["-", 4, 2]'), "clean.toml")) == []
