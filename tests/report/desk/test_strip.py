"""The strip of a ride in the desk's tables: small, true to the ground, on one scale."""

from __future__ import annotations

import json
import re

import pytest

from terrain.report.desk.strip import draw_strip, strip_of
from terrain.text.translator import translator_for
from terrain.values.strip import Strip
from tests.report.sample import typed


def test_a_strip_is_kept_small_and_comes_back_the_same() -> None:
    strip = strip_of(typed())
    told = json.dumps(strip.to_dict())
    again = Strip.from_dict(json.loads(told))
    assert again.to_dict() == strip.to_dict()
    assert len(strip.parts) <= 121  # 720 px, none narrower than 6 but the ends
    assert again.length_m == pytest.approx(strip.length_m, abs=0.5)
    assert [x.ground for x in again.parts] == [x.ground for x in strip.parts]


def test_strips_of_one_table_share_their_scale() -> None:
    strip = strip_of(typed())
    words = translator_for("en")
    whole = draw_strip(strip, strip.length_m, words)
    half = draw_strip(strip, 2 * strip.length_m, words)
    assert re.search(r'<svg y="6" width="100%"', whole)
    assert re.search(r'<svg y="6" width="50%"', half)
    assert 'role="img"' in whole and "ground along" in whole
