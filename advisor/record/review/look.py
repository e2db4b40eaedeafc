"""What a look back on a coat goes by, laid out once."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from functools import cached_property

from advisor.coatings.product import Product
from advisor.planning.job import Coat, Job
from advisor.planning.words import Words
from advisor.record.effective import Effective
from advisor.record.review.observed import Observed
from advisor.record.review.told import Told, told
from advisor.record.review.track import Tracks


@dataclass(frozen=True, eq=False)
class Look:
    """What a look back goes by. `product` and `below` as the coats go on by their method.

    `limits_now` are those of the product's file, for a coat that was kept with none;
    `sanded_s` when its area was last known to be sanded from before the record began.
    """

    job: Job
    coat: Coat
    product: Product
    below: Product | None
    record: tuple[Effective, ...]
    seen: Observed
    words: Words
    now_s: float
    wind_m_s: float | None = None
    sanded_s: float | None = None
    tracks: Tracks = field(init=False)

    def __post_init__(self) -> None:
        """Every quantity is laid out once."""
        object.__setattr__(self, "tracks", Tracks(self.seen))

    @property
    def limits_are(self) -> str:
        """Whose the product's figures are."""
        return "typical values" if self.product.is_template else "the data sheet's figures"

    @cached_property
    def under(self) -> Told | None:
        """What the record tells of the coat below; None where there is none or it never went on."""
        return self.told_of(self.job.below(self.coat))

    @property
    def prepared_from_s(self) -> float:
        """From when on preparation was for this coat, UTC s; NaN where the one below has no end."""
        if self.job.below(self.coat) is None:
            return -math.inf
        return math.nan if self.under is None or self.under.ended_s is None else self.under.ended_s

    def told_over(self) -> Told | None:
        """Return what the record tells of the coat that went over it, whichever was left out."""
        coat = self.job.above(self.coat)
        while coat is not None and (found := self.told_of(coat)) is None:
            coat = self.job.above(coat)
        return None if coat is None else found

    def told_of(self, coat: Coat | None) -> Told | None:
        """Return what the record tells of a coat; None where it never went on."""
        if coat is None:
            return None
        found = told(coat, self.record)
        return None if found.started_s is None else found
