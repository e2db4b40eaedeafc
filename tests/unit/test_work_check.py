"""The check by itself: what joins to a verdict, moments, product names, the soft warnings."""

from __future__ import annotations

from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from advisor.base.errors import InputError, RangeError
from advisor.climate.series import Series
from advisor.coatings.product_file import read_product
from advisor.planning.soft import warnings
from advisor.planning.verdict import Judged, Verdict, judge
from advisor.planning.words import Words
from advisor.work.before_start import Preparation
from advisor.work.check import data_reasons, verdict_of
from advisor.work.check_now import check_now, lasting_series
from advisor.work.coat_setup import CoatSetup
from advisor.work.moments import parse_moment, time_zone
from advisor.work.product_choice import choose_previous, choose_product
from advisor.work.views import Reading

DATA = Path(__file__).resolve().parents[1] / "data" / "cli"
WORDS = Words("metric", ZoneInfo("UTC"), 0.0)
NOTHING = Preparation((), ())


def setup_of(name: str, **more: object) -> CoatSetup:
    return CoatSetup(read_product(DATA / f"{name}.toml"), **more)  # type: ignore[arg-type]


@pytest.mark.parametrize("judged", list(Verdict))
def test_missing_data_makes_go_unknown_and_leaves_wait(judged: Verdict) -> None:
    lost = data_reasons(["no surface"])
    expected = Verdict.WAIT if judged is Verdict.WAIT else Verdict.UNKNOWN
    assert verdict_of(judged, NOTHING, lost) is expected
    assert verdict_of(judged, NOTHING, ()) is judged


@given(
    air=st.floats(8, 34), rh=st.floats(20, 99), surface=st.floats(5, 34), drop=st.floats(0, 5),
)  # fmt: skip
def test_a_colder_surface_never_turns_wait_into_go(
    air: float, rh: float, surface: float, drop: float
) -> None:
    """Under the surface's upper limits; the overcoating maximum is not asked."""
    setup = setup_of("epoxy-undercoat", mix_temp_c=20.0)
    if surface > 30:
        return
    warm = check_now(setup, Reading(0.0, air, rh, surface), WORDS, now_s=0.0)
    cold = check_now(setup, Reading(0.0, air, rh, surface - drop), WORDS, now_s=0.0)
    assert cold.verdict >= warm.verdict


def test_moments_of_a_lasting_reading_are_the_tables_own() -> None:
    """20 °C: induction 15 min, tack-free 3 h, tape-dry 28 h from the sheet's row."""
    done = check_now(setup_of("two-part-gloss", apply_h=2.0), Reading(7.0, 20, 50, 20), WORDS,
                     now_s=7.0)  # fmt: skip
    moments = {m.name: m.at_s for m in done.milestones}
    assert moments["first_patch"] == pytest.approx(7 + 900)
    assert moments["tack_free"] == pytest.approx(7 + 900 + 5 * 3600)
    assert done.must_last_until_s == pytest.approx(7 + 900 + 30 * 3600)


def test_below_the_lowest_row_nothing_is_promised() -> None:
    done = check_now(setup_of("two-part-gloss"), Reading(0.0, 9, 50, 9), WORDS, now_s=0.0)
    assert (done.verdict, done.must_last_until_s) == (Verdict.WAIT, None)


def test_stale_readings_are_unknown_not_go() -> None:
    setup, reading = setup_of("two-part-gloss"), Reading(0.0, 20, 50, 20)
    assert check_now(setup, reading, WORDS, now_s=0.0).verdict is Verdict.GO
    stale = check_now(setup, reading, WORDS, now_s=0.0, stale=("old",))
    assert stale.verdict is Verdict.UNKNOWN


def test_impossible_readings_are_refused() -> None:
    for air, rh in ((70.0, 50.0), (20.0, 101.0), (20.0, 0.0)):
        with pytest.raises(RangeError):
            lasting_series(Reading(0.0, air, rh, 15.0), 1.0)


def judged_at(name: str, air: float, dew: float, surface: float) -> Judged:
    n = 12 * 60
    series = Series(0, np.full(n, air), np.full(n, dew), np.full(n, surface))
    return judge(setup_of(name).case(series), series, np.zeros(1, dtype=np.int64))


@pytest.mark.parametrize(
    ("name", "air", "dew", "surface", "method", "found"),
    [
        ("epoxy-resin", 14, 9.2, 14, "brush", ["blush"]),  # 73 %
        ("epoxy-resin", 18.1, 13.0, 18.1, "brush", []),  # warm enough
        ("epoxy-resin", 14, 7.0, 14, "brush", []),  # 63 %
        ("two-part-gloss", 20, 15.5, 20, "spray", ["chills"]),  # 4.5 K
        ("two-part-gloss", 20, 14.9, 20, "spray", []),  # 5.1 K
        ("two-part-gloss", 20, 15.5, 20, "brush", []),
        ("two-part-gloss", 20, 17.7, 21, "brush", ["dull"]),  # 86.5 %
        ("alkyd", 20, 17.7, 21, "brush", []),
    ],
)
def test_soft_warnings(
    name: str, air: float, dew: float, surface: float, method: str, found: list[str]
) -> None:
    told = warnings(judged_at(name, air, dew, surface), 0, method)
    assert len(told) == len(found)
    assert all(word in text for word, text in zip(found, told, strict=True))


def test_a_burner_feeds_blush_on_epoxy_alone() -> None:
    warm = judged_at("epoxy-resin", 22, 8, 22)
    assert ["blush" in text for text in warnings(warm, 0, None, True)] == [True]
    assert warnings(warm, 0, None) == ()
    assert warnings(judged_at("alkyd", 22, 8, 22), 0, None, True) == ()


def test_warnings_tell_the_moment_in_the_readers_units() -> None:
    text = warnings(judged_at("epoxy-resin", 14, 9.2, 14), 0, None,
                    words=Words("us", ZoneInfo("Europe/Oslo"), 0.0))[0]  # fmt: skip
    assert "57.2 °F" in text
    assert "at 01:00" in text


@pytest.mark.parametrize(
    ("text", "zone", "seconds"),
    [
        ("1970-01-02T00:00Z", None, 86400),
        ("1970-01-02T01:00+01:00", None, 86400),
        ("1970-01-02", "UTC", 86400),
        ("2025-03-30T03:30", "Europe/Oslo", 1743298200),  # the first half hour of summer time
    ],
)
def test_moments(text: str, zone: str | None, seconds: int) -> None:
    assert parse_moment(text, time_zone(zone) if zone else None, "--at") == seconds


@pytest.mark.parametrize("name", ["", "../etc", "Oslo", "Europe", "a\0b"])
def test_zones_that_are_none(name: str) -> None:
    with pytest.raises(RangeError):
        time_zone(name)


def test_products_by_id_class_and_file() -> None:
    assert choose_product("alkyd", None).id == "typical-alkyd"
    assert choose_product("typical-alkyd", None).is_template
    assert choose_product(str(DATA / "alkyd.toml"), None).id == "test-alkyd"
    with pytest.raises(InputError, match="nearest"):
        choose_product("alkid", None)


def test_previous_by_file_with_an_at_sign_in_its_path(tmp_path: Path) -> None:
    folder = tmp_path / "crew@shed"
    folder.mkdir()
    sheet = folder / "a.toml"
    sheet.write_bytes((DATA / "alkyd.toml").read_bytes())
    found = choose_previous(f"{sheet}@1970-01-01T01:00Z/1970-01-01T02:00Z", None, None)
    assert (found.product.id, found.start_s, found.end_s) == ("test-alkyd", 3600, 7200)
