"""What every source asks for and refuses, whichever it is."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from advisor.base.errors import InputError, RangeError
from advisor.base.settings import Settings
from advisor.base.store import Store
from advisor.climate.place import Place
from advisor.climate.sources.all_sources import ALL, by_id, suggested
from advisor.climate.sources.source import Ask, FollowUp, checked_server, cut_text
from tests.helpers.forecast_answers import (
    GOOD,
    NOW_S,
    OTHERS,
    PLACE,
    forecast,
    parse,
    raw,
    refused,
)

EVERY = (*GOOD, *OTHERS)


def all_asks(place: Place = PLACE) -> list[Ask]:
    asks = [ask for source in ALL for ask in source.requests(place, NOW_S, "")]
    for kind, name in (("points", "nws_points.json"), ("stations", "nws_stations.json")):
        found = parse("nws", kind, name)
        assert isinstance(found, FollowUp)
        asks += found.asks
    for ask in asks:
        if ask.instead is not None:
            asks.append(ask.instead)
    return asks


def test_https_only_and_accept_told() -> None:
    for ask in all_asks():
        assert ask.url.startswith("https://")
        assert "json" in ask.headers["Accept"] or ask.headers["Accept"] == "*/*"
        assert "User-Agent" not in ask.headers


def test_coordinates_are_cut_to_two_decimals() -> None:
    sent = [text for ask in all_asks() for text in (ask.url, *ask.params.values())]
    assert not any("41.234" in text or "96.543" in text for text in sent)
    assert sum("41.23" in text for text in sent) >= len(ALL)


@pytest.mark.parametrize(
    ("degrees", "decimals", "text"),
    [
        (41.2345, 2, "41.23"),
        (-96.5499, 2, "-96.54"),
        (41.0, 2, "41"),
        (41.20, 2, "41.2"),
        (40.0, 2, "40"),
        (-0.004, 2, "0"),
        (0.0, 2, "0"),
        (1.15, 2, "1.15"),  # 114.99999999999999 hundredths in floats
        (41.23456789, 4, "41.2345"),
        (41.23456789, 9, "41.2345"),
        (1e-7, 4, "0"),
        (100.0, 0, "100"),
    ],
)
def test_cutting(degrees: float, decimals: int, text: str) -> None:
    assert cut_text(degrees, decimals) == text


@given(st.floats(-180, 180), st.integers(-1, 12))
def test_never_more_than_four_decimals_and_never_farther_out(degrees: float, n: int) -> None:
    text = cut_text(degrees, n)
    assert re.fullmatch(r"-?\d{1,3}(\.\d{0,3}[1-9])?", text)
    assert abs(float(text)) <= abs(degrees)
    assert cut_text(float(text), n) == text


def test_altitude_in_whole_metres_where_it_is_known() -> None:
    (ask,) = by_id("metno").requests(Place(41.0, -96.0, 360.6), NOW_S, "")
    assert ask.params["altitude"] == "361"
    (ask,) = by_id("metno").requests(Place(41.0, -96.0), NOW_S, "")
    assert "altitude" not in ask.params


def test_credits_and_terms() -> None:
    for source in ALL:
        assert source.credit.isprintable()
        assert source.terms
    assert [source.id for source in ALL if source.opt_in] == ["openmeteo"]
    assert "public domain" in by_id("nws").credit


def test_an_unknown_source_names_those_there_are() -> None:
    with pytest.raises(RangeError, match="metno, nws, brightsky, openmeteo"):
        by_id("nobody")


@pytest.mark.parametrize(
    ("lat", "lon", "ids"),
    [
        (41.2, -96.5, ["nws", "metno"]),
        (61.2, -149.9, ["nws", "metno"]),
        (21.3, -157.8, ["nws", "metno"]),
        (52.5, 13.4, ["metno", "brightsky"]),
        (51.5, -0.1, ["metno"]),
        (-33.9, 151.2, ["metno"]),
    ],
)
def test_sources_by_place(lat: float, lon: float, ids: list[str]) -> None:
    assert [source.id for source in suggested(Place(lat, lon))] == ids


def test_servers() -> None:
    assert checked_server(" https://example.org/ ") == "https://example.org"
    for found in ("http://example.org", "https://", "https://example.org/?a=1"):
        with pytest.raises(InputError, match="accepted: an address such as https"):
            checked_server(found)


@pytest.mark.parametrize("host", ["localhost:8080", "127.0.0.1", "[::1]:8080"])
def test_an_own_server_on_this_computer_needs_https_too(store: Store, host: str) -> None:
    """Setting, source and client agree: what one takes the others take."""
    with pytest.raises(InputError):
        Settings(store).set("openmeteo_server", f"http://{host}")
    with pytest.raises(InputError):
        checked_server(f"http://{host}")
    Settings(store).set("openmeteo_server", f"https://{host}")
    assert checked_server(f"https://{host}") == f"https://{host}"


# --- answers that are none --------------------------------------------------------------

PAGE = b"<!DOCTYPE html><html><head><title>Sign in</title></head><body>...</body></html>"


@pytest.mark.parametrize(("source", "kind", "name"), EVERY)
@pytest.mark.parametrize(
    ("body", "found"),
    [
        (b"", "nothing"),
        (b"  \r\n", "nothing"),
        (PAGE, "web page"),
        (b"\xef\xbb\xbf" + PAGE, "web page"),
        (b"\x1f\x8b\x08\x00\xff\xfe", "not UTF-8"),
        (b"null", "null"),
        (b"[]", "a list of 0"),
        (b'"ok"', '"ok"'),
        (b"17", "17"),
        (b"NaN", "nan"),
        (b"429 Too Many Requests", "breaks at character"),
        (b"[" * 100_000, "out of all proportion"),
        (b"9" * 10_000, "out of all proportion"),
        (b"{}", "nothing"),
    ],
)
def test_bodies_that_are_no_answer(
    source: str, kind: str, name: str, body: bytes, found: str
) -> None:
    assert found in refused(source, kind, body, forecast(*GOOD[0])).found


@pytest.mark.parametrize(("source", "kind", "name"), EVERY)
@pytest.mark.parametrize("share", [0.01, 0.3, 0.7, 0.999])
def test_an_answer_broken_off(source: str, kind: str, name: str, share: float) -> None:
    whole = raw(name).rstrip()
    assert "breaks" in refused(source, kind, whole[: int(len(whole) * share)]).found
