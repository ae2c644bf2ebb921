"""Every channel says the one verdict: all that forbids, in each of them, in the verdict's order."""

from __future__ import annotations

import csv
import email
import io
import re
import tarfile
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import datetime
from email import policy
from functools import cache, lru_cache
from html import unescape
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator

import terrain
from terrain.region.build import build_region
from terrain.report.data.geojson import render_geojson
from terrain.report.data.gpx import render_gpx
from terrain.report.data.ics import render_ics
from terrain.report.data.jsonfile import render_json, report_schema
from terrain.report.data.kml import render_kml
from terrain.report.desk.brief import brief_of
from terrain.report.diagram.when import draw_when
from terrain.report.html import render_html
from terrain.report.mail import make_draft, render_eml
from terrain.report.page.first import shown_findings
from terrain.report.page.page import make_page
from terrain.report.paper import card, typeset
from terrain.report.summary import summary_csv, summary_lines, summary_row
from terrain.report.summary_page import summary_html
from terrain.report.terminal import Style, render_summary
from terrain.report.when import render_when
from terrain.tables.fleet import DEFAULT_FLEET
from terrain.text.catalogue import LANGUAGES
from terrain.text.message import message
from terrain.text.terms import DANGER_TERMS
from terrain.text.translator import Translator, translator_for
from terrain.values.report import Report
from terrain.values.verdict import Audience, Finding, FindingKind, Rank
from terrain.web.trips import Booked, OneRider
from terrain.web.work import summary_of
from tests.match_scoring import lines

_SAMPLES = ("coast-road", "few-points", "high-tracks", "over-the-strait", "valleys-and-passes")
_TRIPS = (
    terrain.Trip(depart=datetime(2027, 3, 14, 7, 30), wanted_class="road-tourer", rider="novice",
                 pillion=True),
    terrain.Trip(depart=datetime(2027, 7, 14, 7, 30), wanted_class="dual-sport"),
    terrain.Trip(),
)  # fmt: skip
_SCHEMA = Draft202012Validator(report_schema())  # which tests/cli/test_schema.py checks itself
_VARIANTS = ("clean10", "clean50", "noisy15", "othermap", "coarse", "clicked", "via2000", "via5000")


def _squeezed(text: str) -> str:
    """The letters of a text: how its lines break and its words are kept together is no matter."""
    return re.sub(r"[\s\u200b\u2060*]", "", unescape(text))


def _html_letters(page: str) -> str:
    body = re.sub(r"<(script|style)\b.*?</\1>", "", page, flags=re.S)
    return _squeezed(re.sub(r"<[^>]*>", "", body))


def _channels(report: Report, translator: Translator) -> Iterator[tuple[str, str]]:
    """(name, letters) of each channel that a person may read alone."""
    for audience in Audience:
        yield f"page, {audience}", _html_letters(render_html(report, translator, audience))
        page = make_page(report, translator, audience)
        paper = typeset._first(page.first, translator)
        yield f"paper, {audience}", _squeezed(" ".join(_texts(paper)))
        shown = render_summary(report, translator, Style(), audience)
        yield f"terminal, {audience}", _squeezed(shown)
    for day in report.assessed.plan.days or (None,):
        yield "card", _squeezed(" ".join(_texts(card._card(day, report, translator))))
    mail = email.message_from_bytes(
        render_eml(make_draft(report, translator)), policy=policy.default
    )
    for kind in ("plain", "html"):
        body = mail.get_body((kind,))
        assert body is not None
        yield f"mail, {kind}", _html_letters(body.get_content())
    row = summary_row("a.gpx", report, translator)
    yield "table", _squeezed(summary_csv([row]).decode("utf-8-sig").replace('""', '"'))
    yield "table, page", _html_letters(summary_html([row], translator).decode())
    booking = Booked(first=OneRider(wanted=report.assessed.trip.wanted_class or ""))
    told = summary_of(report, booking, DEFAULT_FLEET)
    yield "desk", _squeezed(" ".join(told.told(translator.lang).forbidden))


def _files(report: Report, translator: Translator) -> Iterator[tuple[str, str]]:
    """(name, text) of each file that goes to a device, a map or a calendar without the report."""
    for name, render in (("gpx", render_gpx), ("kml", render_kml)):
        yield name, render(report, translator).decode()
    yield "geojson", render_geojson(report, _facts(report), translator).decode()
    if report.assessed.plan.days and report.assessed.trip.depart:
        told = render_ics(report, translator).decode()
        yield "ics", told.replace("\r\n ", "").replace("\\,", ",").replace("\\;", ";")


def _texts(value: object) -> Iterator[str]:
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict):
        for item in value.values():
            yield from _texts(item)
    elif isinstance(value, list | tuple):
        for item in value:
            yield from _texts(item)


