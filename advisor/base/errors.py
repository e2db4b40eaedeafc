"""Every error the program raises on purpose.

AdvisorError
├── InputError          the user can mend it: exit code 2, one line
│   ├── FileFormatError     a file: names file, line or key, found, accepted
│   └── RangeError          a value outside what is accepted
└── StoreError          the machine's fault: disk, permissions, a newer database

Anything else that escapes is our own bug.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass


class AdvisorError(Exception):
    """Base of all errors with a message fit for the user."""


class InputError(AdvisorError):
    """Something the user typed or gave that cannot be used; the message says what would do."""


@dataclass
class FileFormatError(InputError):
    """A file that cannot be used, with the place, what was found and what is accepted."""

    file: str
    where: str
    found: str
    accepted: str

    def __str__(self) -> str:
        """One line: file, place, found, accepted."""
        place = f"{self.file}: {self.where}" if self.where else self.file
        return f"{place}: found {self.found}; accepted: {self.accepted}"


@dataclass
class RangeError(InputError):
    """A value outside the accepted range."""

    name: str
    found: str
    accepted: str

    def __str__(self) -> str:
        """One line: name, found, accepted."""
        return f"{self.name}: found {self.found}; accepted: {self.accepted}"


class StoreError(AdvisorError):
    """The database cannot be opened, read or written; the message says what to do."""


def which(wanted: str, known: Iterable[str]) -> str:
    """Return the name that may have been meant for one that is not known, else all there are."""
    from difflib import get_close_matches

    names = list(known)
    near = get_close_matches(wanted, names, n=1)
    return f"did you mean {near[0]}?" if near else f"accepted: {', '.join(names)}"
