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
