"""The files of one report, by format."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from pathlib import Path

from terrain.errors import UsageError
from terrain.report.files import write_whole
from terrain.text.message import message
from terrain.text.translator import Translator
from terrain.values.report import Report
from terrain.values.verdict import Audience


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """How a report is to be told.

    translator : language and units; audience : rider, staff or guide
    mail_to : address on the mail draft; mail_template : the staff's own plain body, read from the
        file template_source
    """

    translator: Translator = field(default_factory=Translator)
    audience: str = "rider"
    mail_to: str = ""
    mail_template: str | None = None
    template_source: str = ""


def _html(report: Report, asked: Asked, stem: str) -> bytes:
    from terrain.report.html import render_html

    return render_html(report, asked.translator, Audience(asked.audience)).encode("utf-8")


def _pdf(report: Report, asked: Asked, stem: str) -> bytes:
    from terrain.report.paper.typeset import render_pdf

    return render_pdf(report, asked.translator, Audience(asked.audience))


def _eml(report: Report, asked: Asked, stem: str) -> bytes:
    from terrain.report.mail import Attachment, make_draft, render_eml

    pdf, gpx = _pdf(report, asked, stem), _gpx(report, asked, stem)
    attachments = (
        Attachment(name=f"{stem}-report.pdf", kind="application/pdf", data=pdf),
        Attachment(name=f"{stem}-report.gpx", kind="application/gpx+xml", data=gpx),
    )
    draft = make_draft(
        report,
        asked.translator,
        template=asked.mail_template,
        template_source=asked.template_source,
    )
    return render_eml(draft, attachments=attachments, to=asked.mail_to)


def _json(report: Report, asked: Asked, stem: str) -> bytes:
    from terrain.report.data.jsonfile import render_json

    return render_json(report)


def _geojson(report: Report, asked: Asked, stem: str) -> bytes:
    from terrain.report.data.geojson import render_geojson

    return render_geojson(report, translator=asked.translator)


def _gpx(report: Report, asked: Asked, stem: str) -> bytes:
    from terrain.report.data.gpx import render_gpx

    return render_gpx(report, asked.translator)


def _kml(report: Report, asked: Asked, stem: str) -> bytes:
    from terrain.report.data.kml import render_kml

    return render_kml(report, asked.translator, asked.audience)


def _ics(report: Report, asked: Asked, stem: str) -> bytes:
    from terrain.report.data.ics import render_ics

    return render_ics(report, asked.translator)


def _csv(report: Report, asked: Asked, stem: str) -> bytes:
    from terrain.report.data.csvfile import render_csv

    return render_csv(report)


def _gpkg(report: Report, asked: Asked, stem: str) -> bytes:
    from terrain.report.data.tables import render_gpkg

    return render_gpkg(report, translator=asked.translator)


def _parquet(report: Report, asked: Asked, stem: str) -> bytes:
    from terrain.report.data.tables import render_parquet

    return render_parquet(report, translator=asked.translator)


def _card(report: Report, asked: Asked, stem: str) -> bytes:
    from terrain.report.paper.card import render_card

    return render_card(report, asked.translator)


_WRITERS: dict[str, Callable[[Report, Asked, str], bytes]] = {
    "html": _html,
    "pdf": _pdf,
    "card": _card,
    "eml": _eml,
    "json": _json,
    "geojson": _geojson,
    "gpx": _gpx,
    "csv": _csv,
    "gpkg": _gpkg,
    "kml": _kml,
    "ics": _ics,
    "parquet": _parquet,
}
FORMATS: tuple[str, ...] = tuple(_WRITERS)


def render_files(
    report: Report,
    formats: Iterable[str],
    *,
    stem: str,
    asked: Asked | None = None,
) -> list[tuple[str, bytes]]:
    """(file name, content) of the report in each format, in the order asked.

    stem : the files are called <stem>-report.<format>, a sheet for the tank bag <stem>-card.pdf
    Raises UsageError for an unknown format.
    """
    asked = asked or Asked()
    made = []
    for name in formats:
        writer = _WRITERS.get(name)
        if writer is None:
            known = ", ".join(_WRITERS)
            raise UsageError(
                message("cannot write {name}", name=str(name)),
                "--write",
                message("Choose from {known}.", known=str(known)),
            )
        made.append((_file_name(stem, name), writer(report, asked, stem)))
    return made


def _file_name(stem: str, name: str) -> str:
    return f"{stem}-card.pdf" if name == "card" else f"{stem}-report.{name}"


def write_files(
    report: Report,
    formats: Iterable[str],
    *,
    folder: Path,
    stem: str,
    asked: Asked | None = None,
) -> list[Path]:
    """Write the report in each format to `folder`; returns the files in the order asked.

    stem : of the files' names, such as `route_stem` or `distinct_stems` give
    Raises UsageError for an unknown format, TerrainError if a file cannot be written.
    """
    made = render_files(report, formats, stem=stem, asked=asked)
    for name, data in made:
        write_whole(folder / name, data)
    return [folder / name for name, _ in made]
