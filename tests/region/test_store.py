"""Values on disk: whole, mapped, and refused when anything is amiss."""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from pathlib import Path

import numpy as np
import pytest

from terrain.errors import RegionDamaged
from terrain.region.store import INDEX_NAME, load_value, save_value
from terrain.values.arrays import FloatArray, Int8Array, IntArray, frozen
from terrain.values.views import Category, Texts


class Colour(StrEnum):
    RED = "red"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Inner:
    kind: Category
    words: Texts


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Outer:
    numbers: FloatArray
    grid: Int8Array
    empty: IntArray
    inner: Inner
    extra: FloatArray | None
    note: str | None
    day: date
    colour: Colour
    count: int
    share: float
    yes: bool
    names: tuple[str, ...]
    pair: tuple[str, int]
    box: tuple[float, float]


def sample() -> Outer:
    return Outer(
        numbers=frozen(np.array([1.5, np.nan, -0.0])),
        grid=np.arange(6, dtype=np.int8).reshape(2, 3),
        empty=np.empty(0, np.int64),
        inner=Inner(
            kind=Category(codes=np.array([0, -1], np.int16), values=("élan", "b")),
            words=Texts(
                codes=np.array([0, -1], np.int32),
                start=np.array([0, 3], np.int64),
                blob=np.frombuffer("añ".encode(), np.uint8),
            ),
        ),
        extra=None,
        note=None,
        day=date(2023, 5, 2),
        colour=Colour.RED,
        count=np.int64(7),  # type: ignore[arg-type]
        share=float("nan"),
        yes=True,
        names=("a", "ü"),
        pair=("x", 1),
        box=(1.0, 2.0),
    )


def test_a_value_comes_back_as_it_was(tmp_path: Path) -> None:
    save_value(tmp_path / "v", sample())
    back = load_value(tmp_path / "v", Outer)
    np.testing.assert_array_equal(back.numbers, sample().numbers)
    assert np.signbit(back.numbers[2])
    assert back.grid.dtype == np.int8
    assert back.grid.shape == (2, 3)
    assert back.empty.dtype == np.int64
    assert len(back.empty) == 0
    assert back.inner.kind.text(0) == "élan"
    assert back.inner.words.text(0) == "añ"
    assert back.inner.words.text(1) is None
    assert (back.extra, back.note, back.day) == (None, None, date(2023, 5, 2))
    assert back.colour is Colour.RED
    assert (back.count, back.yes) == (7, True)
    assert np.isnan(back.share)
    assert (back.names, back.pair, back.box) == (("a", "ü"), ("x", 1), (1.0, 2.0))


def test_files_are_plain_npy(tmp_path: Path) -> None:
    """numpy's own reader opens them: format 1.0 of NEP 1."""
    save_value(tmp_path / "v", sample())
    np.testing.assert_array_equal(np.load(tmp_path / "v" / "numbers.npy"), sample().numbers)
    np.testing.assert_array_equal(np.load(tmp_path / "v" / "grid.npy"), sample().grid)
    words = np.load(tmp_path / "v" / "inner.words.blob.npy")
    assert bytes(words).decode() == "añ"


def test_arrays_are_mapped_and_read_only(tmp_path: Path) -> None:
    save_value(tmp_path / "v", sample())
    back = load_value(tmp_path / "v", Outer)
    codes = back.inner.kind.codes
    assert not codes.flags.writeable
    base: object = codes
    while isinstance(base, np.ndarray) and not isinstance(base, np.memmap):
        base = base.base
    assert isinstance(base, np.memmap)


def test_big_endian_and_strided_arrays_are_stored_plain(tmp_path: Path) -> None:
    value = Category(codes=np.arange(10, dtype=">i2")[::2], values=())
    save_value(tmp_path / "v", value)
    back = load_value(tmp_path / "v", Category)
    assert back.codes.dtype.isnative
    assert back.codes.tolist() == [0, 2, 4, 6, 8]


@dataclass(frozen=True)
class Odd:
    thing: object


@pytest.mark.parametrize("thing", [{"a": 1}, [1], np.array(["text"]), np.array([{}]), 1j])
def test_what_cannot_be_stored_is_refused(tmp_path: Path, thing: object) -> None:
    with pytest.raises(TypeError, match="cannot be stored"):
        save_value(tmp_path, Odd(thing))


def test_a_plain_dict_is_no_value(tmp_path: Path) -> None:
    with pytest.raises(TypeError, match="not a dataclass"):
        save_value(tmp_path, {})


def _cut(folder: Path) -> None:
    path = folder / "numbers.npy"
    path.write_bytes(path.read_bytes()[:-1])


def _grown(folder: Path) -> None:
    with (folder / "numbers.npy").open("ab") as file:
        file.write(b"x")


def _gone(folder: Path) -> None:
    (folder / "grid.npy").unlink()


def _no_index(folder: Path) -> None:
    (folder / INDEX_NAME).unlink()


def _garbage(folder: Path) -> None:
    (folder / INDEX_NAME).write_bytes(b"\xff{")


def _field_missing(folder: Path) -> None:
    _change(folder, lambda tree: tree.pop("day"))


def _wrong_type(folder: Path) -> None:
    _change(folder, lambda tree: tree.update(note=5))


def _pickles(folder: Path) -> None:
    _change(folder, lambda tree: tree["numbers"].update(dtype="|O"))


def _elsewhere(folder: Path) -> None:
    _change(folder, lambda tree: tree["numbers"].update(file="../numbers.npy"))


def _change(folder: Path, change: object) -> None:
    path = folder / INDEX_NAME
    tree = json.loads(path.read_text())
    change(tree)  # type: ignore[operator]
    path.write_text(json.dumps(tree))


@pytest.mark.parametrize(
    "harm",
    [_cut, _grown, _gone, _no_index, _garbage, _field_missing, _wrong_type, _pickles, _elsewhere],
)
def test_damage_is_named_with_its_file_and_a_fix(tmp_path: Path, harm: object) -> None:
    save_value(tmp_path / "v", sample())
    harm(tmp_path / "v")  # type: ignore[operator]
    with pytest.raises(RegionDamaged) as caught:
        load_value(tmp_path / "v", Outer)
    assert str(tmp_path) in caught.value.where
    assert "--replace" in caught.value.fix
