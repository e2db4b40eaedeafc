"""The page Tonight for a phone: one HTML file that needs nothing else, and says how old it is."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime
from html import escape
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING

from advisor.planning.words import Words
from advisor.work.whole_file import write_whole

if TYPE_CHECKING:
    from advisor.work.views import FilmTonight, Reading
    from advisor.work.workbench import Workbench

PAGE_NAME = "tonight.html"
_CAUTION = (
    "Advice only: the maker's data sheet, local codes and licensed practice come first. Read the "
    "surface yourself before you act on this."
)
#: Word, shape and colour of a film's night; never a colour alone.
_MARKS = MappingProxyType(
    {
        "wait": ("▲", "Trouble tonight"),
        "go": ("●", "Clear tonight"),
        "unknown": ("?", "Can't tell"),
    }
)


def write_tonight_page(bench: Workbench, folder: Path, now_s: float) -> Path:
    """Write the page into a folder, over the last one; the file is always a whole page.

    InputError in one line where the folder is missing or cannot be written.
    """
    words = bench.words(now_s)
    page = tonight_html(
        bench.job_in_hand().name, bench.tonight(now_s), bench.latest_reading(now_s), words
    )
    return write_whole(folder / PAGE_NAME, page.encode(), replace=True)


def tonight_html(
    job_name: str, films: Sequence[FilmTonight], reading: Reading | None, words: Words
) -> str:
    """Return the page. `words.now_s` is when it is written; films in trouble come first."""
    now_s = words.now_s or 0.0
    written = datetime.fromtimestamp(int(now_s), UTC).astimezone(words.zone)
    ordered = sorted(films, key=lambda film: not film.trouble)
    cards = "".join(_card(film, words) for film in ordered) or _NOTHING
    return _PAGE.format(
        title=escape(f"Tonight: {job_name}"),
        job=escape(job_name),
        iso=written.isoformat(),
        written=f"{written:%A} {written.day} {written:%B %Y, %H:%M}",
        day=f"{written:%A} {written.day} {written:%B}",
        milliseconds=int(now_s) * 1000,
        cards=cards,
        reading=_reading(reading, words),
        caution=escape(_CAUTION),
    )


def kind_of_night(film: FilmTonight) -> str:
    """Return "wait" in trouble, "go" clear of dew, "unknown" where it cannot be told."""
    if film.trouble:
        return "unknown" if film.dew_safe_s is None and film.wet_at_s is None else "wait"
    return "unknown" if film.dew_safe_s is None else "go"


def _card(film: FilmTonight, words: Words) -> str:
    kind = kind_of_night(film)
    shape, word = _MARKS[kind]
    facts = (
        ("Tack-free from", film.tack_free_s, "not known"),
        ("Can take dew from", film.dew_safe_s, "not known"),
        ("Wet from", film.wet_at_s, "not tonight" if kind == "go" else "not known"),
    )
    rows = "".join(
        f"<tr><th>{label}</th><td>{escape(none if at is None else words.moment(at))}</td></tr>"
        for label, at, none in facts
    )
    said = "".join(f"<p>{escape(text)}</p>" for text in (film.advice, film.next_text) if text)
    return (
        f'<section class="{kind}"><p class="mark"><span>{shape}</span> {escape(word)}</p>'
        f"<h2>{escape(f'{film.coat.name}, {film.area.name}')}</h2>"
        f'<p class="quiet">{escape(film.product_name)}</p>'
        f'<p class="head">{escape(film.headline)}</p>{said}<table>{rows}</table></section>\n'
    )


def _reading(reading: Reading | None, words: Words) -> str:
    if reading is None:
        return "No reading is kept."
    values = (
        ("air", reading.air_temp_c, "°C"),
        ("humidity", reading.rh_pct, "%"),
        ("coldest spot", reading.surface_temp_c, "°C"),
    )
    told = [f"{name} {words.value(v, unit)}" for name, v, unit in values if v is not None]
    when = words.moment(reading.taken_s)
    return escape(f"Last reading {when} ({reading.origin}): {', '.join(told) or 'no value'}.")


_NOTHING = (
    '<section class="go"><p class="mark"><span>●</span> Nothing wet tonight</p>'
    "<p>No coat is down that still has to dry.</p></section>\n"
)
_PAGE = """\
<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="color-scheme" content="light dark">
<title>{title}</title>
<style>
:root {{ --page: #f6f5f1; --card: #fff; --ink: #1b1d1f; --quiet: #565b60; --line: #c9ccd0;
  --go: #00603c; --wait: #a5140a; --unknown: #6d4300; }}
@media (prefers-color-scheme: dark) {{ :root {{ --page: #15181b; --card: #20252a; --ink: #f0efec;
  --quiet: #b4bac0; --line: #454c53; --go: #6fd3a4; --wait: #ff9d90; --unknown: #f0c36b; }} }}
* {{ box-sizing: border-box; }}
body {{ margin: 0 auto; padding: 16px; max-width: 40rem; background: var(--page);
  color: var(--ink); font: 18px/1.45 system-ui, sans-serif; overflow-wrap: anywhere; }}
h1 {{ font-size: 1.4rem; margin: 0; }}
h2 {{ font-size: 1.15rem; margin: 0.2em 0 0; }}
p {{ margin: 0.4em 0; }}
section {{ background: var(--card); border: 1px solid var(--line); border-left-width: 8px;
  border-radius: 8px; padding: 12px 16px; margin: 14px 0; }}
.mark {{ font-size: 1.3rem; font-weight: 700; }}
.go {{ border-left-color: var(--go); }} .go .mark {{ color: var(--go); }}
.wait {{ border-left-color: var(--wait); }} .wait .mark {{ color: var(--wait); }}
.unknown {{ border-left-color: var(--unknown); }} .unknown .mark {{ color: var(--unknown); }}
.head {{ font-weight: 700; }}
.quiet, footer {{ color: var(--quiet); font-size: 0.9rem; }}
.old {{ color: var(--wait); font-weight: 700; }}
table {{ border-collapse: collapse; width: 100%; }}
th {{ text-align: left; font-weight: 400; color: var(--quiet); padding: 4px 12px 4px 0; }}
td {{ text-align: right; font-weight: 600; }}
</style>
</head>
<body>
<h1>Tonight</h1>
<p>{job}</p>
<p>Written <time datetime="{iso}">{written}</time>.
<span id="age">What came after that is not on this page.</span>
A time without a day is of {day}.</p>
{cards}<p>{reading}</p>
<footer><p>{caution}</p></footer>
<script>
function age() {{
  var minutes = Math.floor((Date.now() - {milliseconds}) / 60000);
  var place = document.getElementById("age");
  var hours = Math.floor(minutes / 60);
  var told = minutes < 1 ? "Just now" : minutes < 60 ? minutes + " min ago"
    : hours < 48 ? hours + " h ago" : Math.floor(hours / 24) + " days ago";
  if (minutes < -5) {{
    place.textContent = "How old it is, this phone's clock cannot tell: it is behind.";
    place.className = "old";
    return;
  }}
  place.textContent = told + (minutes > 120 ? ": old. What came after is not on this page." : ".");
  place.className = minutes > 120 ? "old" : "";
}}
age();
setInterval(age, 30000);
</script>
</body>
</html>
"""
