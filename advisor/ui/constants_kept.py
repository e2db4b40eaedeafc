"""Keeps None, True and False alive where Qt's binding lets go of them too often.

PySide6 6.12.0 counts on them being immortal, as they are from Python 3.12 on (PEP 683). On 3.11
every call that returns one of them gives back a reference that was never taken, and after some
thousands the interpreter ends itself ("deallocating None"): minutes of a window being redrawn.
"""

from __future__ import annotations

import ctypes
import sys

#: More than any window can use up; a count that was this high is never near 0 again.
SPARE = 1 << (40 if sys.maxsize > 2**32 else 29)


def keep_constants() -> None:
    """Give them references to spare, once; nothing to do where they are immortal."""
    if sys.version_info >= (3, 12) or sys.implementation.name != "cpython":
        return
    for constant in (None, True, False):
        if sys.getrefcount(constant) < SPARE // 2:
            # The count is the first word of every object of CPython.
            ctypes.c_ssize_t.from_address(id(constant)).value += SPARE
