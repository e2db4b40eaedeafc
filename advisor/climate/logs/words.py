"""The words loggers use, in the languages met so far, folded to plain lower case letters."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping

#: Quantity -> words. Long words match inside a token, short ones (under 4 letters) only whole.
QUANTITIES: Mapping[str, tuple[str, ...]] = {
    "frost_point": ("frost point", "frostpoint", "frostpunkt", "reifpunkt"),
    "dew_point_c": (
        "dew point",
        "dewpoint",
        "dewpt",
        "dewp",
        "tdew",
        "dew",
        "td",
        "taupunkt",
        "rosee",
        "rugiada",
        "rocio",
        "orvalho",
        "dauwpunt",
        "daggpunkt",
        "dugpunkt",
        "duggpunkt",
        "kastepiste",
        "punkt rosy",
        "rosny bod",
        "harmatpont",
        "точка росы",
        "露点",
    ),
    "wet_bulb": ("wet bulb", "wetbulb", "feuchtkugel", "bulbe humide", "bulbo", "tw", "湿球"),
    "abs_humidity": (
        "absolute humidity",
        "abs hum",
        "absolute feuchte",
        "abs feuchte",
        "humidite absolue",
        "humedad absoluta",
        "umidita assoluta",
        "mixing ratio",
        "ah",
    ),
    "rh_pct": (
        "humidity",
        "humid",
        "hum",
        "rh",
        "rel hum",
        "relhum",
        "rhum",
        "feucht",
        "luftfeuchte",
        "luftfeuchtigkeit",
        "rlf",
        "humidite",
        "umidita",
        "humedad",
        "humidade",
        "vochtigheid",
        "fuktighet",
        "luftfugtighed",
        "fugtighed",
        "kosteus",
        "wilgotnosc",
        "vlhkost",
        "paratartalom",
        "влажность",
        "湿度",
    ),
    "pressure_hpa": (
        "pressure",
        "press",
        "barometer",
        "baro",
        "luftdruck",
        "druck",
        "pression",
        "pressione",
        "presion",
        "pressao",
        "luchtdruk",
        "lufttryck",
        "lufttrykk",
        "ilmanpaine",
        "pres",
        "давление",
        "気圧",
        "气压",
    ),
    "wind_dir": (
        "wind dir",
        "winddir",
        "wind direction",
        "windrichtung",
        "direction du vent",
        "direccion",
        "direzione",
        "wdir",
        "wd",
    ),
    "gust": ("gust", "boe", "rafale", "racha", "raffica"),
    "wind_m_s": (
        "wind speed",
        "windspeed",
        "wspd",
        "wind",
        "windgeschwindigkeit",
        "vent",
        "viento",
        "vento",
        "ws",
        "风速",
        "風速",
    ),
    "rain_mm": (
        "rain",
        "precip",
        "precipitation",
        "niederschlag",
        "regen",
        "pluie",
        "lluvia",
        "pioggia",
        "precipitacion",
        "neerslag",
        "nederbord",
        "降水",
    ),
    "air_temp_c": (
        "temperature",
        "temperatur",
        "temperatura",
        "temp",
        "tmp",
        "dry bulb",
        "drybulb",
        "lampotila",
        "teplota",
        "homerseklet",
        "sicaklik",
        "t",
        "ta",
        "ti",
        "tair",
        "температура",
        "温度",
        "気温",
        "气温",
        "溫度",
    ),
}

#: Short names for humidity that may mean something else (`hr`: hour); looked for last.
SHORT_HUMIDITY = ("rf", "hr", "ur", "rv")

#: Words that make a temperature one of a surface.
SURFACE_WORDS = (
    "surface",
    "surf",
    "hull",
    "object",
    "floor",
    "keel",
    "substrate",
    "steel",
    "plank",
    "deck",
    "wall",
    "panel",
    "infrared",
    "ir",
    "oberflache",
    "objekt",
    "boden",
    "rumpf",
    "superficie",
    "coque",
    "sol",
    "casco",
    "scafo",
    "oppervlak",
    "romp",
    "yta",
    "overflate",
    "表面",
)
OUTDOOR_WORDS = (
    "outdoor",
    "outside",
    "outdoors",
    "out",
    "exterior",
    "external",
    "ext",
    "exterieur",
    "esterno",
    "esterna",
    "aussen",
    "draussen",
    "weather",
    "meteo",
    "buiten",
    "ute",
    "ude",
    "ulko",
    "tout",
    "室外",
    "外気",
)
INDOOR_WORDS = (
    "indoor",
    "inside",
    "indoors",
    "in",
    "interior",
    "internal",
    "int",
    "interieur",
    "interno",
    "innen",
    "raum",
    "room",
    "shop",
    "workshop",
    "shed",
    "hall",
    "halle",
    "werkstatt",
    "atelier",
    "taller",
    "officina",
    "binnen",
    "inne",
    "sisa",
    "comedor",
    "habitacion",
    "ti",
    "室内",
)
#: Columns of this kind are chosen only if nothing better is there.
DOUBTFUL_WORDS = (
    "source",
    "uncert",
    "uncertainty",
    "code",
    "flag",
    "quality",
    "error",
    "alarm",
    "limit",
    "setpoint",
    "set",
    "battery",
    "batt",
    "akku",
    "max",
    "min",
    "maximum",
    "minimum",
    "std",
    "stdev",
    "water",
    "board",
    "cpu",
    "felt",
    "feels",
    "apparent",
    "heat index",
    "chill",
)

TIME_WORDS = (
    "time",
    "timestamp",
    "datetime",
    "date",
    "datum",
    "zeit",
    "uhrzeit",
    "zeitstempel",
    "zeitpunkt",
    "messzeit",
    "heure",
    "horodatage",
    "fecha",
    "hora",
    "data",
    "ora",
    "tijd",
    "tijdstip",
    "dato",
    "tid",
    "klokkeslaet",
    "klockslag",
    "tidspunkt",
    "aika",
    "paivamaara",
    "godzina",
    "czas",
    "cas",
    "when",
    "epoch",
    "unix",
    "elapsed",
    "seconds",
    "日期",
    "时间",
    "時間",
    "日時",
    "時刻",
    "日付",
    "дата",
    "время",
)
PARTS: Mapping[str, tuple[str, ...]] = {
    "year": ("year", "jahr", "annee", "ano", "anno", "jaar", "yyyy"),
    "month": ("month", "monat", "mois", "mes", "mese", "maand", "mo"),
    "day": ("day", "tag", "jour", "dia", "giorno", "dag", "dd"),
    "hour": ("hour", "stunde", "heure", "hora", "ora", "uur", "hh", "hr"),
    "minute": ("minute", "min", "minuto", "minuut", "mm"),
    "second": ("second", "sekunde", "seconde", "segundo", "sec", "ss"),
}
STATION_WORDS = (
    "station",
    "origin",
    "site",
    "location",
    "place",
    "device",
    "logger",
    "messstelle",
    "standort",
    "lieu",
    "estacion",
    "stazione",
)
CHANNEL_WORDS = (
    "channel",
    "sensor",
    "parameter",
    "quantity",
    "variable",
    "measurement",
    "metric",
    "type",
    "kanal",
    "messgrosse",
    "canal",
    "canale",
    "grandeur",
    "entity id",
    "field",
)
VALUE_WORDS = ("value", "reading", "wert", "messwert", "valeur", "valor", "valore", "state", "mean")
UNIT_WORDS = ("unit", "units", "einheit", "unite", "unidad", "unita", "eenheid")
EVENT_WORDS = ("event", "events", "ereignis", "comment", "note", "marker", "remark", "bemerkung")

MONTHS: tuple[tuple[str, ...], ...] = (
    ("january", "januar", "janvier", "enero", "gennaio", "januari", "janeiro", "janner", "ene"),
    ("february", "februar", "fevrier", "febrero", "febbraio", "februari", "fevereiro", "feber"),
    ("march", "marz", "mars", "marzo", "maart", "marco", "mrz", "mrt", "marts", "maerz"),
    ("april", "avril", "abril", "aprile"),
    ("may", "mai", "mayo", "maggio", "mei", "maio", "maj"),
    ("june", "juni", "juin", "junio", "giugno", "junho"),
    ("july", "juli", "juillet", "julio", "luglio", "julho"),
    ("august", "aout", "agosto", "augustus", "augusti"),
    ("september", "septembre", "septiembre", "settembre", "setembro", "sept"),
    ("october", "oktober", "octobre", "octubre", "ottobre", "outubro"),
    ("november", "novembre", "noviembre", "novembro"),
    ("december", "dezember", "decembre", "diciembre", "dicembre", "dezembro", "desember"),
)

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
