"""`advisor outlook`: air and surface of every area in the coming days, as text, JSON or picture."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import numpy as np

from advisor.base.errors import InputError
from advisor.base.paths import default_database, resources_dir
from advisor.base.store import Store
from advisor.base.units import format_difference, format_temperature
from advisor.cli.outlook_picture import picture
from advisor.cli.printing import iso, number, write_json, write_list
from advisor.cli.request import Call
from advisor.planning.words import Words
from advisor.work.outlook_views import OutlookAnswer, OutlookView, SourceView
from advisor.work.shop_bench import why_none
from advisor.work.workbench import Workbench

#: Digits that anyone could measure.
DIGITS = 2


def outlook(call: Call) -> int:
    """Answer for the job of a file, or the one in hand."""
    with _bench(call) as bench:
        if call.options.fetch:
            call.out.write("" if call.options.json else f"{bench.fetch_forecast(call.now_s)}\n")
        job = bench.job()
        if job is not None and job.shop is None:
            raise InputError(why_none(job))
        found = bench.outlook(call.now_s, int(call.options.days))
        zone = call.given_zone or bench.words(call.now_s).zone
    words = Words(call.options.units, zone, call.now_s)
    if call.options.picture is not None:
        _write_pictures(call, found, words)
    if call.options.json:
        write_json(call.out, as_json(found, words))
    else:
        _print(call, found, words)
    return 0


@contextmanager
def _bench(call: Call) -> Iterator[Workbench]:
    """Open the database; a job or weather file given is used for this call and not kept."""
    options = call.options
    with Store(options.database or default_database()) as store:
        bench = Workbench(store, resources_dir())
        if options.job is not None:
            bench.use_job_file(options.job)
        if options.weather is not None:
            bench.use_weather_file(options.weather, call.now_s)
        yield bench


def as_json(found: OutlookAnswer, words: Words) -> dict[str, object]:
    """Return the answer in the documented keys; what is not known is null."""
    return {
        "made_at": iso(found.made_s, words.zone),
        "source": None if found.source is None else _source(found.source, words),
        "response": {"fitted": found.fitted, "text": found.response_text},
        "areas": [_area(view, words) for view in found.areas],
        "notes": list(found.notes),
    }


def _source(source: SourceView, words: Words) -> dict[str, object]:
    return {
        "id": source.id,
        "name": source.name,
        "state": source.state,
        "text": source.text,
        "credit": source.credit,
        "issued_at": iso(source.issued_s, words.zone),
        "fetched_at": iso(source.fetched_s, words.zone),
        "ends_at": iso(source.ends_s, words.zone),
    }


def _area(view: OutlookView, words: Words) -> dict[str, object]:
    return {
        "id": view.area_id,
        "name": view.area_name,
        "hours": [_hour(view, k, words) for k in range(len(view.time_s))],
        "notes": list(view.notes),
    }


def _hour(view: OutlookView, k: int, words: Words) -> dict[str, object]:
    def read(part: dict[str, np.ndarray]) -> dict[str, float | None]:
        return {name: _rounded(values[k]) for name, values in part.items()}

    return {
        "at": iso(float(view.time_s[k]), words.zone),
        "origin": view.origin[k] if view.origin else None,
        **read(view.columns),
        "low": read(view.low),
        "high": read(view.high),
    }


def _rounded(value: float) -> float | None:
    found = number(float(value))
    return None if found is None else round(found, DIGITS)


def _write_pictures(call: Call, found: OutlookAnswer, words: Words) -> None:
    """Write one SVG an area: the first under the name given, the others with their id in it."""
    path: Path = call.options.picture
    credit = "" if found.source is None else f"{found.source.credit}; {found.source.text}"
    for k, view in enumerate(found.areas):
        name = path if k == 0 else path.with_name(f"{path.stem}-{view.area_id}{path.suffix}")
        try:
            name.write_text(picture(view, words, credit or found.response_text), encoding="utf-8")
            if not call.options.json:
                call.out.write(f"{view.area_name}: {name}\n")
        except OSError as error:
            raise InputError(
                f"--picture: found {name.name}, which cannot be written ({error.strerror}); "
                "accepted: a file name in a folder that can be written to"
            ) from error


def _print(call: Call, found: OutlookAnswer, words: Words) -> None:
    if found.source is not None:
        call.out.write(f"{found.source.name}: {found.source.text}\n{found.source.credit}\n")
    call.out.write(f"{found.response_text}\n")
    write_list(call.out, "Notes", found.notes)
    known = [view for view in found.areas if not np.isnan(view.columns["air_temp_c"]).all()]
    for view in known:
        call.out.write(f"\n{view.area_name}\n")
        for k in range(0, len(view.time_s), 3):
            call.out.write(_line(view, k, words))
        write_list(call.out, "  note", view.notes)
    call.out.write("\nAn outlook, not a measurement. The maker's data sheet comes first.\n")


def _line(view: OutlookView, k: int, words: Words) -> str:
    def told(name: str) -> str:
        value = float(view.columns[name][k])
        return "-" if np.isnan(value) else format_temperature(value, words.units)

    margin = float(view.columns["margin_k"][k])
    above = "-" if np.isnan(margin) else format_difference(margin, words.units)
    low = view.low.get("margin_k")
    at_least = (
        ""
        if low is None or np.isnan(low[k])
        else (f" (9 in 10: over {format_difference(float(low[k]), words.units)})")
    )
    return (
        f"  {words.moment(float(view.time_s[k])):<10} air {told('air_temp_c'):>8}  "
        f"dew point {told('dew_point_c'):>8}  coldest spot {told('surface_temp_c'):>8}  "
        f"above dew point {above}{at_least}\n"
    )
