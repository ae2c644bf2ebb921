"""The report as tables for analysts: GeoPackage and GeoParquet, by geopandas.

Both hold the lines and columns of the GeoJSON, so that the three never differ, in EPSG:4326.
Sources: OGC 12-128r19 GeoPackage 1.4; GeoParquet 1.1.0.
"""

from __future__ import annotations

import io
import json
import tempfile
from datetime import UTC, datetime
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING, Any

from terrain.errors import UsageError
from terrain.report.data.geojson import render_geojson
from terrain.text.message import message
from terrain.text.plain import plain_line
from terrain.text.translator import Translator
from terrain.values.report import Report

if TYPE_CHECKING:
    import geopandas

_CRS = "EPSG:4326"
# Types that keep "not known" apart from zero, whatever the rows of one route hold.
_STRETCHES: dict[str, Any] = {
    "route": "string", "from_m": "Float64", "to_m": "Float64", "ground": "string",
    "p_paved": "Float64", "p_gravel": "Float64", "p_track": "Float64", "basis": "string",
    "highway": "string", "surface": "string", "name": "string", "way_id": "Int64",
    "season_risk": "string", "severity": "Int64", "grade_pct": "Float64",
    "speed_kph": "Float64", "closed_m": "Float64",
}  # fmt: skip
_STOPS: dict[str, Any] = {
    "route": "string", "at_m": "Float64", "kind": "string", "name": "string", "why": "string",
    "day": "Int64", "arrive": "string", "stay_s": "Float64", "van_access": "boolean",
}  # fmt: skip


def render_gpkg(
    report: Report, facts: dict[str, Any] | None = None, translator: Translator | None = None
) -> bytes:
    """A GeoPackage: layers `stretches` (lines) and `stops` (points), table `about` of sources.

    Attribution stands in `about`, in the layers' descriptions and in the metadata tables.
    """
    import geopandas
    import pyogrio

    facts = facts or report.to_dict()
    about = _about(report, facts, translator)
    stretches, stops = _frames(report, facts, translator)
    # The file carries a time of change: that of the report, so that bytes can be compared.
    made_at = datetime.fromisoformat(facts["made_at"])
    stamp = made_at.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%S.000Z")
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "report.gpkg"
        pyogrio.set_gdal_config_options({"OGR_CURRENT_DATE": stamp})
        try:
            _add_layer(path, stretches, "stretches", about, dataset_metadata=about)
            _add_layer(path, stops, "stops", about, geometry_type="Point", append=True)
            told = geopandas.GeoDataFrame({key: [value] for key, value in about.items()})
            pyogrio.write_dataframe(told, path, layer="about", driver="GPKG", append=True)
        finally:
            pyogrio.set_gdal_config_options({"OGR_CURRENT_DATE": None})
        return path.read_bytes()


def check_parquet() -> None:
    """Raises UsageError if the extra `analysis` is not installed."""
    if find_spec("pyarrow") is None:
        raise UsageError(
            message("GeoParquet needs pyarrow, which is not installed"),
            "--write parquet",
            message("Install it with: pip install 'terrain[analysis]'."),
        )


def render_parquet(
    report: Report, facts: dict[str, Any] | None = None, translator: Translator | None = None
) -> bytes:
    """GeoParquet of the stretches; route, region, date and attribution in the file's metadata.

    Raises UsageError if the extra `analysis` is not installed.
    """
    check_parquet()
    import pyarrow.parquet

    facts = facts or report.to_dict()
    stretches, _ = _frames(report, facts, translator)
    plain = io.BytesIO()
    stretches.to_parquet(plain, index=False, schema_version="1.1.0")
    table = pyarrow.parquet.read_table(plain)
    about = _about(report, facts, translator)
    told = {key.encode(): value.encode() for key, value in about.items()}
    out = io.BytesIO()
    pyarrow.parquet.write_table(
        table.replace_schema_metadata({**(table.schema.metadata or {}), **told}), out
    )
    return out.getvalue()


def _add_layer(
    path: Path, frame: geopandas.GeoDataFrame, layer: str, about: dict[str, str], **options: Any
) -> None:
    import pyogrio

    pyogrio.write_dataframe(
        frame,
        path,
        layer=layer,
        driver="GPKG",
        layer_options={"DESCRIPTION": about["attribution"]},
        layer_metadata=about,
        **options,
    )


def _frames(
    report: Report, facts: dict[str, Any], translator: Translator | None
) -> tuple[geopandas.GeoDataFrame, geopandas.GeoDataFrame]:
    """Stretches as lines and stops as points."""
    features = json.loads(render_geojson(report, facts, translator))["features"]
    stops = [f for f in features if f["geometry"]["type"] == "Point"]
    lines = [f for f in features if f["geometry"]["type"] != "Point"]
    name = facts["route"]["name"]
    return _frame(lines, _STRETCHES, name), _frame(stops, _STOPS, name)


def _frame(
    features: list[dict[str, Any]], types: dict[str, Any], route: str
) -> geopandas.GeoDataFrame:
    import geopandas
    import pandas
    import shapely.geometry

    rows = [{**feature["properties"], "route": route} for feature in features]
    rows = [{key: _plain(row.get(key)) for key in types} for row in rows]
    columns = {
        key: pandas.array([row[key] for row in rows], dtype=kind) for key, kind in types.items()
    }
    shapes = [shapely.geometry.shape(feature["geometry"]) for feature in features]
    return geopandas.GeoDataFrame(columns, geometry=shapes, crs=_CRS)


def _about(report: Report, facts: dict[str, Any], translator: Translator | None) -> dict[str, str]:
    """What the file is and whose data it rests on; an empty text is not known."""
    region = facts["region"]
    told = {
        "title": f"{facts['route']['name']}: ground along a planned route",
        "verdict": (translator or Translator()).translate(report.verdict.headline),
        "attribution": " ".join(region["attribution"]),
        "region": region["name"],
        "map_date": region["map_date"] or "",
        "made_at": facts["made_at"],
        "made_by": f"terrain {facts['terrain_version']}",
    }
    return {key: plain_line(value) for key, value in told.items()}


def _plain(value: Any) -> Any:
    # A zero byte in a name would end the text early in some readers.
    return plain_line(value) if isinstance(value, str) else value
