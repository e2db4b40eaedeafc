"""The surface of an area: indoors, in the open, in the sun, and pulled to what was measured."""

from __future__ import annotations

from datetime import UTC, datetime

import numpy as np
import pytest

from advisor.base.errors import RangeError
from advisor.climate.area_surface import (
    INDOOR_H_W_M2_K,
    MATERIALS,
    indoor_surface_c,
    outdoor_surface_c,
    pull_to_measured,
    slab_of,
    sunlit_patch,
    with_sun,
)
from advisor.climate.outdoor import Outdoor
from advisor.climate.place import Place
from advisor.climate.skin import USUAL_THICKNESS_MM, Skin
from advisor.physics.outside_surface import balance, wind_coefficient
from advisor.physics.sky import sky_band_c
from advisor.physics.surfaces import first_order_lag

SHORE = Place(54.0, -1.0)
MIDSUMMER_S = int(datetime(2026, 6, 21, tzinfo=UTC).timestamp())
DECK = Skin("steel", outdoors=True, tilt_deg=0.0)
SIDE = Skin("steel", outdoors=True)


def weather(hours: float = 48.0, step_s: int = 900, **changed: float) -> Outdoor:
    """A damp, clear, almost still night and day at 12 °C unless told otherwise."""
    steps = round(hours * 3600 / step_s)
    values = {"air_temp_c": 12.0, "dew_point_c": 9.0, "wind_m_s": 1.0, "cloud_pct": 0.0, **changed}
    return Outdoor(MIDSUMMER_S, step_s, {name: np.full(steps, x) for name, x in values.items()})


def dark(outdoor: Outdoor) -> np.ndarray:
    """True where the sun is well down: 54 N in June, 22:00 to 02:00."""
    hour = outdoor.time_s % 86400 / 3600.0
    return (hour > 22.0) | (hour < 2.0)


# --- indoors --------------------------------------------------------------------------


def test_every_substrate_has_a_material_and_a_thickness() -> None:
    assert set(MATERIALS) == set(USUAL_THICKNESS_MM)
    for made in MATERIALS.values():
        assert "EN ISO 10456" in made.source or "from memory" in made.source


def test_thin_metal_indoors_is_one_lump() -> None:
    # 5 mm plate with air on both sides: 7850·460·0.0025/7.7 = 1172 s.
    skin = Skin("steel")
    assert slab_of(skin).time_constant_h(INDOOR_H_W_M2_K) * 3600.0 == pytest.approx(1172.4, abs=0.1)
    air = np.random.default_rng(0).normal(10.0, 2.0, 100)
    expected = first_order_lag(air, 0.25, 1172.402597 / 3600.0)
    assert indoor_surface_c(skin, air, 0.25) == pytest.approx(expected, abs=1e-6)


def test_heavy_pieces_are_slower() -> None:
    warmed = np.concatenate([np.full(4, 5.0), np.full(20, 15.0)])  # a door opened at 01:00
    after_an_hour = {
        name: float(indoor_surface_c(Skin(name), warmed, 0.25)[7]) for name in MATERIALS
    }
    assert after_an_hour["aluminium"] > after_an_hour["steel"] > after_an_hour["concrete"]
    assert after_an_hour["concrete"] < 10.0
    thick = indoor_surface_c(Skin("steel", thickness_mm=40.0), warmed, 0.25)[7]
    assert thick < after_an_hour["steel"] - 3.0


def test_start_is_where_it_was_left() -> None:
    found = indoor_surface_c(Skin("concrete"), np.full(10, 15.0), 0.25, start_c=8.0)
    assert found[0] == pytest.approx(8.0, abs=0.2)  # the fastest modes are already with the air
    many = indoor_surface_c(Skin("steel"), np.full((3, 10), 15.0), 0.25, start_c=[8.0, 15.0, 20.0])
    assert many[:, 0] == pytest.approx([8.0, 15.0, 20.0])
    assert np.all(np.diff(many[0]) > 0.0)
    assert np.all(np.diff(many[2]) < 0.0)


@pytest.mark.parametrize(
    ("skin", "text"),
    [
        (Skin("paper"), "substrate: found 'paper'; accepted: timber, plywood, steel"),
        (Skin("steel", thickness_mm=0.0), "thickness_mm: found 0; accepted: 0.1 to 2000"),
        (Skin("steel", thickness_mm=float("nan")), "thickness_mm: found nan"),
    ],
)
def test_refused_skins(skin: Skin, text: str) -> None:
    with pytest.raises(RangeError, match=text):
        indoor_surface_c(skin, [1.0, 2.0], 0.25)


# --- the open -------------------------------------------------------------------------


