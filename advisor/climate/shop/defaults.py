"""Usual responses by kind of shop, from what each kind is built of.

Every figure is marked: (U) computed from U-values and thicknesses, (P) common practice,
(M) from memory. They serve until three days of log exist and as the prior of each fit, so they
need the right order of size, not more.
"""

from __future__ import annotations

from dataclasses import dataclass
from types import MappingProxyType

from advisor.climate.shop.moisture import Moisture
from advisor.climate.shop.shop import Shop, ShopKind
from advisor.climate.shop.thermal import Thermal
from advisor.physics.constants import AIR_WH_M3_K
from advisor.physics.ventilation import heat_lost_w_per_k

# A shop of 200 m³, 7 × 8 × 3.6 m: 108 m² wall, 56 m² roof and floor each (U, geometry).
# Other sizes keep the proportions, so areas go with volume^(2/3).
_MODEL_M3 = 200.0
_WALL_M2, _ROOF_M2, _FLOOR_M2 = 108.0, 56.0, 56.0
_INNER_W_M2_K = 7.7  # inner surface, ISO 6946 Rsi 0.13 (P)
_OUTER_W_M2_K = 17.0  # outer surface for sol-air, ASHRAE summer figure (P)
#: What the room holds besides air (bench, tools, thin boards), as a multiple of the air (M).
_CONTENTS = 4.0
_FLOOR_WH_M2_K = 35.0  # upper 70 mm of a concrete or earth floor: 2000 × 900 × 0.07 / 3600 (U)
_AIR_G_M3_HPA = 0.75  # vapour that a m³ of air holds per hPa: 1 / (R_v T) at 15 °C (U)
_STORE_H = 17.0  # time constant of storage in timber, fitted on one real house (P)
#: Vapour pressure over warming fabric rises by this share per K; 0.065 at constant relative
#: humidity (U), 0.055 to 0.065 fitted on one real house.
_WARM_PER_K = 0.05


@dataclass(frozen=True)
class Kind:
    """What a kind of shop is built of; areas are those of walls and roof together."""

    heavy_u_w_m2_k: float  # through fabric that holds heat
    light_u_w_m2_k: float  # through sheet, glass and film that holds none
    light_share: float  # share of walls and roof that is light
    fabric_wh_m2_k: float  # heat held by heavy walls and roof, inner half
    air_change_per_h: float
    sun_share: float  # absorbed (opaque) or let through (film, glass) of sun on the light part
    store_g_m2_hpa: float  # moisture taken up by walls, roof and floor
    damp_k: float  # how far indoor dew point stands above outdoor in the long run, K
    words: str


KINDS = MappingProxyType[ShopKind, Kind](
    {
        # Roof on posts: air is outdoor air; what is left is the floor and the roof's sun (M).
        "open shelter": Kind(5.0, 6.0, 0.6, 4.0, 30.0, 0.05, 0.3, 0.0, "roof on posts"),
        # Film tent: U 6 (P), 5 to 10 air changes (M), a third of the sun gets in (M).
        "tent": Kind(5.0, 6.0, 0.95, 2.0, 6.0, 0.25, 0.3, 0.3, "film on a frame"),
        # 450 mm rubble wall U 2.2, slate roof U 2.5 on boards (U); inner 200 mm of stone holds
        # 2200 × 850 × 0.2 / 3600 = 100 Wh/(m² K); gaps under the slates 1 /h (M); damp floor (M).
        "stone shed": Kind(2.2, 3.0, 0.30, 90.0, 1.0, 0.03, 1.0, 0.8, "thick solid walls"),
        # 22 mm boards on studs U 3 (U) holding 450 × 1700 × 0.022 / 3600 = 4.7 Wh/(m² K) (U).
        "timber shed": Kind(3.0, 5.0, 0.15, 5.0, 1.5, 0.06, 3.5, 0.3, "boards on studs"),
        # Profiled sheet U 6 (P), 0.7 mm steel holds 0.7 Wh/(m² K) (U): nearly all light.
        "metal shed": Kind(6.0, 6.0, 0.90, 1.0, 1.5, 0.08, 0.3, 0.3, "profiled sheet"),
        # 100 mm mineral wool U 0.35, doors and windows U 2 on 10 % (U); 0.4 /h (M).
        "insulated": Kind(0.35, 2.0, 0.10, 12.0, 0.4, 0.05, 2.0, 0.5, "lined and insulated"),
    }
)


