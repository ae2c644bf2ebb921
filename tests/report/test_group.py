"""A group's table: a row a rider under the common ground, nothing averaged."""

from __future__ import annotations

from collections.abc import Callable
from xml.etree import ElementTree

import pytest

from terrain.report.desk.group import draw_group, group_css, group_headline, group_lines
from terrain.report.desk.strip import strip_of
from terrain.text.translator import Translator, translator_for
from terrain.values.group import Group, GroupRider
from terrain.values.report import Report
from terrain.values.verdict import RidePart, for_all


def _rider(name: str, may_go: bool | None, hours: float | None, *hard: float) -> GroupRider:
    return GroupRider(
        name=name, about="novice, soft bags", bike="light trail",
        riding_s=None if hours is None else 3600.0 * hours,
        too_hard=tuple(RidePart(from_m=1e3 * km, to_m=1e3 * km + 500) for km in hard),
        at_edge=(RidePart(from_m=2e3, to_m=9e3),), why="45 min too hard for a novice.",
        answer="Not as it is." if not may_go else "May go.",
        then=for_all("An easier day."), may_go=may_go,
    )  # fmt: skip


def test_a_row_a_rider_under_one_ground(sample_report: Callable[[str], Report]) -> None:
    strip = strip_of(sample_report("valleys-and-passes"))
    riders = (
        _rider("Anna <b>", False, 4.7, 20, 60, 147.4), _rider("Ben", True, 3.9),
        _rider("Cleo", None, None),
    )  # fmt: skip
    drawn = draw_group(Group(strip=strip, riders=riders), Translator())
    root = ElementTree.fromstring(f"<div>{drawn.replace('&nbsp;', ' ')}</div>")
    rows = root.findall(".//tbody/tr")
    assert len(rows) == 3
    assert len(root.findall(".//thead//svg[@class='groundstrip']")) == 1
    hard = [row.findall(".//rect[@class='k-forbidden']") for row in rows]
    assert [len(found) for found in hard] == [3, 0, 0]
    # The axis of a row is that of the ground above; nothing runs out of it.
    left = [float(str(box.get("x")).rstrip("%")) for box in hard[0]]
    assert abs(left[0] - 100 * 20e3 / strip.length_m) < 0.1
    assert all(x + float(str(b.get("width")).rstrip("%")) <= 100.01
               for x, b in zip(left, hard[0], strict=True))  # fmt: skip
    told = ["".join(row.itertext()) for row in rows]
    assert "Anna <b>" in told[0]
    assert "Not as it is." in told[0]
    assert "not known" in told[2]


def test_the_headline_counts_bikes_and_names_the_slowest(
    sample_report: Callable[[str], Report],
) -> None:
    strip = strip_of(sample_report("coast-road"))
    group = Group(strip=strip, riders=(_rider("Anna", False, 4.7), _rider("Ben", True, 3.9)))
    said = group_headline(group, Translator())
    assert said == "1 of 2 bikes may go. The group rides at the pace of Anna."
    assert "Anna" in group_headline(group, translator_for("fr"))
    assert ".rider-line" in group_css()


@pytest.mark.parametrize(
    ("may_go", "said"),
    [
        ((True, True), "2 of 2 bikes may go."),
        ((False, False, True), "1 of 3 bikes may go."),
        ((False, None, True), "1 of 3 bikes may go. One of 3 bikes waits for an answer."),
        ((None, None, None), "3 of 3 bikes wait for an answer."),
    ],
)
def test_an_open_answer_is_no_no(
    sample_report: Callable[[str], Report], may_go: tuple[bool | None, ...], said: str
) -> None:
    riders = tuple(_rider(f"R{n}", may, None) for n, may in enumerate(may_go))
    group = Group(strip=strip_of(sample_report("coast-road")), riders=riders)
    assert group_headline(group, Translator()) == said
    # What holds for several is told at the first of them.
    told = [line.rsplit(". ", 1)[-1] for line in group_lines(group, Translator())[1:]]
    assert told == ["An easier day.", *["As above."] * (len(riders) - 1)]
    assert str(draw_group(group, Translator())).count("An easier day.") == 1
