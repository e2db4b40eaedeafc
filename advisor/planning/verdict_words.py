"""The four verdicts, apart from how they are found: showing one needs nothing else."""

from __future__ import annotations

from enum import IntEnum


class Verdict(IntEnum):
    """Ordered from best to worst; unknown is never go."""

    GO = 0
    BORDERLINE = 1
    UNKNOWN = 2
    WAIT = 3

    @property
    def json(self) -> str:
        """Return the name in JSON."""
        return self.name.lower()
