"""Made days of changes to a real map: a seed tells which objects change, and how."""

from __future__ import annotations

import gzip
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from random import Random
from typing import Any, NamedTuple
from xml.sax.saxutils import quoteattr

import osmium

_NEW = 90_000_000_000  # ids of new objects begin here
_SOME_NODES = ("amenity", "place", "barrier", "shop", "ford", "natural")


class _Object(NamedTuple):
    """members : nodes of a way, or kind, id and role of what a relation is made of"""

    id: int
    tags: dict[str, str]
    members: list[Any]
    spot: tuple[float, float] = (0.0, 0.0)


@dataclass(slots=True)
class _Day:
    """Collects the newest of each object that changes."""

    random: Random
    number: int
    places: Any  # index of node positions
    rows: dict[tuple[str, int], str] = field(default_factory=dict)
    next_id: int = _NEW

    def new_id(self) -> int:
        self.next_id += 1
        return self.next_id

    def put(self, kind: str, item: _Object, action: str = "modify") -> None:
        inside = "".join(f"<tag k={quoteattr(k)} v={quoteattr(v)}/>" for k, v in item.tags.items())
        where = ""
        if kind == "node":
            where = f' lon="{item.spot[0]:.7f}" lat="{item.spot[1]:.7f}"'
        elif kind == "way":
            inside = "".join(f'<nd ref="{ref}"/>' for ref in item.members) + inside
        else:
            words = {"n": "node", "w": "way", "r": "relation"}
            inside = "".join(
                f'<member type="{words[of]}" ref="{ref}" role={quoteattr(role)}/>'
                for of, ref, role in item.members
            ) + inside  # fmt: skip
        self.rows[kind, item.id] = (
            f'<{action}><{kind} id="{item.id}" version="{1000 + self.number}" '
            f'timestamp="2024-01-{self.number:02d}T00:00:00Z"{where}>{inside}</{kind}></{action}>'
        )

    def spot(self, ref: int) -> tuple[float, float] | None:
        try:
            place = self.places.get(ref)
        except KeyError:
            return None
        return place.lon, place.lat

    def near(self, ref: int, other: int) -> bool:
        """Whether two nodes lie some kilometres apart at most."""
        one, two = self.spot(ref), self.spot(other)
        if one is None or two is None:
            return False
        return max(abs(one[0] - two[0]), abs(one[1] - two[1])) < 0.02

    def shift(self, ref: int, tags: dict[str, str]) -> None:
        """A node some metres away, with other tags."""
        spot = self.spot(ref)
        if spot is not None:
            lon, lat = (at + self.random.uniform(-2e-4, 2e-4) for at in spot)
            self.put("node", _Object(ref, tags, [], (lon, lat)))


def _way_changes(day: _Day, way: _Object, other: _Object) -> list[Callable[[], None]]:
    """What may happen to a way. other : another one of the map"""
    random, (ref, tags, refs, _) = day.random, way
    at = random.choice(refs)
    end, middle = random.choice(other.members), len(refs) // 2
    if not day.near(at, end):
        end = refs[0]

    def tag(**said: str) -> Callable[[], None]:
        return lambda: day.put("way", _Object(ref, tags | said, refs))

    def split() -> None:
        day.put("way", _Object(ref, tags, refs[: middle + 1]))
        day.put("way", _Object(day.new_id(), tags, refs[middle:]))

    def add_node() -> None:
        new, spot = day.new_id(), day.spot(at)
        if spot is not None:
            day.put("node", _Object(new, {}, [], (spot[0] + 1e-4, spot[1])))
            day.put("way", _Object(ref, tags, [*refs[:middle], new, *refs[middle:]]))

    no_road = {key: value for key, value in tags.items() if key != "highway"}
    return [
        tag(surface=random.choice(("gravel", "asphalt", "mud"))),
        tag(name=f"Road {day.number}", ref="T 1"),
        tag(highway="track", tracktype="grade3"),
        lambda: day.put("way", _Object(ref, no_road, refs)),
        lambda: day.put("way", _Object(ref, no_road | {"amenity": "fuel", "name": "Fuel"}, refs)),
        lambda: day.put("way", _Object(ref, {}, []), "delete"),
        lambda: day.put("way", _Object(ref, tags, refs[::-1])),
        lambda: day.put("way", _Object(ref, {"landuse": "military", "name": "Range"}, refs)),
        lambda: day.put("way", _Object(day.new_id(), {"highway": "unclassified"}, [at, end])),
        split, add_node,
        lambda: day.shift(at, {}),
        lambda: day.shift(at, {"barrier": "gate", "access": "private"}),
        lambda: day.put("node", _Object(at, {}, []), "delete"),
    ]  # fmt: skip


