"""All checks that run nothing: format, lint, types, layers. Any arguments name the ones to run.

python scripts/check.py [format] [lint] [types] [layers]
"""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
TOOLS = Path(sys.executable).parent

STEPS = {
    "format": [sys.executable, "-m", "ruff", "format", "--check", "."],
    "lint": [sys.executable, "-m", "ruff", "check", "."],
    "types": [sys.executable, "-m", "mypy"],
    "layers": [str(TOOLS / "lint-imports"), "--no-cache"],
}


def failed_steps(names: list[str]) -> list[str]:
    """Run the steps and return those that failed; a failing one does not stop the rest."""
    failed = []
    for name in names:
        print(f"== {name}", flush=True)
        if subprocess.run(STEPS[name], cwd=ROOT, check=False).returncode:
            failed.append(name)
    return failed


def main(names: list[str]) -> int:
    """Run the named steps, or all of them."""
    unknown = [name for name in names if name not in STEPS]
    if unknown:
        print(f"no check is called {unknown[0]}; accepted: {', '.join(STEPS)}", file=sys.stderr)
        return 2
    failed = failed_steps(names or list(STEPS))
    print(f"checks failed: {', '.join(failed)}" if failed else "checks passed", flush=True)
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