# A report is told in several languages, one after the other, and its facts are the same in each.
_facts = lru_cache(maxsize=1)(Report.to_dict)


def _check(report: Report, lang: str) -> None:
    """All that forbids is in each channel, in the verdict's order, with the answer before it."""
    verdict, translator = report.verdict, translator_for(lang)
    ranks = [tuple(Rank).index(item.rank) for item in verdict.findings]
    assert ranks == sorted(ranks)
    wanted = [
        (x.kind, _squeezed(translator.translate(x.what)).rstrip(".")) for x in verdict.forbidden
    ]
    headline = translator.translate(verdict.headline)
    # Where nothing forbids there is nothing to look for in a channel.
    for name, shown in _channels(report, translator) if wanted else ():
        at = -1
        for kind, what in wanted:
            # A card has what is closed in all in its headline, and the places of its own day.
            card = name == "card" and kind is FindingKind.CLOSED
            text = _squeezed(headline) if card else what
            at = shown.find(text, at + 1)
            assert at >= 0, (report.assessed.route.name, lang, name, text)
    for name, data in _files(report, translator):
        assert _squeezed(headline) in _squeezed(data), (report.assessed.route.name, lang, name)
    row = summary_row("a.gpx", report, translator)
    (line,) = summary_lines([row], translator, 80)[1:]
    assert _squeezed(headline) in _squeezed(line)


def _check_json(report: Report) -> None:
    told = _facts(report)
    _SCHEMA.validate(told)
    assert render_json(report)
    assert told["verdict"]["unknown"] == told["not_known"]
    length_m = told["route"]["length_m"]
    for item in told["verdict"]["findings"]:
        assert 0 <= item["from_m"] <= item["to_m"] <= length_m
        assert item["length_m"] <= round(item["to_m"] - item["from_m"], 1) + 1e-6
        # A rider is never told what is the desk's to do.
        assert "before they book" not in item["do"] and "customer" not in item["do"]
    kinds = {item.kind for item in report.verdict.forbidden}
    excluded = {item.name for item in report.assessed.advice.excluded}
    assert (report.assessed.trip.wanted_class in excluded) is (FindingKind.WANTED_BIKE in kinds)
    assert (not report.assessed.advice.bikes) is (FindingKind.NO_BIKE in kinds)


@pytest.fixture(scope="module")
def made(island_home: Path) -> Callable[[str, int], Report]:
    region = terrain.open_region("island", island_home)

    @cache
    def report(name: str, trip: int) -> Report:
        route = terrain.read_route(island_home / "demo" / "routes" / f"{name}.gpx")
        return terrain.assess(route, region, _TRIPS[trip])

    return report


@pytest.mark.parametrize("trip", range(len(_TRIPS)))
@pytest.mark.parametrize("name", _SAMPLES)
def test_what_forbids_a_sample_ride_is_in_every_channel(
    made: Callable[[str, int], Report], name: str, trip: int
) -> None:
    """In English and two of the other languages by turns: each language meets each sample ride
    and each trip."""
    report = made(name, trip)
    _check_json(report)
    turn = len(_SAMPLES) * trip + _SAMPLES.index(name) + trip
    others = [lang for lang in LANGUAGES if lang != "en"]
    for lang in ("en", others[turn % 5], others[(turn + 2) % 5]):
        _check(report, lang)


def test_the_best_month_is_not_told_before_what_forbids(island_home: Path) -> None:
    """No month opens a closed road or makes a rider of a novice."""
    region = terrain.open_region("island", island_home)
    route = terrain.read_route(island_home / "demo" / "routes" / "high-tracks.gpx")
    trip = terrain.Trip(depart=datetime(2027, 7, 14, 7, 30), rider="novice", pillion=True)
    report = terrain.assess(route, region, replace(trip, depart=None))
    when = terrain.when_to_go(route, region, trip)
    for lang in ("en", "it"):
        says = translator_for(lang)
        shown = _squeezed(render_when(when, says, Style()))
        heads = [_squeezed(says.translate(text)) for text in (report.verdict.worst, when.headline)]
        assert "" not in heads and 0 < shown.index(heads[0]) < shown.index(heads[1])
        assert heads[0] in _squeezed(str(draw_when(when, says)))
    assert when.to_dict()["forbids"] == str(report.verdict.worst)
    easy = terrain.read_route(island_home / "demo" / "routes" / "coast-road.gpx")
    assert not terrain.when_to_go(easy, region).forbids


