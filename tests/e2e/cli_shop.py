"""Runs the command line in this process at a fixed time, and writes logs for it to read."""

from __future__ import annotations

import io
import itertools
import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from advisor.cli import main as cli

DATA = Path(__file__).resolve().parents[1] / "data" / "cli"
#: A Thursday; every log of these tests starts at its midnight, UTC.
DAY = datetime(2025, 5, 1, tzinfo=UTC)
Point = tuple[float, float]


@dataclass(frozen=True)
class Done:
    """What one call gave back."""

    code: int
    out: str
    err: str

    @property
    def json(self) -> Any:
        """The answer as JSON."""
        assert self.out, self.err
        return json.loads(self.out)

    def reason(self, rule: str, phase: str | None = None) -> dict[str, Any]:
        """The first reason of a rule."""
        return next(
            r
            for r in self.json["reasons"]
            if r["rule"] == rule and (phase is None or r["phase"] == phase)
        )

    def rules(self, holds: bool | None) -> set[str]:
        """Names of the rules that hold, are broken, or are not known."""
        return {r["rule"] for r in self.json["reasons"] if r["holds"] is holds}

    def hours_to(self, milestone: str, since: str) -> float:
        """Hours from one milestone to another."""
        moments = {m["name"]: m["at"] for m in self.json["milestones"]}
        ends = [datetime.fromisoformat(moments[name]) for name in (milestone, since)]
        return (ends[0] - ends[1]).total_seconds() / 3600


def call(*argv: object, now: datetime = DAY) -> Done:
    """Run one command line with the clock at `now`."""
    out, err = io.StringIO(), io.StringIO()
    words = [str(word) for word in argv]
    code = cli.guarded(lambda: cli.run(cli.parse(words), now.timestamp(), out, err), err)
    return Done(code, out.getvalue(), err.getvalue())


def product(name: str) -> Path:
    """An invented product file."""
    return DATA / f"{name}.toml"


def at(hour: float) -> str:
    """ISO time some hours after the start of the log."""
    return (DAY + timedelta(hours=hour)).isoformat()


def through(points: Sequence[Point]) -> Callable[[float], float]:
    """Straight lines through (hour, value) points, level beyond them."""

    def value(hour: float) -> float:
        if hour <= points[0][0]:
            return points[0][1]
        for (h0, v0), (h1, v1) in itertools.pairwise(points):
            if hour <= h1:
                return v0 + (v1 - v0) * (hour - h0) / (h1 - h0)
        return points[-1][1]

    return value


def write_log(
    path: Path,
    hours: float,
    columns: Mapping[str, Sequence[Point] | float | Callable[[float], float]],
    *,
    minutes: int = 5,
) -> Path:
    """Write a log in canonical columns; each column by points, a constant, or a function."""
    made = {}
    for name, what in columns.items():
        if callable(what):
            made[name] = what
        else:
            made[name] = through([(0.0, what)] if isinstance(what, int | float) else what)
    lines = ["time," + ",".join(made)]
    for k in range(int(hours * 60 / minutes) + 1):
        hour = k * minutes / 60
        stamp = (DAY + timedelta(hours=hour)).strftime("%Y-%m-%dT%H:%M:%SZ")
        lines.append(stamp + "," + ",".join(f"{f(hour):.4f}" for f in made.values()))
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path