def test_clear_night_deck_falls_by_the_published_band() -> None:
    # An insulated plate on a clear damp night: 3 to 11 K below air, least in wind (computed
    # rows; roofing practice says up to 5 K for metal in moving air).
    below = []
    for wind in (0.0, 2.0, 5.0):
        outdoor = weather(wind_m_s=wind)
        cold, _ = outdoor_surface_c(DECK, outdoor, SHORE)
        below.append(12.0 - cold[dark(outdoor)].min())
    assert below == sorted(below, reverse=True)
    assert all(3.0 <= fall <= 11.0 for fall in below)
    assert below[1] <= 6.0


def test_cold_takes_the_colder_sky_and_hot_the_warmer() -> None:
    # Steady dark for days (a pole in winter): the steel has settled, 1e-6 K from the balance.
    outdoor = weather()
    winter = Outdoor(int(datetime(2026, 12, 21, tzinfo=UTC).timestamp()), 900, outdoor.columns)
    cold, hot = outdoor_surface_c(DECK, winter, Place(80.0, 0.0))
    colder, warmer = sky_band_c(12.0, 9.0, 0.0)
    assert float(warmer) - float(colder) > 2.0
    for found, sky_c in ((cold, colder), (hot, warmer)):
        settled, _ = balance(12.0, sky_c, wind_coefficient(0.6))
        assert found[-1] == pytest.approx(float(settled), abs=1e-6)


def test_cloud_takes_most_of_the_fall_and_a_side_falls_less_than_a_deck() -> None:
    clear, cloudy = weather(), weather(cloud_pct=100.0)
    night = dark(clear)
    deck = [12.0 - outdoor_surface_c(DECK, o, SHORE)[0][night].min() for o in (clear, cloudy)]
    side = 12.0 - outdoor_surface_c(SIDE, clear, SHORE)[0][night].min()
    assert deck[1] < 0.6 * deck[0]
    assert 0.5 < side < 0.6 * deck[0]


def test_dark_is_hot_and_only_the_sunny_side() -> None:
    outdoor = weather(wind_m_s=2.0)
    noon = int(12.25 * 4)
    hot = {
        (name, heading): float(
            outdoor_surface_c(
                Skin("steel", outdoors=True, absorptance=share, heading_deg=heading), outdoor, SHORE
            )[1][noon]
        )
        for name, share in (("white", 0.25), ("black", 0.95))
        for heading in (0.0, 180.0)
    }
    assert hot["black", 180.0] > hot["white", 180.0] + 12.0
    assert hot["black", 180.0] > hot["black", 0.0] + 12.0
    assert hot["white", 180.0] > 12.0


def test_no_heading_is_the_hottest_of_four_sides() -> None:
    outdoor = weather()
    unsaid = outdoor_surface_c(SIDE, outdoor, SHORE)[1]
    sides = [
        outdoor_surface_c(Skin("steel", outdoors=True, heading_deg=h), outdoor, SHORE)[1]
        for h in (0.0, 90.0, 180.0, 270.0)
    ]
    assert unsaid == pytest.approx(np.max(sides, axis=0), abs=1e-12)


def test_cold_is_never_above_hot() -> None:
    rng = np.random.default_rng(4)
    for skin in (DECK, SIDE, Skin("concrete", outdoors=True, tilt_deg=30.0, heading_deg=200.0)):
        outdoor = weather()
        columns = dict(outdoor.columns)
        columns["cloud_pct"] = rng.uniform(0.0, 100.0, (5, len(outdoor)))
        columns["wind_m_s"] = rng.uniform(0.0, 8.0, len(outdoor))
        cold, hot = outdoor_surface_c(skin, Outdoor(MIDSUMMER_S, 900, columns), SHORE)
        assert cold.shape == hot.shape == (5, len(outdoor))
        assert np.all(cold <= hot)
    # Turned away from the sun, under a sky the models agree on, the shade is the lighter spot.
    away = Skin("steel", outdoors=True, tilt_deg=60.0, heading_deg=0.0)
    winter_s = int(datetime(2026, 12, 21, tzinfo=UTC).timestamp())
    damp = weather(air_temp_c=25.0, dew_point_c=18.5)
    cold, hot = outdoor_surface_c(away, Outdoor(winter_s, 900, damp.columns), Place(40.0, 0.0))
    assert np.all(cold <= hot)


def test_scenarios_are_the_single_courses() -> None:
    rng = np.random.default_rng(6)
    single = weather()
    shape = 4, len(single)
    columns = {
        "air_temp_c": 12.0 + rng.normal(0.0, 1.0, shape),
        "dew_point_c": rng.uniform(2.0, 9.0, shape),
        "wind_m_s": rng.uniform(0.0, 6.0, shape),
        "cloud_pct": rng.uniform(0.0, 100.0, shape),
    }
    for substrate in ("steel", "timber"):
        skin = Skin(substrate, outdoors=True, heading_deg=135.0)
        together = outdoor_surface_c(skin, Outdoor(MIDSUMMER_S, 900, columns), SHORE)
        alone = {name: values[2] for name, values in columns.items()}
        apart = outdoor_surface_c(skin, Outdoor(MIDSUMMER_S, 900, alone), SHORE)
        for many, one in zip(together, apart, strict=True):
            # A board's sub-steps follow the strongest wind of all courses: 0.05 K.
            assert many[2] == pytest.approx(one, abs=0.05)


