"""Each label of the drawings in the longest of the six languages: none is cut, none on another.

Measured by the advance widths of the font that ships with the paper (OpenType `hmtx` and `HVAR`).
"""

from __future__ import annotations

import gettext
import itertools
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cache
from importlib.util import find_spec
from pathlib import Path
from xml.etree import ElementTree

import pytest
from fontTools.ttLib import TTFont

import terrain
from terrain.report.diagram.diagram import render_days
from terrain.report.diagram.down import render_downs
from terrain.report.diagram.when import PAGE, PHONE, draw_when
from terrain.report.drawing.map import render_map
from terrain.report.drawing.view import PHONE as PHONE_MAP
from terrain.report.page.spots import map_spots
from terrain.text.catalogue import LANGUAGES, catalogue
from terrain.text.translator import Translator
from terrain.values.report import Report
from tests.report.conftest import SAMPLES

_MOVED = re.compile(r"translate\((-?[\d.]+)[ ,]*(-?[\d.]+)?\)")
_BOLD = {"lane", "strong", "peak", "name", "spotname", "stop13", "number"}
_LARGE = {"lane", "strong", "name", "spotname", "d", "stop13", "place13", "help13", "number"}
_RISE, _FALL = 0.72, 0.05  # of the size: letters as tall as capitals; that hooks touch is no harm
_SLACK_PX = 1.5


@cache
def _glyphs(weight: int) -> tuple[dict[int, str], object]:
    spec = find_spec("fontpkg_noto_sans")
    assert spec is not None and spec.submodule_search_locations
    path = Path(spec.submodule_search_locations[0]) / "files" / "NotoSans[wdth,wght].ttf"
    font = TTFont(path)
    return font.getBestCmap(), font.getGlyphSet(location={"wght": weight})


@cache
def _advance(letter: str, weight: int) -> float:
    """In parts of the size; the font's units are 1000 an em."""
    names, glyphs = _glyphs(weight)
    name = names.get(ord(letter))
    return 0.0 if name is None else glyphs[name].width / 1000.0  # type: ignore[index]


def _width(text: str, size: float, weight: int = 400) -> float:
    return size * sum(_advance(letter, weight) for letter in text)


class _Longest(gettext.NullTranslations):
    """Of all languages the widest translation of each text."""

    def gettext(self, message: str) -> str:
        said = [catalogue(lang).gettext(message) for lang in LANGUAGES]
        return max(said, key=lambda text: _width(text, 12.0))

    def ngettext(self, msgid1: str, msgid2: str, n: int) -> str:
        said = [catalogue(lang).ngettext(msgid1, msgid2, n) for lang in LANGUAGES]
        return max(said, key=lambda text: _width(text, 12.0))


@dataclass(frozen=True)
class _Label:
    text: str
    left: float
    right: float
    top: float
    foot: float

    def meets(self, other: _Label) -> bool:
        across = min(self.right, other.right) - max(self.left, other.left)
        down = min(self.foot, other.foot) - max(self.top, other.top)
        return across > _SLACK_PX and down > _SLACK_PX


def _labels(node: ElementTree.Element, x: float = 0.0, y: float = 0.0) -> Iterator[_Label]:
    moved = _MOVED.search(node.get("transform", ""))
    if moved:
        x, y = x + float(moved[1]), y + float(moved[2] or 0.0)
    if node.tag.rpartition("}")[2] == "text" and node.text:
        kinds = set(node.get("class", "").split())
        size = 13.0 if kinds & _LARGE else 12.0
        wide = _width(node.text, size, 600 if kinds & _BOLD else 400)
        at, foot = x + float(node.get("x", "0").rstrip("%")), y + float(node.get("y", "0"))
        left = at - wide * {"middle": 0.5, "end": 1.0}.get(node.get("text-anchor", ""), 0.0)
        yield _Label(node.text, left, left + wide, foot - _RISE * size, foot + _FALL * size)
    for child in node:
        yield from _labels(child, x, y)


def _drawings(report: Report, translator: Translator) -> Iterator[tuple[str, str]]:
    for day in render_days(report, translator):
        yield "day", day.svg
    for day in render_downs(report, translator):
        yield "down", day.svg
    spots = map_spots(report, translator)
    yield "map", render_map(report, translator, "", spots)
    yield "phone map", render_map(report, translator, "", spots, PHONE_MAP)
    when = report.assessed.when
    if when is not None:
        for form in (PAGE, PHONE):
            yield "months", draw_when(when, translator, form)


def _check(report: Report) -> int:
    longest = Translator(lang="de", _catalogue=_Longest())
    seen = 0
    for kind, svg in _drawings(report, longest):
        root = ElementTree.fromstring(svg)
        wide = float(root.get("viewBox", "").split()[2])
        labels = list(_labels(root))
        seen += len(labels)
        for label in labels:
            assert label.left >= -_SLACK_PX, (kind, label)
            # A phone's page leaves a margin beside the strip.
            assert label.right <= wide + (16.0 if kind == "down" else _SLACK_PX), (kind, label)
        for one, two in itertools.combinations(labels, 2):
            assert not one.meets(two), (kind, one, two)
    return seen


@pytest.mark.parametrize("name", SAMPLES)
def test_labels_of_a_sample_fit_in_six_languages(
    sample_report: Callable[[str], Report], name: str
) -> None:
    assert _check(sample_report(name)) > 60


def test_labels_of_a_ride_on_no_date_and_of_many_days_fit(island_home: Path) -> None:
    region = terrain.open_region("island", island_home)
    route = terrain.read_route(island_home / "demo" / "routes" / "valleys-and-passes.gpx")
    assert _check(terrain.assess(route, region, terrain.Trip(rider="novice", guided=True))) > 90


def test_the_ruler_measures_as_the_font_does() -> None:
    """Noto Sans Regular: "n" is 618 of 1000 units wide, the digit 0 572; from the file itself."""
    assert _width("n0", 1000.0) == pytest.approx(618 + 572)
    assert _width("n", 1000.0, 600) > 618
