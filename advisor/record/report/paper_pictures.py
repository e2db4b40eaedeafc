"""Photos, small, and the lines to sign on."""

from __future__ import annotations

import io
from pathlib import Path

from advisor.record.report.blocks import Picture, Pictures, Run, Signatures, cell
from advisor.record.report.paper_table import TEXT_PT, print_prose
from advisor.record.report.sheet import MARGIN, TOP, Sheet, line_height

_ACROSS = 3
_GAP = 4.0
_BOX_MM = 48.0
_SIZE_PT = 7.0
_SIGN_MM = 12.5
_PIXELS = 600
#: A picture of more pixels than this is not opened: a small file can claim a very large one.
_MOST_PIXELS = 200_000_000


def print_pictures(sheet: Sheet, block: Pictures) -> None:
    """Print photos in rows of three, each with its caption under it."""
    for at in range(0, len(block.pictures), _ACROSS):
        _print_line(sheet, block.pictures[at : at + _ACROSS])


def pictures_height(sheet: Sheet, block: Pictures) -> float:
    """Return the height of the first row of photos, which stays with the heading above, mm."""
    first = block.pictures[:_ACROSS]
    shown = [_captioned(sheet, picture) for picture in first]
    return _row_height(shown) if shown else 0.0


def _row_height(shown: list[list[list[Run]]]) -> float:
    """Return the height of a row of photos with its captions, of long ones the beginning, mm."""
    return _BOX_MM + min(max(map(len, shown)), 8) * line_height(_SIZE_PT) + 3


def _width(sheet: Sheet) -> float:
    return (sheet.width - _GAP * (_ACROSS - 1)) / _ACROSS


def _captioned(sheet: Sheet, picture: Picture) -> list[list[Run]]:
    return sheet.broken((Run(picture.caption, "quiet"),), _width(sheet), _SIZE_PT)


def _print_line(sheet: Sheet, pictures: tuple[Picture, ...]) -> None:
    width, step = _width(sheet), line_height(_SIZE_PT)
    shown = [_captioned(sheet, picture) for picture in pictures]
    rows = max(len(lines) for lines in shown)
    sheet.need(_row_height(shown))
    for n, picture in enumerate(pictures):
        _print_picture(sheet, picture, MARGIN + n * (width + _GAP), width)
    sheet.y += _BOX_MM + 1
    for row in range(rows):
        sheet.need(step)
        for n, lines in enumerate(shown):
            if row < len(lines):
                sheet.line(lines[row], MARGIN + n * (width + _GAP), sheet.y, _SIZE_PT)
        sheet.y += step
    sheet.y += 2


def _print_picture(sheet: Sheet, picture: Picture, x: float, width: float) -> None:
    small = thumbnail(picture.path)
    sheet.stroke((150, 150, 150), 0.2)
    if isinstance(small, bytes):
        sheet.pdf.image(io.BytesIO(small), x=x, y=sheet.y, w=width, h=_BOX_MM,
                        keep_aspect_ratio=True)  # fmt: skip
        return
    sheet.pdf.rect(x, sheet.y, width, _BOX_MM)
    for n, line in enumerate(sheet.broken((Run(small, "doubt"),), width - 4, _SIZE_PT + 1)):
        sheet.line(line, x + 2, sheet.y + 4 + n * line_height(_SIZE_PT + 1), _SIZE_PT + 1)


def thumbnail(path: Path | None) -> bytes | str:
    """Return a small JPEG without the camera's notes, or in words why there is none."""
    if path is None or not path.is_file():
        return "The file of this photo is not beside the record."
    # Comes with fpdf2, which reads pictures by it.
    from PIL import Image, ImageOps

    try:
        with Image.open(path, formats=("JPEG", "PNG")) as image:
            if image.width * image.height > _MOST_PIXELS:
                return "This picture is too large to print; its file is in the export."
            image.draft("RGB", (_PIXELS, _PIXELS))
            upright = ImageOps.exif_transpose(image)
            upright.thumbnail((_PIXELS, _PIXELS))
            flat = Image.new("RGB", upright.size, "white")
            flat.paste(upright, mask=upright if upright.mode in ("RGBA", "LA") else None)
            kept = io.BytesIO()
            flat.save(kept, "JPEG", quality=80)
    except (OSError, ValueError, SyntaxError, Image.DecompressionBombError,
            Image.DecompressionBombWarning):  # fmt: skip
        return "This file cannot be read as a JPEG or PNG picture; it is in the export."
    return kept.getvalue()


def print_signatures(sheet: Sheet, block: Signatures) -> None:
    """Print a blank line for name, signature and date of each role, all on one page."""
    sheet.need(signatures_height(sheet, block))
    if block.statement:
        print_prose(sheet, cell(block.statement))
    for role in block.roles:
        sheet.need(_SIGN_MM)
        sheet.line((Run(role, bold=True),), MARGIN, sheet.y + 4, 8.5)
        x, foot = MARGIN + 48, sheet.y + 9
        for label, share in (("name", 0.4), ("signature", 0.35), ("date", 0.25)):
            wide = (sheet.width - 48) * share
            sheet.stroke((20, 20, 20), 0.2)
            sheet.pdf.line(x, foot, x + wide - 5, foot)
            sheet.word(label, x, foot + 3.2, 6.5, tone="quiet")
            x += wide
        sheet.y += _SIGN_MM


def signatures_height(sheet: Sheet, block: Signatures) -> float:
    """Return the height of what is signed for and all lines to sign on, mm; a page at most."""
    said = len(sheet.broken(cell(block.statement), sheet.width, TEXT_PT)) if block.statement else 0
    height = said * line_height(TEXT_PT) + 1.2 + _SIGN_MM * len(block.roles)
    return min(height, sheet.bottom - TOP - 20)
