"""Reads the small TOML files people write by hand. Every fault is one FileFormatError line."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

from advisor.base.errors import FileFormatError

#: Such a file is a few kilobytes; anything far larger is some other file.
MAX_BYTES = 1_000_000


def read_toml_text(path: Path, kind: str) -> str:
    """Return the text of a file; `kind` is what the errors call it ("product", "job")."""
    name = path.name or str(path)
    try:
        with path.open("rb") as handle:
            data = handle.read(MAX_BYTES + 1)
    except FileNotFoundError:
        raise FileFormatError(str(path), "", "no such file", f"a {kind} file (.toml)") from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or "an unreadable name"
        raise FileFormatError(str(path), "", reason, f"a readable {kind} file") from None
    if len(data) > MAX_BYTES:
        raise FileFormatError(name, "", "a file over 1 MB", f"a {kind} file of a few kilobytes")
    return _decoded(data, name)


def parse_toml(text: str, name: str) -> dict[str, Any]:
    """Parse the text; `name` is only named in errors."""
    try:
        return tomllib.loads(text.replace("\r\n", "\n"))
    except tomllib.TOMLDecodeError as error:
        message = " ".join(str(error).split())
        raise FileFormatError(name, "", f"not TOML: {message}", "TOML, schema 1") from None
    except (RecursionError, ValueError):  # deep nesting; numbers with thousands of digits
        raise FileFormatError(name, "", "TOML too deep or long", "TOML, schema 1") from None


def _decoded(data: bytes, name: str) -> str:
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        found = f"a byte that is not UTF-8 ({data[error.start]:#04x})"
        raise FileFormatError(name, f"line {line}", found, "text saved as UTF-8") from None