def test_what_is_unknown_stays_unknown() -> None:
    for name in ("air_temp_c", "dew_point_c", "wind_m_s", "cloud_pct"):
        columns = dict(weather().columns)
        columns[name] = columns[name].copy()
        columns[name][40:44] = np.nan
        cold, hot = outdoor_surface_c(DECK, Outdoor(MIDSUMMER_S, 900, columns), SHORE)
        assert np.isnan(cold[40:44]).all()
        assert np.isnan(hot[40:44]).all()
        assert np.isnan(cold[44:46]).all()  # what it was in the hole still counts
        assert np.isfinite(cold[56:]).all()  # 5 mm of steel have forgotten it within three hours
    no_wind = {k: v for k, v in weather().columns.items() if k != "wind_m_s"}
    cold, _ = outdoor_surface_c(DECK, Outdoor(MIDSUMMER_S, 900, no_wind), SHORE)
    assert np.isnan(cold).all()


def test_the_step_of_the_forecast_hardly_matters() -> None:
    # Hourly and quarter-hourly descriptions of one clear day: within 2.5 K at the whole hours
    # in the steep hour of sunrise on the side, 0.5 K on average.
    hourly = outdoor_surface_c(DECK, weather(step_s=3600), SHORE)[1]
    quarter = outdoor_surface_c(DECK, weather(step_s=900), SHORE)[1][::4]
    assert hourly[2:] == pytest.approx(quarter[2:], abs=2.5)
    assert np.abs(hourly - quarter)[2:].mean() < 0.5


def test_bad_absorptance_is_refused() -> None:
    with pytest.raises(RangeError, match="absorptance: found 60"):
        outdoor_surface_c(Skin("steel", outdoors=True, absorptance=60.0), weather(), SHORE)


# --- the sun --------------------------------------------------------------------------


def test_sun_from_cloud() -> None:
    clear, cloudy = (with_sun(weather(cloud_pct=c), SHORE) for c in (0.0, 100.0))
    assert clear.derived == {"sun_w_m2"}
    sunny, dull = clear.column("sun_w_m2"), cloudy.column("sun_w_m2")
    assert dull == pytest.approx(0.25 * sunny)  # Kasten & Czeplak 1980: a quarter is left
    assert 800.0 < sunny.max() < 950.0
    assert np.all(sunny[dark(clear)] == 0.0)


def test_what_the_source_says_of_the_sun_is_kept() -> None:
    outdoor = weather(sun_w_m2=123.0)
    assert with_sun(outdoor, SHORE) is outdoor
    some = outdoor.column("sun_w_m2").copy()
    some[10:] = np.nan
    filled = with_sun(Outdoor(MIDSUMMER_S, 900, {**outdoor.columns, "sun_w_m2": some}), SHORE)
    assert np.all(filled.column("sun_w_m2")[:10] == 123.0)
    assert np.isfinite(filled.column("sun_w_m2")).all()


def test_unknown_cloud_leaves_the_day_unknown_and_the_night_dark() -> None:
    outdoor = weather(cloud_pct=np.nan)
    found = with_sun(outdoor, SHORE).column("sun_w_m2")
    assert np.all(found[dark(outdoor)] == 0.0)
    assert np.isnan(found[48])


def test_sunlit_patch() -> None:
    east = Skin("steel", outdoors=True, heading_deg=90.0)
    outdoor = weather()
    hour = outdoor.time_s % 86400 / 3600.0
    lit = sunlit_patch(east, outdoor, SHORE)
    assert lit[(hour > 6.0) & (hour < 11.0)].all()
    assert not lit[(hour > 13.0) | (hour < 3.0)].any()
    assert not sunlit_patch(east, weather(cloud_pct=100.0), SHORE).any()
    unsaid = sunlit_patch(SIDE, outdoor, SHORE)
    assert unsaid[(hour > 6.0) & (hour < 18.0)].all()
    # Where sun and cloud are unknown, as on a clear day: the careful side.
    assert sunlit_patch(east, weather(cloud_pct=np.nan), SHORE)[(hour > 6.0) & (hour < 11.0)].all()
    assert not sunlit_patch(Skin("steel"), outdoor, SHORE).any()


# --- measured spots -------------------------------------------------------------------

TIMES_S = MIDSUMMER_S + 900 * np.arange(193)


