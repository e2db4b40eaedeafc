"""Where the program's own files and the user's database are."""

from __future__ import annotations

import sys
from pathlib import Path

from advisor.base.errors import StoreError

#: Folder of the user's data, under whatever the platform calls its data folder.
APP_FOLDER = "painting-window-advisor"
DATABASE_NAME = "advisor.sqlite3"


def resources_dir() -> Path:
    """Find the resources of a frozen bundle, an installed wheel or a checkout, in that order.

    Raises StoreError when none is there, since the installation is then incomplete.
    """
    return find_resources(Path(__file__).resolve().parents[1], getattr(sys, "_MEIPASS", None))


def find_resources(package: Path, bundle: str | None = None) -> Path:
    """Find the resources beside or inside `package` (the `advisor` folder), or in a bundle."""
    candidates = [package / "_resources", package.parent / "resources"]
    # A checkout is told by its pyproject: some other program's `resources` may lie beside
    # an installed package.
    if not (package.parent / "pyproject.toml").is_file():
        candidates.pop()
    if bundle is not None:
        candidates = [Path(bundle, "advisor", "_resources"), Path(bundle, "resources"), *candidates]
    for folder in candidates:
        if folder.is_dir():
            return folder
    raise StoreError(
        f"The program's own files are missing (looked in {candidates[0]}); install it again."
    )


def resource(*parts: str) -> Path:
    """Return a file or folder of the resources, such as `resource("demo", "job.toml")`."""
    return resources_dir().joinpath(*parts)


def data_dir() -> Path:
    """Return the folder of the user's data; it may not exist yet."""
    # Imported here: the command line with --database never needs it.
    import platformdirs

    return platformdirs.user_data_path(APP_FOLDER, appauthor=False)


def cache_dir() -> Path:
    """Return the folder of files that can be fetched again; it may not exist yet."""
    import platformdirs

    return platformdirs.user_cache_path(APP_FOLDER, appauthor=False)


def default_database() -> Path:
    """Return the database used when none is named; the file may not exist yet."""
    return data_dir() / DATABASE_NAME
