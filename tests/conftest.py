"""Fixtures shared by all tests."""

from __future__ import annotations

from pathlib import Path

import pytest

_SHARED = Path(__file__).resolve().parents[2] / "shared" / "data"


@pytest.fixture(scope="session")
def shared_data() -> Path:
    """The folder of real open data laid beside the checkout; tests that need it skip without."""
    if not _SHARED.is_dir():
        pytest.skip("real open data is not laid beside this checkout (../shared/data)")
    return _SHARED


@pytest.fixture(scope="session")
def island_home(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A home folder with the demo's region `island` built; routes lie in demo/routes."""
    from terrain.demo.region import ensure_demo_region

    home = tmp_path_factory.mktemp("home")
    ensure_demo_region(home)
    return home
