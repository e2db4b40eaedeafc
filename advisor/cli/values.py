"""What may stand after an option: numbers with their range, files, times are read later."""

from __future__ import annotations

import argparse
import math
import re
from collections.abc import Callable
from pathlib import Path

from advisor.base.units import TEMPERATURE, from_display

_TEMPERATURE = re.compile(r"^(?P<number>[-+]?[0-9.,eE+-]+)\s*°?(?P<unit>[cCfF]?)$")


def temperature(text: str) -> float:
    """Read a temperature in °C, or in °F where an F follows the number: "18.5", "65F"."""
    match = _TEMPERATURE.match(text.strip())
    value = None if match is None else _float(match["number"])
    if match is None or value is None:
        raise argparse.ArgumentTypeError(
            f'found {text!r}; accepted: a temperature in °C such as 18.5, or "65F"'
        )
    celsius = from_display(value, TEMPERATURE, "us") if match["unit"] in ("f", "F") else value
    if not -40.0 <= celsius <= 60.0:
        raise argparse.ArgumentTypeError(f"found {text}; accepted: -40 to 60 °C; write 65F for °F")
    return celsius


def number(
    low: float, high: float, unit: str = "", *, above: bool = False
) -> Callable[[str], float]:
    """Return a reader of numbers from `low` (or only above it) to `high`."""
    accepted = f"{'above ' if above else ''}{low:g} to {high:g} {unit}".rstrip()
    if math.isinf(high):
        accepted = f"{'more than' if above else 'at least'} {low:g} {unit}".rstrip()

    def read(text: str) -> float:
        value = _float(text)
        if value is None or not low <= value <= high or (above and value == low):
            raise argparse.ArgumentTypeError(f"found {text!r}; accepted: {accepted}")
        return value

    return read


def file_path(text: str) -> Path:
    """Read a file name; an empty one is refused."""
    if not text.strip() or "\0" in text:
        raise argparse.ArgumentTypeError(f"found {text!r}; accepted: the name of a file")
    return Path(text)


def _float(text: str) -> float | None:
    """Return a finite number, None for anything else; an underscore is no digit here."""
    try:
        value = float(text.replace(",", "."))  # many keyboards and sheets write a comma
    except ValueError:
        return None
    return value if math.isfinite(value) and "_" not in text else None
