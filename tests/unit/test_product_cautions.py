"""Cautions: shown at the right moment for the right hazard, one line, never a clearance."""

from __future__ import annotations

import re
import tomllib
from dataclasses import fields
from typing import get_args

import pytest

from advisor.base.errors import RangeError
from advisor.base.paths import resource
from advisor.coatings.cautions import Stage, cautions
from advisor.coatings.product import CLASSES, Hazards
from advisor.coatings.shelf import library, templates_dir

SHELF = library(templates_dir())
TABLES = tomllib.loads(resource("cautions.toml").read_text(encoding="utf-8"))["caution"]


def texts(class_id: str | None, method: str | None, stage: Stage) -> str:
    product = None if class_id is None else SHELF[f"typical-{class_id}"]
    return "\n".join(each.text for each in cautions(product, method, stage))


def test_every_line_is_one_line_with_a_source_and_never_says_safe() -> None:
    for table in TABLES:
        assert "\n" not in table["text"]
        assert len(table["text"]) <= 160
        assert table["source"]
        assert not re.search("safe", table["text"] + table["source"], re.IGNORECASE)


def test_every_condition_names_something_that_exists() -> None:
    hazards = {each.name for each in fields(Hazards)}
    for table in TABLES:
        assert set(table["stages"]) <= set(get_args(Stage))
        assert set(table.get("hazards", ())) <= hazards
        assert set(table.get("classes", ())) <= set(CLASSES)
        assert set(table.get("methods", ())) <= {"brush", "roll", "spray"}


def test_every_stage_has_a_caution_somewhere() -> None:
    assert {stage for table in TABLES for stage in table["stages"]} == set(get_args(Stage))


@pytest.mark.parametrize("class_id", ["two-part-gloss", "two-part-clear", "waterborne-two-part"])
def test_isocyanate_when_choosing_and_when_spraying(class_id: str) -> None:
    assert "sensitised" in texts(class_id, None, "choose")
    assert "breathing apparatus" in texts(class_id, "spray", "apply")
    assert "breathing apparatus" not in texts(class_id, "roll", "apply")
    assert "gloves" in texts(class_id, "roll", "apply")


def test_one_part_paint_has_no_isocyanate_line() -> None:
    for stage in get_args(Stage):
        for method in ("brush", "roll", "spray", None):
            assert "socyanate" not in texts("alkyd", method, stage)


def test_peroxide_and_exotherm_when_mixing() -> None:
    assert "accelerator" in texts("gelcoat", None, "mix")
    assert "accelerator" not in texts("epoxy-resin", None, "mix")
    assert "heats itself" in texts("epoxy-resin", None, "mix")
    assert "heats itself" not in texts("two-part-gloss", None, "mix")


@pytest.mark.parametrize(
    ("stage", "word"),
    [("heater", "flame"), ("sand", "lead"), ("close", "Rags"), ("enclosed", "attendant"),
     ("hot", "30 °C"), ("cold", "5 °C"), ("height", "Ladders")],
)  # fmt: skip
def test_dangers_of_the_work_itself_need_no_product(stage: Stage, word: str) -> None:
    assert word in texts(None, None, stage)


def test_waterborne_says_it_is_not_free_of_it() -> None:
    assert "not isocyanate-free" in texts("waterborne-two-part", None, "choose")
    assert "not isocyanate-free" not in texts("two-part-gloss", None, "choose")


def test_an_unknown_stage_is_refused() -> None:
    with pytest.raises(RangeError, match="stage"):
        cautions(None, None, "lunch")  # type: ignore[arg-type]
