"""Small maps written by hand as OSM XML."""

from __future__ import annotations

from pathlib import Path
from xml.sax.saxutils import quoteattr

Tags = dict[str, str]


class OsmXml:
    """Collects nodes, ways and relations and writes them in the order OSM files have."""

    def __init__(self, *, timestamp: str | None = "2023-05-02T10:00:00Z") -> None:
        self._stamp = f' timestamp="{timestamp}"' if timestamp else ""
        self._nodes: list[str] = []
        self._ways: list[str] = []
        self._relations: list[str] = []

    def node(self, ref: int, lon: float, lat: float, tags: Tags | None = None, v: int = 1) -> int:
        self._nodes.append(
            f'<node id="{ref}" version="{v}"{self._stamp} lon="{lon:.7f}" lat="{lat:.7f}">'
            f"{_tags(tags)}</node>"
        )
        return ref

    def way(self, ref: int, nodes: list[int], tags: Tags, v: int = 1) -> int:
        inside = "".join(f'<nd ref="{n}"/>' for n in nodes)
        self._ways.append(f'<way id="{ref}" version="{v}"{self._stamp}>{inside}{_tags(tags)}</way>')
        return ref

    def relation(self, ref: int, members: list[tuple[str, int, str]], tags: Tags) -> int:
        inside = "".join(f'<member type="{t}" ref="{n}" role="{r}"/>' for t, n, r in members)
        self._relations.append(
            f'<relation id="{ref}" version="1"{self._stamp}>{inside}{_tags(tags)}</relation>'
        )
        return ref

    def text(self) -> str:
        body = "\n".join([*self._nodes, *self._ways, *self._relations])
        return f'<?xml version="1.0" encoding="UTF-8"?>\n<osm version="0.6">\n{body}\n</osm>\n'

    def write(self, path: Path) -> Path:
        path.write_text(self.text(), encoding="utf-8")
        return path


def _tags(tags: Tags | None) -> str:
    pairs = (tags or {}).items()
    return "".join(f"<tag k={quoteattr(k)} v={quoteattr(v)}/>" for k, v in pairs)


def crossing() -> OsmXml:
    """An invented crossing: a road west to east, one south to north, joined at node 3.

    1 --- 2 --- 3 --- 4 --- 5   way 10, tertiary, asphalt
                |
                6   and 7 north: way 11, track through 3; way 12 a bridge over way 11 at node 8
    """
    osm = OsmXml()
    for ref, (lon, lat) in {
        1: (10.00, 45.00), 2: (10.01, 45.00), 3: (10.02, 45.00), 4: (10.03, 45.00),
        5: (10.04, 45.00), 6: (10.02, 44.99), 7: (10.02, 45.01), 8: (10.02, 44.995),
        9: (10.01, 44.995), 10: (10.03, 44.995),
    }.items():  # fmt: skip
        osm.node(ref, lon, lat)
    osm.way(10, [1, 2, 3, 4, 5], {"highway": "tertiary", "surface": "asphalt", "name": "Low Road"})
    osm.way(11, [6, 3, 7], {"highway": "track", "tracktype": "grade3"})
    osm.way(12, [9, 10], {"highway": "secondary", "bridge": "yes", "layer": "1", "oneway": "yes"})
    return osm
