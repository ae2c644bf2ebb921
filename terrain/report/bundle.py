"""The files of one report, by format."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path, PurePath

from terrain.errors import UsageError
from terrain.report.files import safe_stem, write_whole
from terrain.report.words import Units, Words, words_for
from terrain.values.report import Report


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """How a report is to be told: in which words, to whom (rider, staff or guide)."""

    words: Words
    voice: str = "rider"


def _json(report: Report, asked: Asked) -> bytes:
    from terrain.report.jsonfile import render_json

    return render_json(report)


def _html(report: Report, asked: Asked) -> bytes:
    from terrain.report.html import render_html

    return render_html(report, asked.words, asked.voice).encode("utf-8")


def _geojson(report: Report, asked: Asked) -> bytes:
    from terrain.report.geojson import render_geojson

    return render_geojson(report)


def _csv(report: Report, asked: Asked) -> bytes:
    from terrain.report.csvfile import render_csv

    return render_csv(report)


def _pdf(report: Report, asked: Asked) -> bytes:
    from terrain.report.pdf import render_pdf

    return render_pdf(report, asked.words, asked.voice)


_WRITERS: dict[str, Callable[[Report, Asked], bytes]] = {
    "html": _html,
    "pdf": _pdf,
    "json": _json,
    "geojson": _geojson,
    "csv": _csv,
}


def render_files(
    report: Report,
    formats: Iterable[str],
    *,
    stem: str,
    lang: str = "en",
    units: str | Units = Units.METRIC,
    voice: str = "rider",
) -> list[tuple[str, bytes]]:
    """(file name, content) of the report in each format, in the order asked.

    stem : the files are called <stem>-report.<format>
    Raises UsageError for an unknown format.
    """
    asked = Asked(words=words_for(lang, units), voice=voice)
    made = []
    for name in formats:
        writer = _WRITERS.get(name)
        if writer is None:
            known = ", ".join(_WRITERS)
            raise UsageError(f"cannot write {name}", "--write", f"Choose from {known}.")
        made.append((f"{stem}-report.{name}", writer(report, asked)))
    return made


def write_files(
    report: Report,
    formats: Iterable[str],
    *,
    folder: Path,
    stem: str,
    lang: str = "en",
    units: str | Units = Units.METRIC,
    voice: str = "rider",
) -> list[Path]:
    """Write the report in each format to `folder`; returns the files in the order asked.

    stem : the route's file name
    Raises UsageError for an unknown format, TerrainError if a file cannot be written.
    """
    base = safe_stem(PurePath(stem).name.split(".gpx")[0].removesuffix(".zip"))
    made = render_files(report, formats, stem=base, lang=lang, units=units, voice=voice)
    for name, data in made:
        write_whole(folder / name, data)
    return [folder / name for name, _ in made]