@pytest.mark.parametrize("n", [2, 6, 9])
def test_care_never_takes_the_place_of_a_danger(made: Callable[[str, int], Report], n: int) -> None:
    """Nine dangers of nine kinds and three things to take care of: the mail tells every danger,
    the first screen six lanes, dangers first, and who leaves dangers out names them.
    """
    base = made("high-tracks", 0)
    like = base.verdict.findings[0]

    def finding(kind: str, rank: Rank) -> Finding:
        told = message(f"Made up {rank}: {kind}.")
        return replace(like, kind=FindingKind(kind), rank=rank, what=told, why="")

    dangers = [finding(kind, Rank.DANGER) for kind in list(DANGER_TERMS)[:n]]
    cares = [finding(kind, Rank.CARE) for kind in ("guess", "wish", "engine")]
    # A danger of the kind that forbids is none the less one.
    closed = finding("closed", Rank.FORBIDDEN)
    verdict = replace(base.verdict, findings=(closed, *dangers, *cares))
    report = replace(base, verdict=verdict)
    says = translator_for("en")
    shown = shown_findings(report)
    assert shown == (closed, *dangers[:6], *cares[: min(3, 6 - min(n, 6))])
    mail = dict(_channels(report, says))
    for name in ("mail, plain", "mail, html"):
        places = [mail[name].find(_squeezed(str(item.what)).rstrip(".")) for item in dangers]
        assert -1 not in places and places == sorted(places)
    terminal = mail[f"terminal, {Audience.RIDER}"]
    told = [_squeezed(str(item.what)).rstrip(".") in terminal for item in dangers]
    left = [item for item, there in zip(dangers, told, strict=True) if not there]
    assert bool(left) is ("Moredangers" in terminal)
    if left:
        named = terminal.partition("Moredangersinthereport:")[2].partition(".")[0]
        assert named == _squeezed(says.listing([DANGER_TERMS[item.kind.value] for item in left]))
        names = [_squeezed(says.translate_term(DANGER_TERMS[item.kind.value])) for item in dangers]
        for day in range(len(report.assessed.plan.days)):
            told_on_card = card._card(report.assessed.plan.days[day], report, says)
            assert all(name in _squeezed(told_on_card["more"]) for name in names[3:])
        brief = brief_of(report, says).why
        assert brief[-1].startswith("More dangers in the report: ")


@pytest.mark.bench
def test_what_forbids_a_sample_ride_is_said_in_all_languages(
    made: Callable[[str, int], Report],
) -> None:
    for name in _SAMPLES:
        for trip in range(len(_TRIPS)):
            for lang in LANGUAGES:
                _check(made(name, trip), lang)


def test_something_forbids_some_of_these_rides(made: Callable[[str, int], Report]) -> None:
    """Else the test above tells nothing."""
    kinds = {
        item.kind
        for name in _SAMPLES
        for trip in range(len(_TRIPS))
        for item in made(name, trip).verdict.forbidden
    }
    assert kinds >= {FindingKind.NO_BIKE, FindingKind.WANTED_BIKE, FindingKind.BEYOND_RIDER}


def test_the_table_has_a_column_of_what_forbids(made: Callable[[str, int], Report]) -> None:
    report = made("high-tracks", 0)
    rows = csv.DictReader(
        io.StringIO(summary_csv([summary_row("a", report, Translator())]).decode("utf-8-sig"))
    )
    (row,) = rows
    assert row["forbidden"].startswith("No bike of the fleet may go")


# -- open routes ---------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def andorra(shared_data: Path, tmp_path_factory: pytest.TempPathFactory) -> terrain.Region:
    home = tmp_path_factory.mktemp("andorra")
    extract = shared_data / "match-truth" / "andorra2023.osm.pbf"
    build_region("andorra", (extract,), (), home=home)
    return terrain.open_region("andorra", home)


def _open_routes(shared_data: Path) -> list[terrain.Route]:
    """Lines of Andorra in the order of the archive, one kind of line after the other."""
    found = []
    try:
        for _, variant, route in lines(shared_data):
            if variant in _VARIANTS:
                found.append(route)
    except (FileNotFoundError, tarfile.TarError) as exc:
        pytest.skip(f"an archive of open lines is not there: {exc}")
    return found


def _judge_open(region: terrain.Region, shared_data: Path, most: int, step: int) -> int:
    n = 0
    for k, route in enumerate(_open_routes(shared_data)[::step]):
        try:
            report = terrain.assess(route, region, _TRIPS[k % len(_TRIPS)])
        except terrain.RegionNotCovering:
            continue  # of the other country
        _check_json(report)
        _check(report, LANGUAGES[k % len(LANGUAGES)])
        n += 1
        if n == most:
            break
    return n


def test_what_forbids_an_open_route_is_in_every_channel(
    andorra: terrain.Region, shared_data: Path
) -> None:
    assert _judge_open(andorra, shared_data, most=4, step=7) == 4


@pytest.mark.bench
def test_what_forbids_a_hundred_open_routes_is_in_every_channel(
    andorra: terrain.Region, shared_data: Path
) -> None:
    n = _judge_open(andorra, shared_data, most=100, step=1)
    assert n == 100