def usual_thermal(shop: Shop) -> Thermal:
    """Return the usual heat response of a shop of this kind and size."""
    kind = KINDS[shop.kind]
    scale = (shop.volume_m3 / _MODEL_M3) ** (2.0 / 3.0)
    shell_m2 = (_WALL_M2 + _ROOF_M2) * scale
    floor_m2 = _FLOOR_M2 * scale
    heavy_m2, light_m2 = shell_m2 * (1.0 - kind.light_share), shell_m2 * kind.light_share
    air_wh_k = AIR_WH_M3_K * shop.volume_m3 * _CONTENTS
    fabric_wh_k = heavy_m2 * kind.fabric_wh_m2_k + floor_m2 * _FLOOR_WH_M2_K
    inner_w_k = _INNER_W_M2_K * (heavy_m2 + floor_m2)
    through_w_k = kind.heavy_u_w_m2_k * heavy_m2
    outer_w_k = 1.0 / (1.0 / through_w_k - 1.0 / inner_w_k)
    aired_w_k = heat_lost_w_per_k(kind.air_change_per_h, shop.volume_m3)
    direct_w_k = kind.light_u_w_m2_k * light_m2 + aired_w_k
    # Per W/m² of horizontal sun: opaque roof and sunlit wall by sol-air (0.7 absorbed, walls
    # at half strength); the light part as its share of the roof.
    sol_air_w = through_w_k * 0.7 / _OUTER_W_M2_K * 0.5
    light_w = light_m2 * kind.sun_share
    return Thermal(
        air_out_per_h=direct_w_k / air_wh_k,
        air_fabric_per_h=inner_w_k / air_wh_k,
        fabric_air_per_h=inner_w_k / fabric_wh_k,
        fabric_out_per_h=outer_w_k / fabric_wh_k,
        sun_air_k_h=1000.0 * light_w / air_wh_k,
        sun_fabric_k_h=1000.0 * sol_air_w / fabric_wh_k,
        gain_air_k_h=0.0,
        air_wh_k=air_wh_k,
    )


def usual_moisture(shop: Shop) -> Moisture:
    """Return the usual moisture response of a shop of this kind and size."""
    kind = KINDS[shop.kind]
    scale = (shop.volume_m3 / _MODEL_M3) ** (2.0 / 3.0)
    store_g_hpa = kind.store_g_m2_hpa * (_WALL_M2 + _ROOF_M2 + _FLOOR_M2) * scale
    ratio = store_g_hpa / (_AIR_G_M3_HPA * shop.volume_m3)
    # 1 K of dew point is about 0.065 of the pressure, 0.7 hPa at 10 °C of dew point (U).
    return Moisture(
        air_change_per_h=kind.air_change_per_h,
        air_store_per_h=ratio / _STORE_H,
        store_air_per_h=1.0 / _STORE_H,
        source_hpa_h=kind.air_change_per_h * kind.damp_k * 0.7,
        warm_per_k=_WARM_PER_K,
    )


#: Doubt of a usual response by hours ahead: sd in K of air and of dew point. Guesses from
#: memory, wide on purpose: two unlike shops of one kind differ by this much.
USUAL_SPREAD = MappingProxyType(
    {
        "lead_h": (1.0, 6.0, 12.0, 24.0, 48.0, 96.0, 168.0),
        "air_sd_k": (0.5, 1.2, 1.6, 2.0, 2.2, 2.3, 2.3),
        "dew_sd_k": (0.5, 1.0, 1.3, 1.6, 1.8, 1.9, 1.9),
    }
)
USUAL_LAG1 = 0.9  # correlation of the residual from hour to hour (M)
