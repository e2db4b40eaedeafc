"""Whatever a service sends: a forecast, a further question or one line saying what is wrong."""

from __future__ import annotations

import json
from functools import cache
from typing import Any

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from advisor.climate.outdoor import OUTDOOR_COLUMNS, Forecast
from advisor.climate.sources.all_sources import by_id
from advisor.climate.sources.source import BadAnswer, FollowUp
from advisor.climate.sources.units import RANGES
from tests.helpers.forecast_answers import GOOD, NOW_S, OTHERS, PLACE, bad_line, forecast, load

EVERY = (*GOOD, *OTHERS)
each_answer = pytest.mark.parametrize(
    ("source", "kind", "name"), EVERY, ids=[name for _, _, name in EVERY]
)

numbers = st.integers(-(10**30), 10**30) | st.floats(allow_nan=False) | st.integers(-50, 150)
leaves = st.none() | st.booleans() | numbers | st.text(max_size=20)
documents = st.recursive(
    leaves,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(), inner, max_size=4),
)


@cache
def earlier() -> Forecast:
    return forecast(*GOOD[3])


def is_whole(found: Forecast) -> None:
    """What every later step relies on."""
    n = len(found.hourly)
    assert found.hourly.step_s == 3600
    assert found.hourly.start_s % 3600 == 0
    assert found.step_h.shape == (n,)
    assert set(np.unique(found.step_h)) <= {1.0, 3.0, 6.0}
    assert set(found.hourly.columns) <= set(OUTDOOR_COLUMNS)
    for name, column in found.hourly.columns.items():
        assert column.shape == (n,)
        known = column[np.isfinite(column)]
        assert known.size == 0 or RANGES[name][0] <= known.min() <= known.max() <= RANGES[name][1]
    for part in (found.low10, found.high90):
        assert all(column.shape == (n,) for column in part.values())
    assert all(column.shape[1:] == (n,) for column in found.members.values())
    air, dew = found.hourly.columns["air_temp_c"], found.hourly.columns["dew_point_c"]
    assert not (dew > air).any()
    assert all(note.isprintable() for note in found.notes)
    assert found.credit


def reads(source: str, kind: str, body: bytes) -> None:
    try:
        found = by_id(source).parse(kind, body, PLACE, NOW_S, earlier())
    except BadAnswer as error:
        bad_line(error)
    else:
        if isinstance(found, FollowUp):
            assert found.asks
        else:
            is_whole(found)


@each_answer
def test_stored_answers_are_read_whole(source: str, kind: str, name: str) -> None:
    found = by_id(source).parse(kind, json.dumps(load(name)).encode(), PLACE, NOW_S, earlier())
    if isinstance(found, Forecast):
        is_whole(found)


@each_answer
@given(document=documents)
@example(document={"properties": {"timeseries": [{}]}})
@example(document={"hourly": {"time": [0]}, "hourly_units": {"time": "unixtime"}})
def test_any_json_value(source: str, kind: str, name: str, document: Any) -> None:
    reads(source, kind, json.dumps(document).encode())


@each_answer
@given(body=st.binary(max_size=200))
def test_any_bytes(source: str, kind: str, name: str, body: bytes) -> None:
    reads(source, kind, body)


def mutated(data: st.DataObject, node: Any) -> None:
    """Walk down a document at random and replace, delete, swap or double something in it."""
    while True:
        keys = list(node) if isinstance(node, dict) else list(range(len(node)))
        if not keys:
            return
        key = data.draw(st.sampled_from(keys), "key")
        below = node[key]
        deeper = isinstance(below, dict | list) and below
        if not deeper or data.draw(st.integers(0, 9), "stop") == 0:
            break
        node = below
    change(data, node, key)


def change(data: st.DataObject, node: Any, key: Any) -> None:
    how = data.draw(st.sampled_from(["replace", "delete", "nudge", "swap", "double"]), "how")
    if how == "delete":
        del node[key]
    elif how == "nudge" and isinstance(node[key], int | float):
        node[key] = data.draw(st.floats(-200, 200), "to")
    elif how == "swap" and isinstance(node, list):
        other = data.draw(st.integers(0, len(node) - 1), "with")
        node[key], node[other] = node[other], node[key]
    elif how == "double" and isinstance(node, list):
        node.insert(key, node[key])
    else:
        node[key] = data.draw(documents, "new")


@each_answer
@given(data=st.data())
def test_any_mutated_answer(source: str, kind: str, name: str, data: st.DataObject) -> None:
    document = load(name)
    for _ in range(data.draw(st.integers(1, 3), "changes")):
        mutated(data, document)
    reads(source, kind, json.dumps(document).encode())
