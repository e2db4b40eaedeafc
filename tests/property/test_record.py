"""The record's two canonical writers agree, and no bytes at all upset the verifier."""

from __future__ import annotations

import io
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from advisor.base.errors import InputError
from advisor.base.store import Store
from advisor.record import canonical, chain, exact_line
from advisor.record.canonical import Json
from advisor.record.entry import Draft
from advisor.record.proof import words
from advisor.record.verify_record import Checker

WHOLE = st.integers(-(2**53) + 1, 2**53 - 1)
VALUES = st.recursive(
    st.none() | st.booleans() | WHOLE | st.text(),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(), inner, max_size=4),
    max_leaves=12,
)
OBJECTS = st.dictionaries(st.text(), VALUES, max_size=5)


@given(OBJECTS)
def test_the_verifier_writes_as_the_store_does(value: dict[str, Json]) -> None:
    """One by the package rfc8785, the other by hand with the standard library alone."""
    line = canonical.canonical(value)
    assert exact_line.canonical(value) == line
    assert exact_line.parse(line) == value


@given(OBJECTS, st.data())
def test_any_other_bytes_are_another_value_or_broken(
    value: dict[str, Json], data: st.DataObject
) -> None:
    line = canonical.canonical(value)
    at = data.draw(st.integers(0, len(line) - 1))
    byte = data.draw(st.integers(0, 255).filter(lambda b: b != line[at]))
    other = line[:at] + bytes([byte]) + line[at + 1 :]
    try:
        assert exact_line.parse(other) != value
    except exact_line.BrokenError as error:
        exact_line.field_at(other, error.offset or 0)


@given(st.binary(max_size=400) | st.lists(st.sampled_from([
    b'{"', b'"', b":", b",", b"}", b"[", b"]", b"\n", b"end", b"entries", b"head", b"data", b"\\u",
    b"d800", b"\\", b"1", b"e5", b"-0", b"null", b"0" * 64, b"\xff", b"\xe2\x82", b"number",
    b"previous", b"known", b'{"end":', b"true", b" ", b"\x00",
]), max_size=60).map(b"".join))  # fmt: skip
def test_no_bytes_upset_the_verifier(body: bytes) -> None:
    checker = Checker("ab" * 32)
    for number, raw in enumerate(io.BytesIO(body), start=1):
        checker.take(number, raw)
    checker.finish()
    assert not checker.result.intact
    assert "\n".join(words(checker.result)).replace("\n", "").isprintable()


@pytest.mark.parametrize("text", ["\ud800", "a\udcffb", "\udfff\ud800"])
def test_half_a_character_is_refused_and_nothing_is_kept(store: Store, text: str) -> None:
    """A file name that is not UTF-8 comes as such halves; JSON has no form for them."""
    draft = Draft("observation", "j", 0, 0, "UTC", "A", {"what": text})
    for bad in (draft, replace(draft, data={}, by=text)):
        with pytest.raises(InputError):
            chain.add(store, bad, "9.9")
    assert chain.head_of(store, "j").entries == 0


def test_figures_of_other_scripts_are_no_numbers(store: Store) -> None:
    """They pass for digits in Python; the verifier, and any other reader, knows only 0 to 9."""
    value = {"value": "١٨", "unit": "°C", "source": "typed"}
    with pytest.raises(InputError, match="a number such as"):
        chain.add(store, Draft("reading", "j", 0, 0, "UTC", "A", {"air_temp": value}), "9.9")
