"""The forecast services the program knows."""

from __future__ import annotations

from advisor.base.errors import RangeError
from advisor.climate.sources.metno import MetNorway
from advisor.climate.sources.source import Source

ALL: tuple[Source, ...] = (MetNorway(),)


def by_id(source_id: str) -> Source:
    """Return the source of that id, or raise `RangeError` naming the ids there are."""
    for source in ALL:
        if source.id == source_id:
            return source
    ids = ", ".join(source.id for source in ALL)
    raise RangeError("forecast source", repr(source_id), ids)
