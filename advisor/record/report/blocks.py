"""What a report is made of, without a word about paper: text, tables, charts, pictures."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Literal, TypeAlias

from advisor.record.review_types import CoatReview

Tone = Literal["plain", "quiet", "good", "bad", "doubt"]

#: Printed where the record holds nothing: a blank could be read as forgotten or as zero.
NOT_KEPT = "not kept"


@dataclass(frozen=True)
class Run:
    """A piece of text in one dress; `struck` is the one line through what was corrected."""

    text: str
    tone: Tone = "plain"
    bold: bool = False
    struck: bool = False


Cell: TypeAlias = tuple[Run, ...]
Row: TypeAlias = tuple[Cell, ...]


def cell(text: str, tone: Tone = "plain", *, bold: bool = False) -> Cell:
    """Return a cell of one dress; nothing is printed as "not kept"."""
    return (Run(text, tone, bold),) if text else (Run(NOT_KEPT, "quiet"),)


@dataclass(frozen=True)
class Heading:
    """A heading; level 1 opens a page's subject, 2 a section, 3 one entry."""

    text: str
    level: int = 2


@dataclass(frozen=True)
class Prose:
    """A paragraph; a `small` one has the size of tables."""

    runs: Cell
    small: bool = False


@dataclass(frozen=True)
class Table:
    """A table. `widths` are shares of the page's width, `empty` what is said of no rows."""

    heads: tuple[str, ...]
    widths: tuple[float, ...]
    rows: tuple[Row, ...]
    empty: str = "None kept."


@dataclass(frozen=True)
class Chart:
    """The picture of one coat's readings."""

    coat: CoatReview


@dataclass(frozen=True)
class Picture:
    """A photo by its kept file (None: the file is missing), and what is said of it."""

    path: Path | None
    caption: str


@dataclass(frozen=True)
class Pictures:
    """Photos, small, with their file names and hashes."""

    pictures: tuple[Picture, ...]


@dataclass(frozen=True)
class Signatures:
    """Blank lines to sign by hand, one for each role, under what is signed for."""

    roles: tuple[str, ...]
    statement: str = ""


@dataclass(frozen=True)
class NewPage:
    """What follows begins on a new page."""


Block: TypeAlias = Heading | Prose | Table | Chart | Pictures | Signatures | NewPage


@dataclass(frozen=True)
class Paper:
    """A whole report. `head` is the hash it was made from, `made_s` UTC seconds."""

    title: str
    job_name: str
    head: str
    made_s: float
    blocks: tuple[Block, ...]
    attached: bytes = b""
