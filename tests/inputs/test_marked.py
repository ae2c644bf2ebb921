"""No error reaches a reader past the catalogue: refusals of all readers in the marked language."""

from __future__ import annotations

from collections.abc import Callable, Iterable

import pytest

from terrain.errors import TerrainError
from terrain.inputs.debriefs import parse_debriefs
from terrain.inputs.fleet import parse_fleet
from terrain.inputs.helpers import parse_helpers
from terrain.inputs.learned import parse_learned
from terrain.inputs.lines import parse_route
from terrain.inputs.notes import parse_notes
from terrain.inputs.pins import parse_pins
from terrain.inputs.rentals import parse_log
from terrain.inputs.ridden import parse_ridden
from terrain.inputs.tracks import parse_track
from tests.inputs.lines.spoiler import spoiled
from tests.report.marked import marked_translator, unsaid

_SOURCE = "plan.gpx"
_BAD = (
    "", "a", "[]", "{}", "a,b\n1,2\n", "way_id,ground\nx,y\n", "a = 1", "[web", "<gpx/>",
    'schema = "terrain-fleet/1"\n[[class]]\nid = "A B"\n', "[[stop]]\nat_km = -1\n",
    '{"type": "FeatureCollection", "features": [{"type": "Feature", "geometry": null}]}',
    "lon,lat,name,kind\n200,95,,x\n", "ref,class,days\n1,,\n", "time,lat,lon\nx,1,2\n",
)  # fmt: skip


def _said(read: Callable[..., object], files: Iterable[bytes | str]) -> list[str]:
    """What the refusals of files say; nothing for those that are read."""
    told = []
    for data in files:
        try:
            read(data, _SOURCE)
        except TerrainError as exc:
            told.append(exc.say(marked_translator()))
    return told


def test_refusals_of_routes_say_all_through_the_catalogue() -> None:
    told = _said(parse_route, map(spoiled, range(300)))
    assert len(set(told)) > 30
    assert unsaid(told, [_SOURCE]) == []


@pytest.mark.parametrize(
    "parse",
    [parse_notes, parse_helpers, parse_pins, parse_track, parse_debriefs, parse_learned,
     parse_ridden],
)  # fmt: skip
def test_refusals_of_other_files_say_all_through_the_catalogue(
    parse: Callable[[bytes, str], object],
) -> None:
    told = _said(parse, [bad.encode() for bad in _BAD])
    assert len(told) > 6
    assert unsaid(told, [_SOURCE]) == []


@pytest.mark.parametrize("parse", [parse_fleet, parse_log])
def test_refusals_of_tables_say_all_through_the_catalogue(
    parse: Callable[[str, str], object],
) -> None:
    told = _said(parse, _BAD)
    assert len(told) > 6
    assert unsaid(told, [_SOURCE]) == []
