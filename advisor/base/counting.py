"""Numbers of things in words."""

from __future__ import annotations


def counted(n: int, one: str, many: str = "") -> str:
    """Write "1 hour", "3 hours"; `many` for a plural that is more than an s: "2 entries"."""
    return f"{n} {one}" if n == 1 else f"{n} {many or one + 's'}"
