"""The strip of a ride in the desk's tables: small, true to the ground, on one scale."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from html import unescape

import pytest

from terrain.report.desk.strip import draw_strip, mark_runs, strip_of, strip_runs, strip_words
from terrain.report.drawing.ink import LIGHT
from terrain.report.mail import make_draft
from terrain.text.translator import translator_for
from terrain.values.ground import GroundKind
from terrain.values.report import Report
from terrain.values.strip import Strip, StripPart
from terrain.values.verdict import RidePart
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


def test_a_strip_of_cells_has_the_likeliest_ground_at_its_length() -> None:
    """12 km: 3 of tarmac, 1 that nobody has mapped, 2 most likely gravel, 6 of track."""
    parts = (
        StripPart(from_m=0, to_m=3000, p=(0.9, 0.1, 0.0), ground=GroundKind.PAVED),
        StripPart(from_m=3000, to_m=4000, p=None, ground=GroundKind.UNMAPPED),
        StripPart(from_m=4000, to_m=6000, p=(0.3, 0.4, 0.3), ground=GroundKind.PAVED),
        StripPart(from_m=6000, to_m=12_000, p=(0.0, 0.5, 0.51), ground=GroundKind.PAVED),
    )
    told = strip_runs(Strip(length_m=12_000, parts=parts))
    assert told == (
        (LIGHT["paved"], 25.0), (LIGHT["line"], pytest.approx(100 / 12)),
        (LIGHT["gravel"], pytest.approx(200 / 12)), (LIGHT["track"], 50.0),
    )  # fmt: skip
    assert strip_runs(Strip(length_m=0, parts=())) == ()
    black = LIGHT["closed"]
    first, last = RidePart(from_m=0, to_m=3000), RidePart(from_m=9000, to_m=10_500)
    marks = mark_runs((first, last), 12_000)
    assert marks == ((black, 25.0), ("", 50.0), (black, 12.5), ("", 12.5))
    assert mark_runs((), 12_000) == ()


def test_the_mail_shows_the_strip_and_says_it(sample_report: Callable[[str], Report]) -> None:
    report = sample_report("high-tracks")
    says = translator_for("en")
    page = make_draft(report, says).body_html
    # Each row of cells is as wide as the mail, and the ground has its three colours.
    rows = re.findall(r'<table role="presentation".*?</table>', page, re.S)
    assert rows
    for row in rows:
        shares = re.findall(r'<td width="([\d.]+)%"', row)
        assert sum(map(float, shares)) == pytest.approx(100.0, abs=0.5)
    assert all(any(LIGHT[kind] in row for row in rows) for kind in ("paved", "gravel", "track"))
    words = strip_words(strip_of(report), says)
    assert f"{words[:1].upper()}{words[1:]}." in unescape(page)
