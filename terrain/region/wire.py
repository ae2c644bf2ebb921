"""The wire format of protocol buffers, many messages at one go.

Source: the encoding page of their manual. A message is fields, one after the other: a key (number
of the field, kind of what follows), then a number or a length and as many bytes. A number is seven
bits a byte, the lowest first.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np

from terrain.calc.kernels import kernel
from terrain.values.arrays import IntArray

_NUMBER, _LONG, _BYTES, _SHORT = 0, 1, 2, 5  # kinds of what follows a key
_LEAST, _MOST = -(2**63), 2**63 - 1  # of what ten bytes tell


class UnpackedError(ValueError):
    """Numbers told one by one, which the reader of other forms takes for something else."""


class Fields(NamedTuple):
    """Fields of several messages in order, shape (f,).

    owner : which message; number : of the field
    low, high : where its bytes lie; of a number itself low is the value, and high is -1
    """

    owner: IntArray
    number: IntArray
    low: IntArray
    high: IntArray

    def all(self, number: int) -> tuple[IntArray, IntArray]:
        """Where the bytes of all fields of that number lie."""
        chosen = self.number == number
        low, high = self.low[chosen], self.high[chosen]
        if (high < 0).any():
            raise ValueError(f"field {number} is no bytes")
        return low, high

    def spans(self, number: int, n: int) -> tuple[IntArray, IntArray]:
        """The same of each of n messages, which hold it once or not."""
        chosen = self.number == number
        owner = self.owner[chosen]
        if (owner[1:] == owner[:-1]).any() or (self.high[chosen] < 0).any():
            raise UnpackedError(f"field {number} is not told in one packed piece")
        low, high = np.zeros(n, np.int64), np.zeros(n, np.int64)
        low[owner], high[owner] = self.low[chosen], self.high[chosen]
        return low, high

    def values(self, number: int, n: int) -> IntArray:
        """The number each of n messages tells in that field, 0 where it does not."""
        chosen = self.number == number
        if (self.high[chosen] >= 0).any():
            raise ValueError(f"field {number} is no number")
        out = np.zeros(n, np.int64)
        out[self.owner[chosen]] = self.low[chosen]
        return out


@dataclass(frozen=True, slots=True)
class Wire:
    """Bytes with messages in them. compiled : read by kernels, which pays for larger files."""

    data: bytes
    compiled: bool

    def fields(self, low: IntArray, high: IntArray) -> Fields:
        """The fields of the messages that lie there. Raises ValueError where these are none."""
        room = int((high - low).sum()) // 2 + 1
        out = [np.empty(room, np.int64) for _ in Fields._fields]
        n = self._run(_fields, low, high, *out)
        return Fields(*(column[:n] for column in out))

    def numbers(
        self, low: IntArray, high: IntArray, *, steps: bool = False
    ) -> tuple[IntArray, IntArray]:
        """All numbers that lie there one after the other, and how many of each span.

        steps : each tells the difference to the one before, with its sign in its lowest bit
        Raises ValueError where there are no numbers.
        """
        count, out = np.empty(len(low), np.int64), np.empty(int((high - low).sum()), np.int64)
        n = self._run(_numbers, low, high, count, out, steps)
        return out[:n], count

    def _run(self, function: Any, low: IntArray, high: IntArray, *args: Any) -> int:
        if self.compiled:
            n = int(function(np.frombuffer(self.data, np.uint8), low, high, *args))
        else:
            n = int(function.py_func(self.data, low.tolist(), high.tolist(), *args))
        if n < 0:
            raise ValueError("these are no messages")
        return n


# Both spell out how a number is read: without the compiler they run as plain Python, which a kernel
# called from within would bring in.


@kernel
def _fields(
    data: IntArray, start: IntArray, end: IntArray, owner: IntArray, number: IntArray,
    low: IntArray, high: IntArray,
) -> int:  # fmt: skip
    n = 0
    for k in range(len(start)):
        at, stop, key = start[k], end[k], -1
        while at < stop:
            value, shift, byte = 0, 0, 128
            while byte >= 128:
                if at >= stop or shift > 63:
                    return -1
                byte = int(data[at])
                at += 1
                value += (byte & 127) << shift if shift < 63 else (byte & 1) * _LEAST
                shift += 7
            if key < 0:
                kind = value & 7
                if kind in (_NUMBER, _BYTES):
                    key = value
                elif kind in (_LONG, _SHORT):  # no field of ours
                    at += 8 if kind == _LONG else 4
                else:
                    return -1
                continue
            owner[n], number[n], low[n], high[n] = k, key >> 3, value, -1
            if key & 7 == _BYTES:
                if value < 0 or value > stop - at:
                    return -1
                low[n], high[n] = at, at + value
                at += value
            n += 1
            key = -1
        if key >= 0:
            return -1
    return n


@kernel
def _numbers(
    data: IntArray, start: IntArray, end: IntArray, count: IntArray, out: IntArray, steps: bool
) -> int:
    n = 0
    for k in range(len(start)):
        at, stop, first, total = start[k], end[k], n, 0
        while at < stop:
            value, shift, byte = 0, 0, 128
            while byte >= 128:
                if at >= stop or shift > 63:
                    return -1
                byte = int(data[at])
                at += 1
                value += (byte & 127) << shift if shift < 63 else (byte & 1) * _LEAST
                shift += 7
            if steps:
                total += ((value >> 1) & _MOST) ^ -(value & 1)
                value = total
            out[n] = value
            n += 1
        count[k] = n - first
    return n
