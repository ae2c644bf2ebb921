"""Frozen values on disk: one .npy file per array and one JSON file for all the rest.

A folder holds one value. Arrays come back as read-only memory maps, so opening takes the same
short time whatever the size, and several processes share the pages.
"""

from __future__ import annotations

import json
import math
import typing
from collections.abc import Iterator
from dataclasses import fields, is_dataclass
from datetime import date
from enum import Enum
from functools import cache
from pathlib import Path
from types import UnionType
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from terrain.errors import RegionDamaged
from terrain.region.disk import file_errors, write_file
from terrain.text.message import Message, message
from terrain.text.packed import message_from_json, message_json

INDEX_NAME = "value.json"
_REBUILD = message("Build the region again with --replace.")
_ARRAY_KINDS = "biuf"

_ValueT = TypeVar("_ValueT")


def save_value(folder: Path, value: object) -> None:
    """Write a frozen dataclass into `folder`, which is made if it is not there.

    Fields may be arrays of numbers, nested dataclasses, None, bool, int, float, str, dates,
    enums, and tuples of these. Raises TypeError for anything else, TerrainError if the disk
    refuses.
    """
    if not is_dataclass(value) or isinstance(value, type):
        raise TypeError(f"{type(value).__name__} is not a dataclass value")
    with file_errors(folder):
        folder.mkdir(parents=True, exist_ok=True)
    tree = _pack(folder, "", value)
    text = json.dumps(tree, ensure_ascii=False, separators=(",", ":"))
    write_file(folder / INDEX_NAME, [text.encode("utf-8")])


def load_value(folder: Path, cls: type[_ValueT]) -> _ValueT:
    """The value saved in `folder`, its arrays as read-only memory maps.

    Raises RegionDamaged if a file is missing, cut short or does not hold a `cls`.
    """
    index = folder / INDEX_NAME
    try:
        tree = json.loads(index.read_bytes())
    except FileNotFoundError as exc:
        raise _damaged(index, message("a file of the region is missing")) from exc
    except (OSError, ValueError) as exc:
        raise _damaged(index, message("a file of the region cannot be read")) from exc
    try:
        value = _unpack(folder, tree, cls)
    except (KeyError, TypeError, ValueError, AttributeError) as exc:
        raise _damaged(
            index,
            message(
                "the file does not describe {name} ({reason})",
                name=str(cls.__name__),
                reason=str(exc),
            ),
        ) from exc
    return typing.cast(_ValueT, value)


def _damaged(path: Path, what: Message) -> RegionDamaged:
    return RegionDamaged(what, str(path), _REBUILD)


def _pack(folder: Path, name: str, value: object) -> Any:
    """The JSON tree of one field; arrays are written beside it on the way."""
    if isinstance(value, np.ndarray):
        return _pack_array(folder, name, value)
    if is_dataclass(value) and not isinstance(value, type):
        prefix = f"{name}." if name else ""
        return {
            field.name: _pack(folder, prefix + field.name, getattr(value, field.name))
            for field in fields(value)
        }
    if isinstance(value, tuple):
        return [_pack(folder, f"{name}.{i}", item) for i, item in enumerate(value)]
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, np.generic):
        return value.item()
    if isinstance(value, Message):
        return message_json(value)
    if value is None or isinstance(value, bool | int | float | str):
        return value
    raise TypeError(f"field {name} holds {type(value).__name__}, which cannot be stored")


def _pack_array(folder: Path, name: str, array: NDArray[Any]) -> dict[str, Any]:
    if array.dtype.kind not in _ARRAY_KINDS:
        raise TypeError(f"field {name} holds an array of {array.dtype}, which cannot be stored")
    array = np.ascontiguousarray(array)
    if not array.dtype.isnative:
        array = array.astype(array.dtype.newbyteorder("="))
    tree: dict[str, Any] = {"dtype": array.dtype.str, "shape": list(array.shape)}
    if array.size:  # nothing can be mapped from an empty file
        header = _npy_header(array)
        write_file(folder / f"{name}.npy", [header, _bytes_of(array)])
        tree |= {"file": f"{name}.npy", "offset": len(header)}
    return tree


