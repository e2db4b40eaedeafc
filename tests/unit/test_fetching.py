"""Asking for a forecast: which services are asked for a place, and what is said about it."""

from __future__ import annotations

import json
import threading

import pytest

from advisor.base.settings import Settings
from advisor.base.store import Store
from advisor.climate.place import Place
from advisor.climate.sources import archive
from advisor.climate.sources.source import Ask
from advisor.climate.sources.wire import Answer, NoAnswer
from advisor.work import fetching
from tests.helpers.forecast_answers import NOW_S, raw

#: Inside the box of the US service, on the other side of the border.
TORONTO = Place(43.65, -79.38, 76.0)
NASSAU = Place(25.04, -77.35)
HOUR_S = 3600
JSON = {"content-type": "application/json"}
GOOD = Answer(200, JSON, raw("metno_complete_global.json"))
NOT_HERE = Answer(404, JSON, raw("nws_error_404_invalid_point.json"))


class Asked:
    """A session that answers by the service's address."""

    def __init__(self, **answers: Answer | NoAnswer) -> None:
        self.stop = threading.Event()
        self.answers = answers
        self.hosts: list[str] = []

    def get(self, ask: Ask, contact: str = "", *, fresh: bool = False) -> Answer | NoAnswer:
        host = ask.url.split("/")[2]
        self.hosts.append(host)
        names = {"api.weather.gov": "nws", "api.met.no": "metno", "api.brightsky.dev": "dwd"}
        return self.answers[names[host]]

    def forget(self, ask: Ask) -> None:
        return

    def tidy(self) -> None:
        return

    def hold(self, source_id: str, until_s: int) -> None:
        raise AssertionError("the database was not busy")

    def held_until(self, source_id: str) -> int:
        return 0


@pytest.fixture
def settings(store: Store) -> Settings:
    found = Settings(store)
    found.set("fetch_forecasts", True)
    return found


@pytest.mark.parametrize("place", [TORONTO, NASSAU])
def test_beyond_the_border_the_next_one_is_asked_at_once(
    store: Store, settings: Settings, place: Place
) -> None:
    session = Asked(nws=NOT_HERE, metno=GOOD)
    line = fetching.fetch(store, settings, session, place, NOW_S)
    assert session.hosts == ["api.weather.gov", "api.met.no"]
    first, second = line.split(". MET Norway: ")
    assert first.startswith("US National Weather Service: answered 404 (not found)")
    assert "stays" not in first  # there was none before
    assert second.startswith("a new forecast")
    assert settings.text("forecast_source") == "metno"
    assert archive.latest(store, "metno", place) is not None


def test_what_is_outside_is_not_asked_again_but_the_next_one_is(
    store: Store, settings: Settings
) -> None:
    session = Asked(nws=NOT_HERE, metno=NoAnswer("no connection"))
    line = fetching.fetch(store, settings, session, TORONTO, NOW_S)
    assert "MET Norway: no connection" in line
    assert settings.text("forecast_source") == ""
    session.answers["metno"] = GOOD
    line = fetching.fetch(store, settings, session, TORONTO, NOW_S + HOUR_S)
    assert session.hosts == ["api.weather.gov", "api.met.no", "api.met.no"]
    assert "answered 404" in line
    assert "MET Norway: a new forecast" in line


def test_a_chosen_source_is_asked_alone(store: Store, settings: Settings) -> None:
    settings.set("forecast_source", "nws")
    session = Asked(nws=NOT_HERE, metno=GOOD)
    line = fetching.fetch(store, settings, session, TORONTO, NOW_S)
    assert session.hosts == ["api.weather.gov"]
    assert "MET Norway" not in line


@pytest.mark.parametrize("answer", [NoAnswer("no connection"), Answer(403, {}, b"")])
def test_a_source_in_trouble_is_waited_for(
    store: Store, settings: Settings, answer: Answer | NoAnswer
) -> None:
    """Trouble passes; the place stays where it is."""
    session = Asked(nws=answer, metno=GOOD)
    fetching.fetch(store, settings, session, TORONTO, NOW_S)
    fetching.fetch(store, settings, session, TORONTO, NOW_S + 1)
    assert session.hosts == ["api.weather.gov"]
    assert settings.text("forecast_source") == ""


def test_a_good_forecast_before_is_said_to_stay(store: Store, settings: Settings) -> None:
    session = Asked(metno=GOOD)
    place = Place(51.5, -0.1)
    assert fetching.fetch(store, settings, session, place, NOW_S).startswith("MET Norway: a new")
    session.answers["metno"] = Answer(200, JSON, json.dumps({"title": "closed"}).encode())
    line = fetching.fetch(store, settings, session, place, NOW_S + 6 * HOUR_S)
    assert line.startswith("MET Norway: title: found")
    assert "; the last good forecast stays" in line
