"""Learn how wrong a source is here, by lead, from its past forecasts and what happened."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from advisor.climate.spread.errors import ErrorModel, ErrorPairs
from advisor.climate.spread.prior import prior

FloatArray = NDArray[np.float64]


def learn(pairs: ErrorPairs) -> ErrorModel:
    """Return the error model of a source; the prior alone while the archive is short."""
    return prior(pairs.source)
