"""One way to open what a person names: every fault is one message of the caller's own error."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from terrain.errors import NotesError
from terrain.inputs.reading import read_most


def test_one_byte_over_the_most_is_read(tmp_path: Path) -> None:
    path = tmp_path / "a"
    path.write_bytes(b"12345")
    assert read_most(path, 5, NotesError) == b"12345"
    assert read_most(path, 3, NotesError) == b"1234"


def test_what_cannot_be_read_is_told(tmp_path: Path) -> None:
    with pytest.raises(NotesError, match=r"none: there is no such file\. Check the name\."):
        read_most(tmp_path / "none", 9, NotesError)
    with pytest.raises(NotesError, match=r"this is a folder\. Name one file\."):
        read_most(tmp_path, 9, NotesError)
    with pytest.raises(NotesError, match=r"cannot be read \(embedded null byte\)"):
        read_most(Path("a\0b"), 9, NotesError)
    if hasattr(os, "geteuid") and os.geteuid() != 0:  # nothing is closed to the superuser
        closed = tmp_path / "closed"
        closed.touch(mode=0)
        with pytest.raises(NotesError, match=r"cannot be read \(Permission denied\)"):
            read_most(closed, 9, NotesError)
