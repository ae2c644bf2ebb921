"""`terrain schema`: every schema that ships, as JSON Schema wants it."""

from __future__ import annotations

import json

import jsonschema
import pytest

from terrain.cli import main


def test_every_schema_is_listed_and_printed(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["schema"]) == 0
    names = [line.split()[0] for line in capsys.readouterr().out.splitlines()]
    assert {"terrain-report-1", "terrain-ridden-1", "terrain-when-1"} <= set(names)
    for name in names:
        assert main(["schema", name]) == 0
        printed = json.loads(capsys.readouterr().out)
        jsonschema.Draft202012Validator.check_schema(printed)
        assert printed["title"] == name[:-2] + "/" + name[-1]
        assert main(["schema", printed["title"]]) == 0
        capsys.readouterr()
    assert main(["schema", "nothing"]) == 2
    assert "terrain-report-1" in capsys.readouterr().err