def test_a_reading_pulls_and_the_pull_halves() -> None:
    model = np.full(193, 12.0)
    pulled = pull_to_measured(model, TIMES_S, [TIMES_S[40]], [9.0], half_h=6.0)
    assert pulled[40] == pytest.approx(9.0)
    assert pulled[40 + 24] == pytest.approx(10.5)
    assert pulled[40 + 48] == pytest.approx(11.25)
    assert pulled[40 - 24] == pytest.approx(10.5)
    assert np.all(np.diff(pulled[40:]) > 0.0)
    assert model[40] == 12.0


def test_every_reading_is_met_between_them_it_is_smooth() -> None:
    model = 10.0 + np.sin(np.arange(193) / 20.0)
    at = TIMES_S[[10, 30, 34, 90]]
    was = [11.0, 8.0, 9.5, 12.0]
    pulled = pull_to_measured(model, TIMES_S, at, was)
    assert pulled[[10, 30, 34, 90]] == pytest.approx(was)
    # No jump: 3.4 K of change over the four steps between the closest pair is the steepest.
    assert np.abs(np.diff(pulled)).max() < 0.6


def test_readings_between_points_and_before_the_first() -> None:
    model = np.linspace(10.0, 29.2, 193)
    half_way = float(TIMES_S[20]) + 450.0
    pulled = pull_to_measured(model, TIMES_S, [half_way], [12.05 + 2.0])
    # Both neighbours are 7.5 minutes off: 2 K (1 − 2^(−1/48)) = 0.03 K has faded already.
    assert (pulled[20] + pulled[21]) / 2.0 == pytest.approx(12.05 + 2.0, abs=0.03)
    early = pull_to_measured(model, TIMES_S, [TIMES_S[0] - 3600.0], [8.0], half_h=2.0)
    assert early[0] == pytest.approx(10.0 - 2.0 * 0.5**0.5)
    far = pull_to_measured(model, TIMES_S, [TIMES_S[0] - 3 * 3600.0], [8.0], half_h=2.0)
    assert np.array_equal(far, model)


def test_each_scenario_is_pulled_to_the_same_reading() -> None:
    model = np.array([[12.0], [14.0], [9.0]]) * np.ones(193)
    pulled = pull_to_measured(model, TIMES_S, [TIMES_S[0]], [11.0], half_h=3.0)
    assert pulled[:, 0] == pytest.approx(11.0)
    assert np.ptp(pulled[:, 12]) == pytest.approx(2.5)  # half of the spread is back after 3 h
    assert pulled[:, -1] == pytest.approx(model[:, -1], abs=1e-4)


def test_nothing_measured_nothing_pulled() -> None:
    model = np.full(193, 12.0)
    assert np.array_equal(pull_to_measured(model, TIMES_S, [], []), model)
    assert np.array_equal(pull_to_measured(model, TIMES_S, [TIMES_S[3]], [np.nan]), model)
    holed = model.copy()
    holed[5] = np.nan
    found = pull_to_measured(holed, TIMES_S, [TIMES_S[5], TIMES_S[50]], [5.0, 13.0])
    assert np.isnan(found[5])
    assert found[50] == pytest.approx(13.0)
    assert np.isfinite(np.delete(found, 5)).all()
    with pytest.raises(RangeError, match="rising times"):
        pull_to_measured(model, TIMES_S, [TIMES_S[9], TIMES_S[3]], [1.0, 2.0])
    with pytest.raises(RangeError, match="half_h"):
        pull_to_measured(model, TIMES_S, [TIMES_S[9]], [1.0], half_h=0.0)


def test_courses_of_air_with_one_sky_for_all_or_none() -> None:
    """Scenarios carry [s, n] air beside columns that are the same in all, or missing."""
    n = 48
    air = np.tile(np.linspace(5.0, 15.0, n), (3, 1)) + np.arange(3)[:, None]
    steady = {"wind_m_s": np.full(n, 2.0), "cloud_pct": np.full(n, 50.0)}
    many = Outdoor(1_779_840_000, 3600, {"air_temp_c": air, "dew_point_c": air - 5, **steady})
    skin, place = Skin("steel", outdoors=True), Place(52.5, 0.75)
    cold, hot = outdoor_surface_c(skin, many, place)
    for k in range(3):
        one = Outdoor(
            many.start_s, 3600, {"air_temp_c": air[k], "dew_point_c": air[k] - 5, **steady}
        )
        alone = outdoor_surface_c(skin, one, place)
        assert np.allclose((cold[k], hot[k]), alone, atol=1e-9, equal_nan=True)
    bare = Outdoor(many.start_s, 3600, {"air_temp_c": air, "dew_point_c": air - 5})
    assert np.isnan(outdoor_surface_c(skin, bare, place)).all()
