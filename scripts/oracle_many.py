"""Compare the rule engine with its plain-loop twin on many starts, by hand.

python scripts/oracle_many.py [--starts 200000] [--seed 100]

Prints how often each verdict and each rule alone came up, and every difference; leaves with 1
when there was one. Takes about a minute and a half for 200 000 starts.
"""

from __future__ import annotations

import argparse
import sys
from collections import Counter
from pathlib import Path
from random import Random
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from tests.oracle import adapter, cases, plain_rules

CASES_AT_ONCE = 50
STARTS_PER_CASE = 80
SHOWN = 20


def main() -> int:
    """Run batch after batch until enough starts were compared."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--starts", type=int, default=200_000)
    parser.add_argument("--seed", type=int, default=100)
    options = parser.parse_args()
    tally: Counter[str] = Counter()
    found: list[str] = []
    seed = options.seed
    while tally["starts"] < options.starts:
        compare_batch(seed, tally, found)
        seed += 1
    for name, count in sorted(tally.items()):
        print(f"{name:28} {count:8}")
    print(f"{len(found)} differences", *found[:SHOWN], sep="\n")
    return 1 if found else 0


def compare_batch(seed: int, tally: Counter[str], found: list[str]) -> None:
    """Compare the starts of one seed."""
    rng = Random(seed + 1)
    for place, drawn in enumerate(cases.case_list(seed, CASES_AT_ONCE)):
        case = adapter.with_spread(drawn)
        starts = cases.some_starts(case, rng, STARTS_PER_CASE, adapter.changes(case))
        for start, answer in zip(starts, adapter.answers(case, starts), strict=True):
            found += compare(case, start, answer, tally, f"seed {seed} case {place}")


def compare(case: Any, start: int, answer: Any, tally: Counter[str], where: str) -> list[str]:
    """One start; the difference as a line, if any."""
    verdict, broken, *_ = plain_rules.judge(case, start)
    tally["starts"] += 1
    tally[f"verdict {verdict}"] += 1
    if len(broken) == 1:
        tally[f"alone {next(iter(broken))}"] += 1
    if (verdict, broken) == (answer.verdict, answer.broken):
        return []
    plain = f"{verdict} {sorted(broken)}"
    return [
        f"{where} start {start}: plain {plain}, program {answer.verdict} {sorted(answer.broken)}"
    ]


if __name__ == "__main__":
    sys.exit(main())
