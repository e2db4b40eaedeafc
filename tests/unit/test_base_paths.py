"""Resources are found in a checkout, a wheel and a bundle."""

from __future__ import annotations

from pathlib import Path

import pytest

from advisor.base import paths
from advisor.base.errors import StoreError


def test_this_checkout_has_resources() -> None:
    assert paths.resources_dir().name == "resources"
    assert paths.resource("changelog.md").is_file()


def test_checkout(tmp_path: Path) -> None:
    (tmp_path / "resources").mkdir()
    (tmp_path / "pyproject.toml").touch()
    assert paths.find_resources(tmp_path / "advisor") == tmp_path / "resources"


def test_wheel_ignores_resources_of_a_neighbour(tmp_path: Path) -> None:
    (tmp_path / "resources").mkdir()
    own = tmp_path / "advisor" / "_resources"
    own.mkdir(parents=True)
    assert paths.find_resources(tmp_path / "advisor") == own
    own.rmdir()
    with pytest.raises(StoreError, match="install it again"):
        paths.find_resources(tmp_path / "advisor")


@pytest.mark.parametrize("place", ["resources", "advisor/_resources"])
def test_bundle(tmp_path: Path, place: str) -> None:
    (tmp_path / place).mkdir(parents=True)
    found = paths.find_resources(tmp_path / "elsewhere", str(tmp_path))
    assert found == tmp_path / place


def test_database_is_in_the_users_data_folder() -> None:
    database = paths.default_database()
    assert database.is_absolute()
    assert database.parent.name == paths.APP_FOLDER
    assert database.parent == paths.data_dir()
    assert paths.cache_dir() != paths.data_dir()
