"""The film asked for, as it stands beside film readings in the record."""

from __future__ import annotations

from advisor.coatings.film import wet_film_um
from advisor.planning.job import Coat
from advisor.record import chain
from advisor.record.canonical import Json
from advisor.record.entry import Entry, number_of, quantity
from advisor.record.in_force import number_text, whose_figures
from advisor.work.kept import Kept


def target_fields(bench: Kept, coat: Coat, film: str, thinner_pct: float) -> dict[str, Json]:
    """Return the fields `target_low` and `target_high` in µm; none where no film is given.

    Wet film as thinned, by the data sheet's dry film and solids; InputError without the product.
    """
    product = bench.shelf.of_coat(coat)
    span = wet_film_um(product.film, thinner_pct) if film == "wet" else product.film.dft_um
    if span is None:
        return {}
    low, high = (quantity(number_text(um, 0), "µm", whose_figures(product)) for um in span)
    return {"target_low": low, "target_high": high}


def last_thinner_pct(bench: Kept, coat_id: str) -> float:
    """Return the thinner of the coat's last batch in %; 0 where nobody said."""
    batches = chain.entries(bench.store, bench.job_in_hand().id, kinds=("batch",), coat_id=coat_id)
    return thinner_pct(batches[-1] if batches else None)


def thinner_pct(batch: Entry | None) -> float:
    """Return the thinner of a batch in %; 0 where nobody said."""
    return (number_of(batch.data.get("thinner")) or 0.0) if batch is not None else 0.0