def _node_changes(day: _Day, node: _Object) -> list[Callable[[], None]]:
    village = {"place": "village", "name": f"Place {node.id}"}
    return [
        lambda: day.shift(node.id, node.tags),
        lambda: day.shift(node.id, {"amenity": "fuel"}),
        lambda: day.put("node", _Object(node.id, {}, []), "delete"),
        lambda: day.put("node", _Object(day.new_id(), village, [], node.spot)),
    ]


def _relation_changes(day: _Day, relation: _Object, way: _Object) -> list[Callable[[], None]]:
    ref, tags, members, _ = relation
    area = {"type": "multipolygon", "boundary": "protected_area", "name": "Park"}
    return [
        lambda: day.put("relation", _Object(ref, tags | {"name": "New name"}, members)),
        lambda: day.put("relation", _Object(ref, tags | area, members)),
        lambda: day.put("relation", _Object(ref, {"type": "site", "amenity": "hospital"}, members)),
        lambda: day.put("relation", _Object(ref, tags, members[1:])),
        lambda: day.put("relation", _Object(ref, tags, [*members, ("w", way.id, "outer")])),
        lambda: day.put("relation", _Object(ref, {}, []), "delete"),
        lambda: day.put("relation", _Object(day.new_id(), area, [("w", way.id, "outer")])),
    ]


def made_day(extract: Path, out: Path, *, seed: int, number: int = 1, one_in: int = 1000) -> None:
    """Write a change file that touches one in so many of the ways, tagged nodes and relations.

    number : of the day; a later one is newer
    """
    random = Random(seed)
    index = osmium.index.create_map("flex_mem")
    osmium.apply(
        osmium.io.Reader(str(extract), osmium.osm.NODE), osmium.NodeLocationsForWays(index)
    )
    day = _Day(random, number, index, next_id=_NEW + number * 1_000_000)
    ways = [
        _Object(way.id, {tag.k: tag.v for tag in way.tags}, [node.ref for node in way.nodes])
        for way in osmium.FileProcessor(str(extract), osmium.osm.WAY)
        if random.random() < 2 / one_in and len(way.nodes) > 1
    ]
    nodes = [
        _Object(node.id, {tag.k: tag.v for tag in node.tags}, [], (node.lon, node.lat))
        for node in osmium.FileProcessor(str(extract), osmium.osm.NODE)
        .with_filter(osmium.filter.KeyFilter(*_SOME_NODES))
        if random.random() < 1 / one_in
    ]  # fmt: skip
    relations = [
        _Object(item.id, {tag.k: tag.v for tag in item.tags},
                [(m.type, m.ref, m.role) for m in item.members])
        for item in osmium.FileProcessor(str(extract), osmium.osm.RELATION)
        if random.random() < 1 / one_in
    ]  # fmt: skip
    for way, other in zip(ways[::2], ways[1::2], strict=False):
        random.choice(_way_changes(day, way, other))()
    for node in nodes:
        random.choice(_node_changes(day, node))()
    for relation in relations:
        random.choice(_relation_changes(day, relation, random.choice(ways)))()
    body = f'<osmChange version="0.6">{"".join(day.rows.values())}</osmChange>'
    out.write_bytes(gzip.compress(body.encode(), mtime=0))
