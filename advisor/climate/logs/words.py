"""Names and cells folded to plain lower case letters, and what their words mean."""

from __future__ import annotations

import re
import unicodedata

from advisor.climate.logs.vocabulary import MONTHS, QUANTITIES, SHORT_HUMIDITY

_CAMEL = re.compile(r"(?<=[a-zà-ÿ])(?=[A-Z])")
_SPECIAL = str.maketrans({"º": "°", "˚": "°", "ß": "ss", "æ": "ae", "ø": "o", "Ø": "O", "ł": "l"})


def mend(text: str) -> str:
    """Undo double encoding and lost degree signs in a header or a cell."""
    if "Â" in text or "Ã" in text or "â" in text:
        try:
            text = text.encode("cp1252").decode("utf-8")
        except UnicodeError:
            text = text.replace("Â°", "°").replace("Â", "")
    text = re.sub(r"[\ufffd?]\s?(?=[CF]\b)", "°", text)
    return unicodedata.normalize("NFKC", text.translate(_SPECIAL))


def fold(text: str) -> str:
    """Lower case without accents, words apart by single spaces."""
    text = _CAMEL.sub(" ", mend(text))
    text = unicodedata.normalize("NFD", text)
    text = "".join(char for char in text if not unicodedata.combining(char)).casefold()
    return re.sub(r"[\s_\-./,;:()\[\]{}|]+", " ", text).strip()


def has_word(folded: str, words: tuple[str, ...]) -> bool:
    """Whether a folded name holds one of the words; short words must stand alone."""
    tokens = [re.sub(r"\d+$", "", token) or token for token in folded.split()]
    joined = f" {' '.join(tokens)} "
    for word in words:
        if f" {word} " in joined:
            return True
        if (len(word) > 4 or not word.isascii()) and word in folded:
            return True
    return False


def quantity_of(folded: str) -> str | None:
    """Return what a folded name measures, most special first; None if no word is known."""
    for quantity, words in QUANTITIES.items():
        if has_word(folded, words):
            return quantity
    return "rh_pct" if has_word(folded, SHORT_HUMIDITY) else None


def month_of(text: str) -> int | None:
    """Return 1–12 for a month name or its first three or more letters, else None."""
    name = fold(text).strip(". ")
    if len(name) < 3:
        return None
    found = {
        number
        for number, names in enumerate(MONTHS, start=1)
        if any(full.startswith(name) for full in names)
    }
    return found.pop() if len(found) == 1 else None
