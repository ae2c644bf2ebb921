"""README's picture shows what the program draws today."""

from __future__ import annotations

from pathlib import Path

from tests.pictures import PICTURE, draw


def test_the_picture_in_readme_is_current(island_home: Path) -> None:
    """If it is not: `python -m tests.pictures`."""
    assert PICTURE.read_bytes() == draw(island_home)
    assert PICTURE.name in (PICTURE.parents[1] / "README.md").read_text(encoding="utf-8")
