"""Skill of the shop response on a log: fitted on one part, judged on the rest.

The weather that came is taken as the forecast. Reads delimited text (comma, semicolon, tab or
blanks) with a header line, which may begin with "#" and number its columns ("3:Name"). Example:

    python scripts/shop_skill.py LOG --time Date Time --air Indoor_T --rh Indoor_RH \
        --out-air Outdoor_T --out-rh Outdoor_RH --sun Pyranometer
"""

from __future__ import annotations

import argparse
import re
import time
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from advisor.climate.outdoor import Outdoor
from advisor.climate.series import on_grid
from advisor.climate.shop.fit import fit_response
from advisor.climate.shop.response import ShopLog
from advisor.climate.shop.shop import KINDS, Shop
from advisor.climate.shop.skill import Skill, skill_on
from advisor.physics import moist_air

FloatArray = NDArray[np.float64]
TIME_FORMATS = ("%d/%m/%Y %H:%M:%S", "%d/%m/%Y %H:%M", "%d.%m.%Y %H:%M", "%m/%d/%Y %H:%M")


def main() -> None:
    """Read the log, fit, judge, print."""
    asked = arguments().parse_args()
    log = read_log(asked)
    n = len(log.outdoor)
    cut = int(n * asked.train)
    fit_part, judged = (0, cut), (cut, n)
    if asked.reverse:
        fit_part, judged = (n - cut, n), (0, n - cut)
    began = time.perf_counter()
    fit = fit_response(Shop(asked.kind, asked.volume), log.part(*fit_part))
    took_s = time.perf_counter() - began
    stamps = log.outdoor.time_s
    skill = skill_on(
        fit.response,
        log,
        every_h=asked.every,
        horizon_h=asked.horizon,
        from_s=float(stamps[judged[0]]),
        until_s=float(stamps[judged[1] - 1]),
    )
    print(f"{asked.air}: {n} steps of {log.outdoor.step_s // 60} min, fitted in {took_s:.1f} s")
    print(f"  fitted={fit.response.fitted} {fit.response.reason} {'; '.join(fit.notes)}")
    print(f"  {fit.response.thermal}\n  {fit.response.moisture}")
    print(f"  loss {fit.response.loss_w_k:.0f} W/K (fitted: {fit.response.loss_fitted})")
    if fit.skill is not None:
        print("  cross-validated on the fitted part:", words(fit.skill))
    print(f"  on the rest, every {asked.every:g} h:", words(skill))


def words(skill: Skill) -> str:
    """Return the figures in a line for air and one for dew point."""
    lines = [f"{skill.runs} starts, {skill.horizon_h:g} h, all leads pooled"]
    for name in ("air", "dew"):
        ours, now, out = (
            getattr(skill, f"{name}_{what}")
            for what in ("rmse_k", "same_as_now_k", "same_as_outdoors_k")
        )
        lines.append(
            f"    {name}: RMSE {ours:.3f} K; same as now {now:.2f} K ({1 - ours / now:.0%} better)"
            f"; same as outdoors {out:.2f} K ({1 - ours / out:.0%} better)"
        )
    return "\n".join(lines)


def arguments() -> argparse.ArgumentParser:
    """Return the command line."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("file", type=Path)
    parser.add_argument(
        "--time", nargs="+", required=True, help="name of 1 or 2 columns; # = first"
    )
    parser.add_argument("--air", required=True)
    parser.add_argument("--rh", help="shop RH %%; or --dew")
    parser.add_argument("--dew")
    parser.add_argument("--out-air", required=True)
    parser.add_argument("--out-rh")
    parser.add_argument("--out-dew")
    parser.add_argument("--sun", help="global horizontal, W/m2")
    parser.add_argument("--heat", help="heating power, W, mean of the step before its stamp")
    parser.add_argument("--heat-after", action="store_true", help="mean of the step after instead")
    parser.add_argument("--step-min", type=int, default=15)
    parser.add_argument("--train", type=float, default=0.6, help="share fitted on")
    parser.add_argument("--reverse", action="store_true", help="fit on the last part instead")
    parser.add_argument("--horizon", type=float, default=48.0)
    parser.add_argument("--every", type=float, default=4.0)
    parser.add_argument("--kind", choices=KINDS, default="insulated")
    parser.add_argument("--volume", type=float, default=200.0, help="m3")
    return parser


def read_log(asked: argparse.Namespace) -> ShopLog:
    """Return the file's columns on an even grid, gaps of over three hours left open."""
    names, rows = table(asked.file)
    stamps = np.array([stamp(" ".join(row[names.index(c)] for c in asked.time)) for row in rows])
    order = np.argsort(stamps, kind="stable")
    step_s = asked.step_min * 60
    grid = np.arange(-(-stamps.min() // step_s) * step_s, stamps.max() + 1, step_s)

    def column(name: str | None) -> FloatArray | None:
        if name is None:
            return None
        raw = np.array([number(row[names.index(name)]) for row in rows])
        return on_grid(stamps[order], raw[order], grid)

    air, out = column(asked.air), column(asked.out_air)
    assert air is not None
    assert out is not None
    columns = {
        "air_temp_c": out,
        "dew_point_c": dew(out, column(asked.out_rh), column(asked.out_dew)),
    }
    sun = column(asked.sun)
    if sun is not None:
        columns["sun_w_m2"] = np.maximum(sun, 0.0)
    outdoor = Outdoor(int(grid[0]), step_s, columns)
    inside, heat = dew(air, column(asked.rh), column(asked.dew)), column(asked.heat)
    if heat is not None and asked.heat_after:
        heat = np.concatenate([heat[:1], heat[:-1]])
    return ShopLog(air, inside, outdoor, heat)


def dew(air: FloatArray, rh: FloatArray | None, given: FloatArray | None) -> FloatArray:
    """Return dew point as given, else from RH, else all holes."""
    if given is not None:
        return given
    return np.full(len(air), np.nan) if rh is None else moist_air.dew_point_array(air, rh)


def table(path: Path) -> tuple[list[str], list[list[str]]]:
    """Return column names and rows; an unnamed first column is called "#"."""
    lines = path.read_text(encoding="utf-8-sig", errors="replace").splitlines()
    head = lines[0].lstrip("#").strip() if lines[0].startswith("#") else lines[0].rstrip()
    mark = next((m for m in (",", ";", "\t") if m in head), None)
    names = [re.sub(r"^\d+:", "", name.strip().strip('"')) or "#" for name in head.split(mark)]
    rows = [[cell.strip().strip('"') for cell in line.split(mark)] for line in lines[1:]]
    return names, [row for row in rows if len(row) >= len(names)]


def stamp(text: str) -> int:
    """Return UTC seconds of a time, taken as UTC where no zone is said."""
    try:
        found = datetime.fromisoformat(text)
    except ValueError:
        for form in TIME_FORMATS:
            try:
                found = datetime.strptime(text, form)
                break
            except ValueError:
                continue
        else:
            raise SystemExit(f"time {text!r}: not ISO and none of {TIME_FORMATS}") from None
    return round((found if found.tzinfo else found.replace(tzinfo=UTC)).timestamp())


def number(text: str) -> float:
    """Return a number, NaN for what is none."""
    try:
        return float(text)
    except ValueError:
        return float("nan")


if __name__ == "__main__":
    main()
