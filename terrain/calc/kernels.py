"""Compiled kernels, and arrays as they take them.

A kernel is compiled anew for every mix of types it meets, and compiling costs a second or more.
So each meets one: arrays are made `plain` at its door, and counters that go into another kernel
start as np.int64, because the compiler first takes a bare 0 for a type of its own.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, ParamSpec, TypeAlias, TypeVar

import numpy as np
from numba import njit
from numpy.typing import DTypeLike, NDArray

from terrain.values.arrays import frozen

_P = ParamSpec("_P")
_R = TypeVar("_R")
Index: TypeAlias = int | np.integer[Any]


_OPTIONS: dict[str, Any] = {"cache": True, "nogil": True, "error_model": "numpy"}
_INNER: dict[str, Any] = {**_OPTIONS, "no_cpython_wrapper": True, "no_cfunc_wrapper": True}


def kernel(function: Callable[_P, _R]) -> Callable[_P, _R]:
    """Compile a function that Python calls."""
    compiled: Callable[_P, _R] = njit(**_OPTIONS)(function)
    return compiled


def inner(function: Callable[_P, _R]) -> Callable[_P, _R]:
    """Compile a function that only kernels call, without the parts that let Python call it."""
    compiled: Callable[_P, _R] = njit(**_INNER)(function)
    return compiled


def plain(values: NDArray[Any], dtype: DTypeLike = np.float64) -> NDArray[Any]:
    """The values as one kind of array: contiguous, read-only, of one type; copied if need be."""
    return frozen(np.ascontiguousarray(values, dtype=dtype))