def _bytes_of(array: NDArray[Any]) -> memoryview:
    flat: Any = array.reshape(-1).view(np.uint8)
    return memoryview(flat)


def _npy_header(array: NDArray[Any]) -> bytes:
    """The header of NEP 1, version 1.0, padded so that the numbers start on a 64-byte border."""
    text = f"{{'descr': {array.dtype.str!r}, 'fortran_order': False, 'shape': {array.shape}, }}"
    pad = -(10 + len(text) + 1) % 64
    body = (text + " " * pad + "\n").encode("latin1")
    return b"\x93NUMPY\x01\x00" + len(body).to_bytes(2, "little") + body


def _unpack(folder: Path, tree: Any, hint: Any) -> Any:
    """One field back from its JSON tree, as the type its class says."""
    hint = _plain(hint, tree)
    if hint is None or tree is None:
        return None
    if isinstance(hint, type) and issubclass(hint, np.ndarray):
        return _map_array(folder, tree)
    if is_dataclass(hint):
        hints = _hints(typing.cast(type, hint))
        return typing.cast(Any, hint)(
            **{name: _unpack(folder, tree[name], hints[name]) for name in hints}
        )
    if typing.get_origin(hint) is tuple:
        return tuple(_unpack(folder, item, kind) for item, kind in _items(tree, hint))
    if isinstance(hint, type) and issubclass(hint, Enum):
        return hint(tree)
    if isinstance(hint, type) and issubclass(hint, date):
        return hint.fromisoformat(tree)
    if hint is float:
        return float(tree)
    if hint is str and isinstance(tree, dict):
        return message_from_json(tree)
    if isinstance(hint, type) and not isinstance(tree, hint):
        raise TypeError(f"{tree!r} is not {hint.__name__}")
    return tree


@cache
def _hints(cls: type) -> dict[str, Any]:
    hints = typing.get_type_hints(cls)
    return {field.name: hints[field.name] for field in fields(cls)}


def _plain(hint: Any, tree: Any) -> Any:
    """The hint without `| None` and without array parameters."""
    origin = typing.get_origin(hint)
    if origin in (typing.Union, UnionType):
        kinds = [kind for kind in typing.get_args(hint) if kind is not type(None)]
        if tree is None:
            return None
        if len(kinds) != 1:
            raise TypeError(f"cannot choose among {hint}")
        return _plain(kinds[0], tree)
    if origin is np.ndarray:
        return np.ndarray
    return hint


def _items(tree: Any, hint: Any) -> Iterator[tuple[Any, Any]]:
    kinds = typing.get_args(hint)
    if len(kinds) == 2 and kinds[1] is Ellipsis:
        return iter([(item, kinds[0]) for item in tree])
    return iter(list(zip(tree, kinds, strict=True)))


def _map_array(folder: Path, tree: dict[str, Any]) -> NDArray[Any]:
    dtype, shape = np.dtype(tree["dtype"]), tuple(int(n) for n in tree["shape"])
    if dtype.kind not in _ARRAY_KINDS:
        raise ValueError(f"array of {dtype}")
    if "file" not in tree:
        return np.empty(shape, dtype)
    name, offset = str(tree["file"]), int(tree["offset"])
    if Path(name).name != name:
        raise ValueError(f"file name {name!r}")
    path = folder / name
    wanted = offset + math.prod(shape) * dtype.itemsize
    try:
        size = path.stat().st_size
        if size != wanted:
            raise _damaged(
                path,
                message(
                    "the file has {size} bytes where {wanted} were written",
                    size=str(size),
                    wanted=str(wanted),
                ),
            )
        return np.memmap(path, dtype, "r", offset, shape)
    except FileNotFoundError as exc:
        raise _damaged(path, message("a file of the region is missing")) from exc
    except OSError as exc:
        raise _damaged(
            path,
            message("a file of the region cannot be read ({strerror})", strerror=str(exc.strerror)),
        ) from exc
