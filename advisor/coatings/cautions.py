"""One-line cautions for a product, method and stage of work, from `resources/cautions.toml`.

Cautions never block and never clear anyone for exposure; the source stands beside each.
"""

from __future__ import annotations

import functools
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass, fields
from typing import Any, Literal, get_args

from advisor.base.errors import RangeError
from advisor.base.paths import resource
from advisor.coatings.product import Product

Stage = Literal[
    "choose", "mix", "apply", "after", "heater", "ventilation", "sand", "enclosed", "close",
    "hot", "cold", "height",
]  # fmt: skip


@dataclass(frozen=True)
class Caution:
    """One line for the painter and whose knowledge it is."""

    text: str
    source: str


@dataclass(frozen=True)
class _Rule:
    """A caution and when it is shown; an empty tuple asks nothing of that side."""

    text: str
    source: str
    stages: tuple[str, ...]
    hazards: tuple[str, ...] = ()
    methods: tuple[str, ...] = ()
    classes: tuple[str, ...] = ()

    def fits(self, product: Product | None, method: str | None, stage: str) -> bool:
        if stage not in self.stages:
            return False
        if self.methods and method not in self.methods:
            return False
        return not (self.hazards or self.classes) or self._concerns(product)

    def _concerns(self, product: Product | None) -> bool:
        if product is None:
            return False
        if product.product_class in self.classes:
            return True
        # A sheet's exotherm figure counts as the hazard; other hazards are plain switches.
        return any(bool(getattr(product.hazards, name)) for name in self.hazards)


def cautions(product: Product | None, method: str | None, stage: Stage) -> tuple[Caution, ...]:
    """Return the cautions for a stage of work; without a product, those of the work alone.

    `method` is brush, roll or spray; None stands for not chosen yet. Raises RangeError for an
    unknown stage.
    """
    if stage not in get_args(Stage):
        raise RangeError("stage", str(stage), ", ".join(get_args(Stage)))
    return tuple(
        Caution(rule.text, rule.source) for rule in _rules() if rule.fits(product, method, stage)
    )


@functools.cache
def _rules() -> tuple[_Rule, ...]:
    with resource("cautions.toml").open("rb") as handle:
        tables = tomllib.load(handle)["caution"]
    return tuple(_Rule(**dict(_entries(table))) for table in tables)


def _entries(table: dict[str, Any]) -> Iterator[tuple[str, Any]]:
    known = {each.name for each in fields(_Rule)}
    for key, value in table.items():
        if key not in known:
            raise KeyError(f"cautions.toml: {key}")
        yield key, tuple(value) if isinstance(value, list) else value
