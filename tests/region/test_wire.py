"""Numbers and fields as the encoding page of protocol buffers has them, by kernels and without."""

from __future__ import annotations

import numpy as np
import pytest

from terrain.region.wire import Wire

pytestmark = pytest.mark.parametrize("compiled", [False, True])


def _at(*ends: int) -> np.ndarray:
    return np.array(ends, np.int64)


def test_numbers_of_the_manual(compiled: bool) -> None:
    """Encoding page: 150 is 96 01; -2 is fe and eight ff and 01."""
    data = bytes.fromhex("9601 00 7f") + b"\xfe" + b"\xff" * 8 + b"\x01"
    values, count = Wire(data, compiled).numbers(_at(0, 4, 4), _at(4, 4, 14))
    assert values.tolist() == [150, 0, 127, -2]
    assert count.tolist() == [3, 0, 1]


def test_signs_of_the_manual(compiled: bool) -> None:
    """Encoding page, ZigZag: 0, -1, 1, -2 as 0, 1, 2, 3; the ends of 32 bits as fffffffe and -f."""
    told = (b"\x00", b"\x01", b"\x02", b"\x03", b"\xfe\xff\xff\xff\x0f", b"\xff\xff\xff\xff\x0f")
    ends = np.cumsum([0, *map(len, told)])
    values, _ = Wire(b"".join(told), compiled).numbers(ends[:-1], ends[1:], steps=True)
    assert values.tolist() == [0, -1, 1, -2, 2**31 - 1, -(2**31)]
    steps, _ = Wire(b"\x02\x02\x03\x04", compiled).numbers(_at(0), _at(4), steps=True)
    assert steps.tolist() == [1, 2, 0, 2]
    far = b"\xfe" + b"\xff" * 8 + b"\x01"  # 2^63 - 1
    assert Wire(far, compiled).numbers(_at(0), _at(10), steps=True)[0].tolist() == [2**63 - 1]


def test_fields_of_the_manual(compiled: bool) -> None:
    """Encoding page: 08 96 01 is field 1 with 150, 12 07 and a text is field 2; fields of fixed
    width are passed over."""
    first = bytes.fromhex("089601 1207") + b"testing"
    data = first + bytes.fromhex("0d00000000 11 0000000000000000 1801")
    fields = Wire(data, compiled).fields(_at(0, 12), _at(12, len(data)))
    assert fields.owner.tolist() == [0, 0, 1]
    assert fields.number.tolist() == [1, 2, 3]
    assert fields.values(1, 2).tolist() == [150, 0]
    assert fields.values(3, 2).tolist() == [0, 1]
    low, high = fields.spans(2, 2)
    assert data[low[0] : high[0]] == b"testing"
    assert high[1] - low[1] == 0


@pytest.mark.parametrize(
    "data",
    ["96", "08", "12 08 00", "0b", "08" + "80" * 10 + "01", "12 ffffffffffffffffff01"],
    ids=["cut", "no value", "too long", "group", "eleven bytes", "less than nothing"],
)
def test_what_is_no_message_is_an_error(data: str, compiled: bool) -> None:
    text = bytes.fromhex(data)
    with pytest.raises(ValueError, match="no messages"):
        Wire(text, compiled).fields(_at(0), _at(len(text)))


def test_a_field_of_another_kind_is_an_error(compiled: bool) -> None:
    fields = Wire(bytes.fromhex("0801 1200 1200"), compiled).fields(_at(0), _at(6))
    for ask in (
        lambda: fields.all(1),
        lambda: fields.values(2, 1),
        lambda: fields.spans(2, 1),
    ):
        with pytest.raises(ValueError, match="field"):
            ask()
