"""Fit the demo shed's response to its own invented log, and keep it beside the demo's job.

    python scripts/demo_response.py

The fit takes seconds, so the demo opens on the kept one. A test fits again and compares.
"""

from __future__ import annotations

import json
import sys
import tempfile
from dataclasses import asdict
from datetime import UTC, datetime
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT))

from advisor.base.store import Store  # noqa: E402
from advisor.climate.shop.fit import Fit, fit_response  # noqa: E402
from advisor.work.fitting import FIT_DAYS, log_until  # noqa: E402
from advisor.work.workbench import Workbench  # noqa: E402

#: The evening of a day in May; the demo's weather is the same on any.
NOW_S = datetime(2026, 5, 14, 8, 10, tzinfo=UTC).timestamp()


def fitted() -> Fit:
    """Fit the demo's shed as it stands at the fixed clock."""
    with tempfile.TemporaryDirectory() as folder, Store(Path(folder) / "demo.sqlite3") as store:
        bench = Workbench(store, ROOT / "resources")
        job = bench.load_demo(NOW_S)
        ground = bench.fit_ground(NOW_S)
        assert job.shop is not None
        assert ground is not None
        return fit_response(job.shop, log_until(store, ground, NOW_S, FIT_DAYS))


def main() -> int:
    """Write response and skill as one JSON file."""
    found = fitted()
    if found.skill is None or not found.response.fitted:
        print(f"no fit: {found.response.reason}", file=sys.stderr)
        return 1
    whole = {"response": json.loads(found.response.to_json()), "skill": asdict(found.skill)}
    path = ROOT / "resources" / "demo" / "response.json"
    path.write_text(json.dumps(whole, indent=1, sort_keys=True) + "\n", encoding="utf-8")
    print(path.relative_to(ROOT))
    return 0


if __name__ == "__main__":
    sys.exit(main())
