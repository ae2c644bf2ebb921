"""With two regions a map is that of the booking's route, of what is drawn, or is asked for."""

from __future__ import annotations

from terrain.region.build import build_region
from tests.region.osm_xml import OsmXml, crossing
from tests.web.conftest import Office
from tests.web.standin import GPX

_NAMES = ("east", "west")


def test_each_map_is_of_the_region_that_is_meant(office: Office) -> None:
    folder = office.settings.data
    for name, osm in zip(_NAMES, (crossing(), _elsewhere()), strict=True):
        build_region(name, (osm.write(folder / f"{name}.osm"),), home=office.settings.home)
    staff, link = office.as_role("staff"), office.booking()
    for path in ("/desk/notes", "/desk/helpers"):
        text = staff.get(path).text
        assert "Which map?" in text and '<svg class="map"' not in text
        for name in _NAMES:
            text = staff.get(f"{path}?region={name}").text
            assert f"<strong>{name}</strong>" in text and 'class="map"' in text
    # A note that lies in one is shown there.
    staff.post("/desk/notes", {"points": "2.05,1.05", "ground": "track"})
    assert "<strong>west</strong>" in staff.get("/desk/notes?change=1").text
    # On none it would count for no ride, as with longitude and latitude exchanged.
    for path, more in (("notes", {"ground": "track"}), ("helpers", {"name": "x"})):
        wrong = staff.post(f"/desk/{path}", {"points": "1.05,2.05", "kind": "mechanic", **more})
        assert wrong.status_code == 422 and "lies on no map of this desk" in wrong.text
    late = {"points": "2.05,1.05", "ground": "track", "date": "9999-01-01"}
    assert "still to come" in staff.post("/desk/notes", late).text
    got = office.client.get(f"{link}/draw").text
    assert "Which map?" in got and f'href="{link}/draw?region=east"' in got
    assert 'name="region" value="east"' in office.client.get(f"{link}/draw?region=east").text
    office.client.post(link, data={"rider": "steady"}, files={"files": ("a.gpx", GPX)})
    assert 'name="region" value="west"' in office.client.get(f"{link}/draw").text
    step = {"region": "east", "points": "", "level": "0", "near": "1"}
    assert 'name="region" value="east"' in office.client.post(f"{link}/draw", data=step).text


def _elsewhere() -> OsmXml:
    """Roads around the start of the stand-in's route."""
    osm = OsmXml()
    for i, (lon, lat) in enumerate(((2.0, 1.0), (2.05, 1.05), (2.1, 1.1)), start=1):
        osm.node(i, lon, lat)
    osm.way(1, [1, 2, 3], {"highway": "tertiary", "surface": "asphalt"})
    return osm
