"""When a photo says it was taken: a camera's clock, or the file's date, ahead of now is doubted."""

from __future__ import annotations

from contextlib import suppress
from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

from advisor.record.entry import iso
from advisor.work.moments import AHEAD_S, NOT_YET

#: Where the Exif standard (JEITA CP-3451, 2.3) keeps the moment a picture was taken, its offset
#: from UTC, and, outside that block, when the file was changed; the numbers are of its tables.
_BLOCK, _TAKEN, _OFFSET, _CHANGED = 0x8769, 0x9003, 0x9011, 0x0132
_FORM = "%Y:%m:%d %H:%M:%S"


def dated_ahead(path: Path, zone: str, now_s: float) -> str:
    """Return in words that a photo is dated after now, "" where it is not.

    A camera tells local time: where it names no offset it counts as the shop's.
    """
    told = (("the camera's clock", _taken_s(path, zone)), ("the file's date", _file_s(path)))
    for whose, at_s in told:
        if at_s is not None and at_s > now_s + AHEAD_S:
            return f"{whose} says {iso(at_s, zone)}, {NOT_YET}"
    return ""


def _file_s(path: Path) -> float | None:
    try:
        return path.stat().st_mtime
    except OSError:
        return None


def _taken_s(path: Path, zone: str) -> float | None:
    """Return what the camera wrote into the picture, UTC seconds; None where it wrote nothing."""
    # Comes with fpdf2, which reads pictures by it.
    from PIL import Image

    wrong = (OSError, ValueError, SyntaxError, TypeError, KeyError, OverflowError,
             Image.DecompressionBombError, Image.DecompressionBombWarning)  # fmt: skip
    with suppress(*wrong), Image.open(path) as image:
        notes = image.getexif()
        taken = notes.get_ifd(_BLOCK)
        words = str(taken.get(_TAKEN) or notes.get(_CHANGED) or "").strip("\0 ")
        found = datetime.strptime(words, _FORM)
        offset = str(taken.get(_OFFSET) or "").strip("\0 ")
        if offset:
            return datetime.fromisoformat(f"{found.isoformat()}{offset}").timestamp()
        return found.replace(tzinfo=ZoneInfo(zone)).timestamp()
    return None
