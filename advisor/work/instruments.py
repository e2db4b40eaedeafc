"""What the shop's instruments are good for, as their makers state it."""

from __future__ import annotations

import math
from dataclasses import dataclass

from advisor.base.settings import Settings, checked, setting
from advisor.physics import uncertainty
from advisor.physics.uncertainty import SensorSpread

#: The setting of each figure.
KEYS = ("air_accuracy_k", "rh_accuracy_pct", "surface_accuracy_k")


@dataclass(frozen=True)
class Instruments:
    """Makers' ± figures, half-widths: K, points of RH, K. None: not stated, common practice."""

    air_k: float | None = None
    rh_pct: float | None = None
    surface_k: float | None = None

    @property
    def spread(self) -> SensorSpread:
        """Return them as standard uncertainties."""
        return SensorSpread.from_half_widths(self.air_k, self.rh_pct, self.surface_k)


#: Half-widths counted with where nobody stated any, K, points of RH, K.
USUAL = Instruments(*(math.sqrt(3.0) * sd for sd in (
    uncertainty.DEFAULT_AIR_K, uncertainty.DEFAULT_RH_PCT, uncertainty.DEFAULT_SURFACE_K,
)))  # fmt: skip


def kept_instruments(settings: Settings) -> Instruments:
    """Return what the shop's settings say."""
    texts = (settings.text(key) for key in KEYS)
    return Instruments(*(float(text) if text else None for text in texts))


def keep_instruments(settings: Settings, instruments: Instruments) -> None:
    """Keep the figures; RangeError names one that cannot be, and none is kept."""
    figures = (instruments.air_k, instruments.rh_pct, instruments.surface_k)
    texts = ["" if figure is None else repr(float(figure)) for figure in figures]
    for key, text in zip(KEYS, texts, strict=True):
        checked(setting(key), text)
    for key, text in zip(KEYS, texts, strict=True):
        settings.set(key, text)
