"""A photo into the record: kept by its hash, then named by an entry."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from advisor.base.attachments import Attachments
from advisor.base.errors import InputError
from advisor.record.canonical import Json
from advisor.record.entry import Entry
from advisor.work.moments import refuse_ahead
from advisor.work.photo_dated import dated_ahead

if TYPE_CHECKING:
    from advisor.work.recording import Recorder

#: Largest file taken for a photo, bytes.
LARGEST = 100 * 1024 * 1024
#: How files of pictures begin: JPEG, PNG, GIF, TIFF (both orders), BMP.
_BEGINNINGS = (b"\xff\xd8\xff", b"\x89PNG\r\n\x1a\n", b"GIF8", b"II*\x00", b"MM\x00*", b"BM")


@dataclass(frozen=True)
class Photo:
    """A picture to be attached. `of` is the number of the entry it shows, "" for none."""

    path: Path
    caption: str = ""
    coat_id: str = ""
    area_id: str = ""
    of: str = ""


def attach(record: Recorder, files: Attachments, photo: Photo, at_s: float, now_s: float) -> Entry:
    """Keep a photo and its entry; InputError for a file that is no picture.

    One dated after now by its camera or its file is kept with that doubt beside it.
    """
    size = _checked_size(photo.path)
    refuse_ahead(at_s, now_s)  # before the file is kept
    if photo.of and record.entry(photo.of) is None:
        raise InputError(f"photo: found no entry {photo.of}; accepted: the number of an entry")
    data: dict[str, Json] = {
        "file_name": photo.path.name,
        "sha256": files.keep(photo.path),
        "bytes": str(size),
        "caption": photo.caption,
        "of": photo.of,
        "flags": dated_ahead(photo.path, record.zone, now_s),
    }
    return record.add(
        "photo",
        {name: value for name, value in data.items() if value},
        at_s=at_s,
        now_s=now_s,
        area_id=photo.area_id,
        coat_id=photo.coat_id,
    )


def _checked_size(path: Path) -> int:
    try:
        size = path.stat().st_size
        with path.open("rb") as file:
            start = file.read(16)
    except OSError as error:
        reason = (error.strerror or "an error").lower()
        raise InputError(f"{path}: found {reason}; accepted: a picture") from error
    if not _is_picture(start):
        raise InputError(f"{path}: found no picture; accepted: JPEG, PNG, WebP, HEIC, TIFF")
    if size > LARGEST:
        raise InputError(f"{path}: found {size} bytes; accepted: up to {LARGEST}")
    return size


def _is_picture(start: bytes) -> bool:
    boxed = start[4:8] == b"ftyp" and start[8:12] in (b"heic", b"heix", b"mif1", b"msf1", b"avif")
    return start.startswith(_BEGINNINGS) or boxed or (start[:4], start[8:12]) == (b"RIFF", b"WEBP")
