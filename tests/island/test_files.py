"""The shipped files of the demo are what the generator makes."""

from __future__ import annotations

import gzip
from pathlib import Path

import osmium

from tests.island import DATA, make_island
from tests.island.island import Island

_REMAKE = "run: python -m tests.island"


def _unpacked(path: Path, aside: Path) -> bytes:
    """A file's bytes before packing, which zlib's versions do differently."""
    if path.name.endswith(".gz"):
        return gzip.decompress(path.read_bytes())
    if not path.name.endswith(".pbf"):
        return path.read_bytes()
    plain = aside / "plain.osm.pbf"
    objects = osmium.FileProcessor(str(path))
    file = osmium.io.File(str(plain), "pbf,pbf_compression=none")
    with osmium.SimpleWriter(file, header=objects.header, overwrite=True) as writer:
        for item in objects:
            writer.add(item)
    return plain.read_bytes()


def test_the_generator_makes_the_shipped_bytes(island: Island, tmp_path: Path) -> None:
    """Drawn in this process, shipped by another: no clock, hash or thread has a say."""
    made, aside = tmp_path / "made", tmp_path
    made.mkdir()
    make_island(made, island)
    assert {path.name for path in made.iterdir()} == {path.name for path in DATA.iterdir()}
    for path in sorted(made.iterdir()):
        same = _unpacked(path, aside) == _unpacked(DATA / path.name, aside)
        assert same, f"{path.name}: {_REMAKE}"


def test_the_files_are_small() -> None:
    assert sum(path.stat().st_size for path in DATA.iterdir()) < 1_000_000
