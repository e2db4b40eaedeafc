"""Write scripts/requirements.lock: names, versions and SHA-256 of every part, no addresses.

    python scripts/lock.py

pip chooses the versions on this machine (Linux x86_64, the oldest supported Python), then the
same versions are looked up for the newer Pythons, since their wheels have other hashes.
"""

from __future__ import annotations

import json
import platform
import subprocess
import sys
import tempfile
from pathlib import Path

from environment import LOCK, OLDEST, ROOT

NEWER = ("3.12", "3.13", "3.14")
BUILD = ["hatchling", "editables"]
#: glibc versions whose wheels are looked at; 2.34 is what Qt itself asks for.
GLIBC = range(5, 35)
PLATFORMS = [f"manylinux_2_{minor}_x86_64" for minor in GLIBC] + ["manylinux2014_x86_64"]


def report(arguments: list[str]) -> list[dict[str, object]]:
    """Ask pip what it would install."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder, "report.json")
        command = [sys.executable, "-m", "pip", "install", "--quiet", "--dry-run"]
        command += ["--ignore-installed", "--report", str(path), *arguments]
        subprocess.run(command, cwd=ROOT, check=True)
        return list(json.loads(path.read_text(encoding="utf-8"))["install"])


def entries(items: list[dict[str, object]]) -> dict[str, dict[str, str]]:
    """Reduce a report to name -> version, hash, and whether it is a wheel; not ourselves."""
    found = {}
    for item in items:
        info, data = item["download_info"], item["metadata"]
        if "dir_info" in info:  # this project
            continue
        name = data["name"].lower().replace("_", "-")
        found[name] = {
            "version": data["version"],
            "sha256": info["archive_info"]["hashes"]["sha256"],
            "wheel": "yes" if info["url"].endswith(".whl") else "",
        }
    return found


def resolve(target: str, pins: dict[str, dict[str, str]]) -> dict[str, dict[str, str]]:
    """Let pip choose versions for a target, keeping the pins."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder, "pins.txt")
        path.write_text("".join(f"{n}=={e['version']}\n" for n, e in pins.items()), "utf-8")
        return entries(report(["-c", str(path), target, *BUILD]))


def hashes_for(python: str, pins: dict[str, dict[str, str]]) -> dict[str, str]:
    """Look up the wheels of the same versions for another Python."""
    wanted = [f"{name}=={e['version']}" for name, e in pins.items() if e["wheel"]]
    platforms = [word for name in PLATFORMS for word in ("--platform", name)]
    with tempfile.TemporaryDirectory() as folder:
        arguments = ["--no-deps", "--only-binary=:all:", "--target", folder]
        arguments += ["--implementation", "cp", "--python-version", python, *platforms, *wanted]
        return {name: e["sha256"] for name, e in entries(report(arguments)).items()}


def all_hashes(pins: dict[str, dict[str, str]]) -> tuple[dict[str, set[str]], list[str]]:
    """Collect the hashes of every Python for which all wheels exist."""
    hashes = {name: {entry["sha256"]} for name, entry in pins.items()}
    versions = [f"{OLDEST[0]}.{OLDEST[1]}"]
    for python in NEWER:
        try:
            found = hashes_for(python, pins)
        except subprocess.CalledProcessError:
            print(f"Python {python}: not every part has a wheel; left out of the lock")
            continue
        versions.append(python)
        for name, value in found.items():
            hashes[name].add(value)
    return hashes, versions


def main() -> int:
    """Resolve the program, then the tests on top of it, and write the lock."""
    if (sys.version_info[:2], platform.machine()) != (OLDEST, "x86_64"):
        print(f"run this with Python {OLDEST[0]}.{OLDEST[1]} on x86_64 Linux", file=sys.stderr)
        return 2
    program = resolve(str(ROOT), {})
    everything = resolve(f"{ROOT}[test]", program)
    hashes, versions = all_hashes(everything)

    def lines(names: set[str]) -> list[str]:
        return [
            " \\\n    ".join(
                [f"{name}=={everything[name]['version']}"]
                + [f"--hash=sha256:{value}" for value in sorted(hashes[name])]
            )
            for name in sorted(names)
        ]

    head = [
        "# Made by scripts/lock.py; do not edit.",
        f"# for: linux x86_64 Python {' '.join(versions)}",
    ]
    parts = [*head, "# == program ==", *lines(set(program)), "# == tests =="]
    LOCK.write_text("\n".join([*parts, *lines(set(everything) - set(program)), ""]), "utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
