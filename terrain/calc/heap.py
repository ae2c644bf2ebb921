"""A binary heap in two arrays: keys, least first, and the node of each entry."""

from __future__ import annotations

from terrain.calc.kernels import Index, inner
from terrain.values.arrays import FloatArray, Int32Array


@inner
def push(keys: FloatArray, nodes: Int32Array, size: Index, key: float, node: Index) -> Index:
    """Add an entry to the heap; returns its new size."""
    i = size
    while i > 0:
        parent = (i - 1) >> 1
        if keys[parent] <= key:
            break
        keys[i] = keys[parent]
        nodes[i] = nodes[parent]
        i = parent
    keys[i] = key
    nodes[i] = node
    return size + 1


@inner
def pop(keys: FloatArray, nodes: Int32Array, size: Index) -> Index:
    """Remove the least entry of the heap (slot 0); returns its new size."""
    size -= 1
    key, node = keys[size], nodes[size]
    i = 0
    while True:
        child = 2 * i + 1
        if child >= size:
            break
        if child + 1 < size and keys[child + 1] < keys[child]:
            child += 1
        if keys[child] >= key:
            break
        keys[i] = keys[child]
        nodes[i] = nodes[child]
        i = child
    keys[i] = key
    nodes[i] = node
    return size
