"""One line of a record read exactly: its bytes are the canonical ones, or it is BrokenError.

A part of the verifier that goes with an export: the standard library only, Python 3.8.
"""

from __future__ import annotations

import codecs
import json
import re
from datetime import datetime

KEYS = ("app", "area", "at", "by", "coat", "data", "form", "job", "kind", "known", "number",
        "previous", "written", "zone")  # fmt: skip
TEXTS = ("app", "area", "at", "by", "coat", "job", "kind", "previous", "written", "zone")
#: Form of the line that this reader knows.
FORM = 1
#: Objects and lists inside each other, far more than any entry has.
DEEPEST = 32
_HASH = re.compile(r"[0-9a-f]{64}")
_MOMENT = re.compile(
    r"[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}:[0-9]{2}[+-][0-9]{2}:[0-9]{2}(:[0-9]{2})?"
)
_NUMBER = re.compile(r"-?[0-9]{1,12}(\.[0-9]{1,9})?")
#: A text without its end is one token too, so that a line is gone through once.
_TOKEN = re.compile(r'"(?:[^"\\]|\\.)*(?:"|\\?\Z)|[][{}:,]', re.DOTALL)
_TOO_DEEP = "is nested deeper than any entry"


class BrokenError(Exception):
    """A line that is not as it was written: what is wrong, and the byte from 0 where known."""

    def __init__(self, text: str, offset: int | None = None) -> None:
        super().__init__(text)
        self.offset = offset


def is_hash(value: object) -> bool:
    """Whether a value is a SHA-256 in lower-case hexadecimal."""
    return isinstance(value, str) and _HASH.fullmatch(value) is not None


def is_number(text: str) -> bool:
    """Whether a text is a number as an entry keeps one."""
    return _NUMBER.fullmatch(text) is not None


def wrong_fields(entry: dict[str, object]) -> list[tuple[str, str]]:
    """Return the fields of an entry that cannot be so, each with what is wrong."""
    if tuple(entry) != KEYS:
        odd = sorted(set(entry) ^ set(KEYS))
        return [(shown(odd[0]), "is not a field of an entry, or it is missing")]
    wrong = [(name, "is not text") for name in TEXTS if not isinstance(entry[name], str)]
    wrong += [(name, "is not an object") for name in ("data", "known")
              if not isinstance(entry[name], dict)]  # fmt: skip
    if type(entry["form"]) is not int or entry["form"] != FORM:
        wrong.append(("form", f"is not {FORM}, the only form this verifier knows"))
    if type(entry["number"]) is not int:
        wrong.append(("number", "is not a whole number"))
    if not is_hash(entry["previous"]):
        wrong.append(("previous", "is not a hash"))
    wrong += [(name, "is not a time with its offset") for name in ("at", "written")
              if not _is_moment(str(entry[name]))]  # fmt: skip
    return wrong + _wrong_quantities(entry["data"])


def _is_moment(text: str) -> bool:
    try:
        return _MOMENT.fullmatch(text) is not None and datetime.fromisoformat(text) is not None
    except ValueError:
        return False


def _wrong_quantities(data: object) -> list[tuple[str, str]]:
    kept = []
    for name, value in data.items() if isinstance(data, dict) else ():
        kept.append((f"data.{shown(name)}", value))
        rows = value if isinstance(value, list) else []
        kept += [(f"data.{shown(name)}.{at}", row) for at, row in enumerate(rows, 1)]
    return [(f"{where}.value", "is not a number") for where, value in kept if _no_number(value)]


def _no_number(kept: object) -> bool:
    """Whether this is a value with its unit and source, and the value is no number."""
    return (
        isinstance(kept, dict)
        and {"value", "unit", "source"} <= set(kept)
        and not is_number(str(kept["value"]))
    )


def canonical(value: object) -> bytes:
    """Return the one way RFC 8785 writes a value of text, whole numbers, lists and objects.

    BrokenError where it is nested deeper than any entry.
    """
    text = json.dumps(_sorted(value), ensure_ascii=False, separators=(",", ":"), allow_nan=False)
    return text.encode("utf-8")


def _sorted(value: object, depth: int = 0) -> object:
    if depth > DEEPEST:
        raise BrokenError(_TOO_DEEP)
    if isinstance(value, dict):
        # RFC 8785, 3.2.3: by UTF-16 code units, which is not the order of code points.
        names = sorted(value, key=lambda name: name.encode("utf-16-be", "surrogatepass"))
        return {name: _sorted(value[name], depth + 1) for name in names}
    return [_sorted(one, depth + 1) for one in value] if isinstance(value, list) else value


def parse(line: bytes) -> dict[str, object]:
    """Return the object of a line; BrokenError where its bytes are not the canonical ones."""
    try:
        text = line.decode("utf-8")
        value = json.loads(text, object_pairs_hook=_once, parse_int=_whole,
                           parse_float=_no_fraction, parse_constant=_no_fraction)  # fmt: skip
        expected = canonical(value)
    except UnicodeDecodeError as error:
        raise BrokenError("is not UTF-8", error.start) from None
    except json.JSONDecodeError as error:
        at = len(error.doc[: error.pos].encode("utf-8", "surrogatepass"))
        raise BrokenError(f"is not JSON{_saved_anew(line)}", at) from None
    except RecursionError:
        raise BrokenError(_TOO_DEEP) from None
    except UnicodeEncodeError:
        raise BrokenError("holds half a character") from None
    if expected != line:
        how = f"is not written in the canonical form{_saved_anew(line)}"
        raise BrokenError(how, _first_difference(line, expected))
    if not isinstance(value, dict):
        raise BrokenError("is not an object")
    return value


def _saved_anew(line: bytes) -> str:
    """Say what another program does to a file that it saves."""
    if line.startswith(codecs.BOM_UTF8):
        return ": it begins with a byte order mark, saved anew by another program"
    if line.endswith(b"\r"):
        return ": it ends in a carriage return, saved anew by another program"
    return ": it ends in a space" if line.endswith((b" ", b"\t")) else ""


def _once(pairs: list[tuple[str, object]]) -> dict[str, object]:
    found = dict(pairs)
    if len(found) < len(pairs):
        left = dict(pairs)
        twice = next(name for name, _ in pairs if left.pop(name, left) is left)
        raise BrokenError(f"holds the field {shown(twice)} twice")
    return found


def _whole(text: str) -> int:
    if len(text) > 17 or abs(int(text)) >= 2**53:
        raise BrokenError("holds a number too large")
    return int(text)


def _no_fraction(text: str) -> float:
    raise BrokenError(f"holds the number {text[:20]}, which no entry does")


def _first_difference(one: bytes, other: bytes) -> int:
    pairs = enumerate(one[: len(other)])
    return next((at for at, byte in pairs if byte != other[at]), min(len(one), len(other)))


def field_at(line: bytes, offset: int) -> str:
    """Return the name of the field around a byte, such as data.air_temp.value; "" if unknown."""
    names: list[str] = []
    last = ""
    for match in _TOKEN.finditer(line[:offset].decode("utf-8", "replace")):
        token = match.group()
        if token in "{[":
            names.append("")
        elif token in "}]" and names:
            names.pop()
        elif token == "," and names:
            names[-1] = ""
        elif token == ":" and names:
            names[-1] = last
        last = token[1:-1]
    return shown(".".join(name for name in names if name))


def shown(text: object) -> str:
    """Return text fit for a terminal: what does not print becomes a question mark."""
    return "".join(c if c.isprintable() else "?" for c in str(text))[:200]
