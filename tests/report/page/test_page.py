"""The page's structure: one order for every reader, parts by audience, nothing dangling."""

from __future__ import annotations

import email
import itertools
import re
from collections.abc import Callable
from dataclasses import replace
from datetime import date, datetime
from email import policy
from pathlib import Path

import numpy as np
import pytest

import terrain
from terrain.region.info import OSM_ATTRIBUTION
from terrain.report.diagram.diagram import day_about
from terrain.report.html import render_html, whole_words
from terrain.report.mail import make_draft, render_eml
from terrain.report.page.first import (
    _replies,
    _rider_cell,
    _saddle_cell,
    first_screen,
    split_gaps,
)
from terrain.report.page.ground import ground_part
from terrain.report.page.heat import heat_part
from terrain.report.page.lead import finding_place, share_rows
from terrain.report.page.page import make_page
from terrain.report.page.parts import ORDER
from terrain.report.page.spots import map_spots
from terrain.report.said import about_line
from terrain.tables.climate import ATTRIBUTION as CLIMATE_ATTRIBUTION
from terrain.tables.heat import COLD_LEVELS
from terrain.text.catalogue import LANGUAGES
from terrain.text.message import message, spaced
from terrain.text.translator import Translator, translator_for
from terrain.values.advice import AdviceItem, Flip, RiderVerdict, SetupChoice
from terrain.values.answers import AskedPart
from terrain.values.ground import Basis, Evidence, GroundKind, GroundNote, SeasonRisk
from terrain.values.heat import Caution
from terrain.values.report import Report
from terrain.values.verdict import (
    Audience,
    Finding,
    FindingKind,
    Rank,
    RidePart,
    for_all,
)
from tests.assessed import report_of, ridden, stretch_of
from tests.report.renamed import renamed
from tests.report.sample import typed


def _what(item: Finding) -> str:
    return Translator().translate(item.what).rstrip(".")


@pytest.fixture(scope="module")
def report(sample_report: Callable[[str], Report]) -> Report:
    return sample_report("high-tracks")


@pytest.fixture(scope="module")
def page(report: Report) -> str:
    return render_html(report, Translator())


def test_headings_step_down_one_at_a_time(page: str) -> None:
    levels = [int(level) for level in re.findall(r"<h([1-6])", page)]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(b - a <= 1 for a, b in itertools.pairwise(levels))


def test_the_answer_comes_first(page: str) -> None:
    """Verdict, four cells, ground, findings by harm, what is not known, then the diagram."""
    order = [
        page.index("<h1>"),
        page.index('class="cells"'),
        page.index('class="shares"'),
        page.index('id="f1"'),
        page.index('id="u1"'),
        page.index('id="h-line"'),
        page.index('id="h-map"'),
        page.index('id="h-table"'),
        page.index("<footer>"),
    ]
    assert order == sorted(order)


@pytest.mark.parametrize("audience", Audience)
def test_first_screen_holds_all_that_forbids_in_the_verdicts_order(
    sample_reports: list[Report], audience: Audience
) -> None:
    for report in sample_reports:
        first = make_page(report, Translator(), audience).first
        shown = [row.what.rstrip(".") for row in first.rows if row.key.startswith("f")]
        told = [_what(item) for item in report.verdict.findings]
        assert [what for what in told if what in shown] == shown
        forbidden = {_what(item) for item in report.verdict.forbidden}
        assert forbidden <= set(shown)


def test_strips_lie_where_the_findings_do(sample_reports: list[Report]) -> None:
    seen = 0
    for report in sample_reports:
        length_m = report.assessed.match.length_m
        by_what = {_what(f): f for f in report.verdict.findings}
        for row in make_page(report, Translator(), Audience.RIDER).first.rows:
            item = by_what.get(row.what.rstrip("."))
            if item is None:
                continue
            seen += len(item.parts)
            wanted = [(part.from_m / length_m, part.to_m / length_m) for part in item.parts]
            assert [list(span) for span in row.spans] == [pytest.approx(x) for x in wanted]
            assert row.strip.count("<rect") == len(item.parts)
            assert f"k-{item.rank.value}" in row.strip or not item.parts
    assert seen > 5


def test_what_the_first_screen_leaves_out_stands_below(sample_reports: list[Report]) -> None:
    for report in sample_reports:
        page = make_page(report, Translator(), Audience.RIDER)
        shown = [row for row in page.first.rows if row.key.startswith("f")]
        assert len(shown) + len(page.more_findings) == len(report.verdict.findings)
        unknown = [row for row in page.first.rows if row.key.startswith("u")]
        gaps = sum(split_gaps(report), ())
        assert len(unknown) + len(page.more_unknown) == len(gaps)
        told = {Translator().translate(item.what) for item in report.verdict.findings}
        assert {Translator().translate(gap.why) for gap in report.verdict.unknown} <= told | {
            Translator().translate(gap.why) for gap in gaps
        }
        assert all(row.rank for row in page.first.rows)
        ranks = [item.rank for item in report.verdict.findings]
        assert ranks == sorted(ranks, key=list(Rank).index)


def test_ids_are_unique_and_links_lead_somewhere(page: str) -> None:
    ids = re.findall(r'\bid="([^"]+)"', page)
    assert len(ids) == len(set(ids))
    for target in re.findall(r'(?:href="#|aria-labelledby="|url\(#)([\w-]+)', page):
        assert target in ids


def test_sections_link_diagram_map_and_table(page: str, report: Report) -> None:
    for section in report.verdict.sections:
        marks = re.findall(rf'<(\w+)[^>]* data-s="{section.number}"', page)
        assert {"rect", "use", "tr"} <= set(marks)


def test_nothing_is_fetched(page: str) -> None:
    assert not re.findall(r'(?:src|href|action|srcset|poster)="(?!#)', page)
    assert "@import" not in page
    assert not re.findall(r"url\((?!#)", page)


def test_page_is_small_enough_for_a_mail(page: str) -> None:
    assert len(page.encode()) < 600_000


@pytest.mark.parametrize("audience", Audience)
def test_each_audience_has_its_order(audience: Audience, report: Report) -> None:
    keys = [part.key for part in make_page(report, Translator(), audience).parts]
    wanted = [key for key in ORDER[audience] if key in keys]
    assert keys == wanted
    assert keys[0] == {"rider": "cautions", "staff": "advice", "guide": "plan"}[audience.value]
    asked = bool(report.assessed.advice.questions)
    assert ("questions" in keys) == (asked and audience is not Audience.RIDER)


def test_same_facts_in_page_and_json(page: str, report: Report) -> None:
    facts = report.to_dict()
    best = facts["ground"]["shares"]["track"]["best"]
    # Rounded so that the three add up to a hundred.
    shown = re.search(r"<b>track</b><span>(\d+)", page)
    assert shown is not None and abs(int(shown[1]) - 100 * best) < 1.0
    assert facts["route"]["name"] in page
    for place in facts["places"][:3]:
        assert place["name"] in page


def test_same_page_twice(report: Report, page: str) -> None:
    assert render_html(report, Translator()) == page


def test_rider_without_a_date_is_told_the_year(island_home: Path) -> None:
    region = terrain.open_region("island", island_home)
    path = sorted((island_home / "demo" / "routes").glob("coast*.gpx"))[0]
    undated = terrain.assess(terrain.read_route(path), region)
    shown = render_html(undated, Translator())
    assert "Month by month" in shown
    # The months stand in place of the heat lane, and say the same as `terrain when`.
    when = terrain.when_to_go(terrain.read_route(path), region)
    assert str(when.headline) in shown
    frames = [d.count("M") for d in re.findall(r'<path d="([^"]+)"[^>]*class="best"', shown)]
    assert frames == 2 * [sum(c.is_best for m in when.months for c in m.cells)]
    assert "heat is not judged for a day" not in shown.split('id="h-when"')[0]
    assert "No date" in shown


def test_a_part_too_hard_is_not_where_an_open_answer_hangs(island_home: Path) -> None:
    """Gaps of the line leave the setup open; the gravel, as drawn, only asks much of the rider. The
    first screen asks what decides, which way is ridden, and marks where that is. Where the gravel
    is beyond the rider, its question stands there too."""
    region = terrain.open_region("island", island_home)
    path = island_home / "demo" / "routes" / "few-points.gpx"
    trip = terrain.Trip(depart=datetime(2027, 7, 14, 7, 30), rider=terrain.Rider.STEADY)
    report = terrain.assess(terrain.read_route(path), region, trip)
    assert report.verdict.answer is SetupChoice.ASK
    assert {part.code for part in report.verdict.asked} == {"hard"}
    way = report.assessed.advice.questions[0]
    assert way.code == "which-ways" and len(way.spans) > 1
    first = first_screen(report, Translator(), Audience.RIDER)
    assert first.headline.startswith("One question first: Which way do you go in these ")
    assert first.headline.endswith(" parts of the route?")
    assert [(answer.given, answer.then) for answer in first.answers] == [
        ("As we guessed it", "Road setup."),
        ("Another way", "Send the plan as a drawn track: it is judged anew."),
        ("I do not know", "Mixed tyres, and a bike that can do either."),
    ]
    hangs = next(row for row in first.rows if row.what == "The answer hangs here.")
    assert f"these {len(hangs.spans)} parts" in first.headline
    assert len(hangs.spans) == len(way.spans) > 1
    assert "Do you mean to ride" not in render_html(report, Translator())
    # Asked after another question, the way is no answer by itself, and no place.
    ground = replace(way, code="which-ground", from_m=50e3, to_m=60e3, spans=())
    track = replace(way, code="send-track", spans=())
    advice = replace(report.assessed.advice, questions=(ground, track))
    other = replace(report, assessed=replace(report.assessed, advice=advice))
    later = first_screen(other, Translator(), Audience.RIDER)
    assert "As we guessed it" not in [answer.given for answer in later.answers]
    hangs = next(row for row in later.rows if row.what == "The answer hangs here.")
    assert len(hangs.spans) == 1
    report = terrain.assess(
        report.assessed.route, region, replace(trip, rider=terrain.Rider.NOVICE)
    )
    first = first_screen(report, Translator(), Audience.RIDER)
    assert first.headline == "Too hard for this rider (novice)."
    asked = [answer.part for answer in first.answers if answer.part]
    assert asked[0].startswith("Which way do you go") and asked[1].startswith("Do you mean")


@pytest.mark.parametrize("lang", ["en", "fr"])
def test_the_question_of_the_headline_is_not_told_again_below_it(
    long_report: Report, lang: str
) -> None:
    translator = translator_for(lang)
    told = long_report.verdict
    asked = message("One question first: {question:c}", question=told.asked[0].text)
    for worst, n_told in ((told.worst, 2), (asked, 1)):
        report = replace(long_report, verdict=replace(told, worst=worst, answer=SetupChoice.ASK))
        first = first_screen(report, translator, Audience.RIDER)
        parts = [a.part for a in first.answers if a.key.endswith(".leave")]
        assert len(parts) == 2 and sum(map(bool, parts)) == n_told and parts[-1]


@pytest.mark.parametrize("lang", LANGUAGES)
def test_heat_says_what_it_rests_on(report: Report, lang: str) -> None:
    translator = translator_for(lang)
    page = make_page(report, translator, Audience.RIDER)
    heat = next(part for part in page.parts if part.key == "heat")
    said = translator.translate(report.assessed.heat.basis["text"])
    assert said in [block.text for block in heat.blocks]


def test_climb_of_sections_adds_up(sample_reports: list[Report]) -> None:
    for sample in sample_reports:
        rows = make_page(sample, Translator(), Audience.RIDER).table
        relief = sample.assessed.relief
        for sign, moved_m in (("+", relief.ascent_m), ("−", relief.descent_m)):
            shown = [re.search(rf"{re.escape(sign)}([\d\u202f\u00a0]+)", row.climb) for row in rows]
            total = sum(int(re.sub(r"\D", "", found[1])) for found in shown if found)
            # Each row is told to ten metres; moves under 5 m are left out.
            assert total == pytest.approx(moved_m, abs=5 * len(rows) + 10)


def test_climb_without_heights_is_a_dash(report: Report) -> None:
    flat = tuple(replace(s, up_m=None, down_m=None) for s in report.verdict.sections)
    unknown = replace(report, verdict=replace(report.verdict, sections=flat))
    page = make_page(unknown, Translator(), Audience.RIDER)
    assert {row.climb for row in page.table} == {"–"}
    assert not page.has_height


def test_french_places_take_a_space_before_the_colon(report: Report) -> None:
    page = make_page(report, translator_for("fr"), Audience.RIDER)
    ground = next(part for part in page.parts if part.key == "ground")
    told = [line for block in ground.blocks for line in block.lines if line.startswith("km")]
    assert told and all("\u00a0:" in line.replace("\u202f", "\u00a0") for line in told)
    assert not [row.told for row in page.table if re.search(r"\w: ", row.told)]


def test_credit_is_told_in_the_language_and_climate_not_beside_the_map(report: Report) -> None:
    source = message(
        "elevation tiles ({kinds}, {sizes} arc seconds)",
        kinds=(".hgt", "GeoTIFF"), sizes=("1", "3"),
    )  # fmt: skip
    tiles = message("Heights from {source}", source=source)
    lines = (OSM_ATTRIBUTION, tiles, CLIMATE_ATTRIBUTION, "The club's map")
    region = replace(report.assessed.region, attribution=lines)
    named = replace(report, assessed=replace(report.assessed, region=region))
    page = make_page(named, translator_for("es"), Audience.RIDER)
    assert page.credit.startswith("Datos del mapa © colaboradores de OpenStreetMap")
    assert "(.hgt y GeoTIFF, 1 y 3 segundos de arco); The club's map" in page.credit
    assert "Clima" not in page.credit
    assert any(line.startswith("Clima: mapas") for line in page.footer)


def test_a_name_that_runs_right_to_left_is_set_apart_from_the_numbers_after_it(
    report: Report,
) -> None:
    page = render_html(renamed(report, "وادي درعة\u202e"), Translator())
    assert "<b>\u2068وادي درعة\u2069</b>" in page
    assert "\u202e" not in page


def test_tags_that_do_not_fit_are_told_once(sample_report: Callable[[str], Report]) -> None:
    page = make_page(sample_report("coast-road"), translator_for("fr"), Audience.RIDER)
    (part,) = (part for part in page.parts if part.key == "ground")
    lines = [line for block in part.blocks for line in block.lines if "ne va pas avec" in line]
    assert lines
    assert all(line.count("ne va pas avec") == 1 for line in lines)
    assert all(line.endswith(".") for line in lines)


def test_a_map_that_tells_nothing_is_not_said_to_tell_only_some(report: Report) -> None:
    translator = translator_for("en", "metric")
    for firm, wanted in ((0.0, "None of it"), (0.3, "Only 30 % of it"), (0.8, "80 % of it")):
        shares = {Basis.TAGGED: firm, Basis.INFERRED: 1.0 - firm}
        ground = replace(report.assessed.ground, basis_shares=shares)
        told = replace(report, assessed=replace(report.assessed, ground=ground))
        assert spaced(share_rows(told, translator)[1]).startswith(wanted)


@pytest.mark.parametrize(("off_share", "told"), [(0.049, False), (0.051, True)])
def test_that_the_shares_leave_out_what_is_off_the_map_is_told_beside_them(
    report: Report, off_share: float, told: bool
) -> None:
    """ "Paved 100 %" stood over a ride half of which lies on no road of the map."""
    match = report.assessed.match
    legs = np.array([0.0, match.length_m * (1 - off_share), match.length_m])
    cut = replace(
        match, **{name: np.repeat(getattr(match, name)[:1], 2) for name in _LEGS},
        kind=np.array([0, 1], np.int8), from_m=legs[:-1], to_m=legs[1:],
    )  # fmt: skip
    ride = replace(report.assessed.ride, match=cut)
    part = replace(report, assessed=replace(report.assessed, ride=ride))
    said = share_rows(part, Translator())
    for fits, beside in ((RiderVerdict.WITHIN, True), (RiderVerdict.BEYOND, False)):
        fit = replace(part, verdict=replace(part.verdict, rider=fits))
        note = _rider_cell(fit, Translator(), Audience.STAFF).note
        assert (note == "as far as it is on the map") is (told and beside)
    wanted = f"The shares are of the {Translator().distance(legs[1])} that lie on mapped roads."
    assert said[1].endswith(wanted) is told


_LEGS = (
    "filled", "edge", "way", "way_id", "forward", "edge_from_m", "edge_to_m", "offset_m",
)  # fmt: skip


def test_the_map_marks_the_hottest_or_coldest_place_where_that_is_a_finding(sample_report) -> None:
    """A label saying "hottest, 21 C" warns of nothing and takes the place of one that does."""
    translator = translator_for("en", "metric")
    base = sample_report("coast-road")
    kinds = (FindingKind.HEAT, FindingKind.COLD)
    others = tuple(item for item in base.verdict.findings if item.kind not in kinds)
    told = Finding(kind=FindingKind.HEAT, rank=Rank.CARE, what=message("x"), do=for_all(""))
    for found, word in (((told,), "Hottest"), ((replace(told, kind=FindingKind.COLD),), "Coldest"),
                        ((), None)):  # fmt: skip
        report = replace(base, verdict=replace(base.verdict, findings=(*found, *others)))
        titles = [spot.title for spot in map_spots(report, translator)]
        marked = [t for t in titles if t.startswith(("Coldest", "Hottest"))]
        assert [t.split(",")[0] for t in marked] == ([word] if word else [])


def test_warm_gloves_are_asked_for_once(sample_report) -> None:
    base = sample_report("coast-road")
    heat, translator = base.assessed.heat, translator_for("en", "metric")
    cold = [
        Caution(code=f"cold-{row.below:.0f}", text=row.text, at_m=None, source=row.source)
        for row in COLD_LEVELS
    ]
    told = replace(base.assessed, heat=replace(heat, cautions=tuple(cold)))
    part = heat_part(replace(base, assessed=told), translator)
    assert part is not None
    lines = [line for block in part.blocks for line in block.lines]
    assert not any("Cold hands" in line for line in lines)
    assert any("Very cold at speed" in line for line in lines)


@pytest.mark.parametrize("lang", LANGUAGES)
def test_a_word_of_heat_begins_with_a_capital(
    sample_report: Callable[[str], Report], lang: str
) -> None:
    """Also where a class of bikes begins it, whose title is no sentence."""
    part = heat_part(sample_report("high-tracks"), translator_for(lang))
    assert part is not None
    lines = [line for block in part.blocks for line in block.lines]
    assert len(lines) > 3 and not any(line[0].islower() for line in lines)


def test_light_is_measured_the_same_in_diagram_and_plan(report: Report) -> None:
    translator = translator_for("en", "metric")
    day = report.assessed.plan.days[0]
    assert day.margin_s is not None and day.margin_s > 0
    told = translator._("{time} before dark", time=translator.duration(day.margin_s + 3600))
    assert day_about(day, translator).endswith(told)
    # From half past one to two at night it was "15 h 35 min before dark".
    early = replace(day, start_s=5_400.0, end_s=7_200.0)
    late = replace(day, start_s=81_000.0, end_s=82_000.0, margin_s=-9_000.0)
    for night in (early, late):
        assert night.is_dark and day_about(night, translator).endswith(translator._("in the dark"))
    assert not day.is_dark
    assert render_html(report, translator).count(told) >= 2


def test_what_forbids_stands_over_what_is_open(sample_report: Callable[[str], Report]) -> None:
    """On a ride that both forbids and asks."""
    report, forbidden = sample_report("few-points"), sample_report("high-tracks").verdict.forbidden
    verdict = report.verdict
    assert verdict.answer is SetupChoice.ASK and forbidden
    both = replace(report, verdict=replace(verdict, findings=(*forbidden, *verdict.findings)))
    rows = first_screen(both, Translator(), Audience.STAFF).rows
    kinds = ["open" if row.key == "a1" else row.kind for row in rows]
    assert kinds.index("open") == len(both.verdict.forbidden)
    assert set(kinds[: kinds.index("open")]) == {"forbidden"}


def test_the_rider_is_told_as_judged(sample_report: Callable[[str], Report]) -> None:
    """Who is new to motorcycles is judged as a novice: "(steady): too hard" stood over that."""
    report = sample_report("few-points")
    advice = report.assessed.advice
    told = replace(advice, rider=replace(advice.rider, rider="novice"))
    report = replace(report, assessed=replace(report.assessed, advice=told))
    assert report.assessed.trip.rider.value != "novice"
    labels = [cell.label for cell in first_screen(report, Translator(), Audience.STAFF).cells]
    assert "For this rider (novice)" in labels


def test_the_start_is_the_first_label(sample_reports: list[Report]) -> None:
    """Also where help is farthest at the start itself."""
    for report in sample_reports:
        assert map_spots(report, Translator())[0].kind == "start"


@pytest.mark.parametrize(
    ("at_km", "where"),
    [
        ((2,), "km 2"), ((2, 5), "km 2, km 5"), ((1, 2, 3, 4), "km 1, km 2, km 3, km 4"),
        ((1, 2, 3, 4, 5, 6), "km 1, km 2, km 3, km 4, 2 more"),
    ],
)  # fmt: skip
def test_spots_are_told_one_by_one_and_none_is_called_the_longest(
    at_km: tuple[int, ...], where: str
) -> None:
    parts = tuple(RidePart(from_m=1000.0 * km, to_m=1000.0 * km) for km in at_km)
    item = Finding(kind=FindingKind.BORDER, rank=Rank.CARE, what=message("{n}", n="x"),
                   do=for_all(""), parts=parts, place="Sandel")  # fmt: skip
    # What one of them is near says nothing of the others.
    near = ", near Sandel" if len(parts) == 1 else ""
    assert finding_place(item, translator_for("en")).replace("\u00a0", " ") == where + near


def test_what_the_operator_noted_on_the_way_is_read_on_the_page() -> None:
    """ "Washed out; no way" stood in the JSON alone."""
    note = GroundNote(way_id=1, ground=GroundKind.TRACK, noted=date(2027, 5, 1), who="Ana",
                      remark="washed out; no way")  # fmt: skip
    bare = replace(note, remark="")
    rows = (
        stretch_of(0, 3_000, evidence=Evidence(text="x", note=note)),
        stretch_of(3_000, 5_000, evidence=Evidence(text="x", note=bare)),
    )
    part = ground_part(report_of(ridden(*rows)), translator_for("en"))
    assert part is not None
    lines = [line.replace("\u00a0", " ") for block in part.blocks for line in block.lines]
    assert [line for line in lines if "Ana" in line] == [
        "km 0 to 3: washed out; no way (Ana, 1 May 2027)"
    ]


@pytest.mark.parametrize("grave", [False, True])
def test_a_mail_calls_no_danger_good_to_know(grave: bool) -> None:
    """A danger comes before anything else; care alone is good to know."""
    risk = SeasonRisk.CONFIRM_FIRST if grave else SeasonRisk.DOUBTFUL
    report = report_of(ridden(stretch_of(0, 5_000, season_risk=risk)))
    assert any(item.rank is Rank.DANGER for item in report.verdict.findings) is grave
    assert not report.verdict.forbidden
    mail = email.message_from_bytes(
        render_eml(make_draft(report, translator_for("en"))), policy=policy.default
    )
    for kind in ("plain", "html"):
        body = mail.get_body((kind,))
        assert body is not None
        assert ("Before anything else:" in body.get_content()) is grave
        assert ("Good to know:" in body.get_content()) is not grave


def test_a_word_with_a_hyphen_is_kept_whole_but_no_address_or_name_of_a_file() -> None:
    assert whole_words("An off-road setup.") == 'An <span class="whole">off-road</span> setup.'
    assert "span" in whole_words("Petite polyvalente tout-terrain")
    assert whole_words("paved: 46 %\ngravel: <3 %") == "paved: 46 %\ngravel: &lt;3 %"
    for plain in ("https://desk.example/t/ab-cd-ef", "a-long-name-of-a-file.gpx"):
        assert whole_words(plain) == plain


def test_a_range_of_one_time_is_told_once() -> None:
    """50 m of a street took "under a minute to under a minute"."""
    for riding_s, told in (((5.0, 4.0, 6.0), 0), ((3_600.0, 2_700.0, 5_400.0), 1)):
        report = typed()
        report = replace(report, verdict=replace(report.verdict, riding_s=riding_s))
        note, line = _saddle_cell(report, Translator()).note, about_line(report, Translator())
        assert note.count(" to ") == line.count(" to ") == told
        assert ("under a minute" in line) == (not told)


def test_no_to_whether_anybody_knows_it_leaves_nothing_out() -> None:
    """ "Does anyone know it?" was answered by "No, leave it out" and "Yes, ride it"."""
    part = AskedPart(
        code="which-ground", from_m=0.0, to_m=9.0, sent_from_m=0.0, sent_to_m=9.0,
        text=message("Does anyone know it?"), about_ground=True, if_left="",
    )  # fmt: skip
    said = [given for _, given, _ in _replies(part, typed(), Translator())]
    assert said == ["Leave it out", "Somebody knows it", "I do not know"]
    meant = [
        given for _, given, _ in _replies(replace(part, about_ground=False), typed(), Translator())
    ]
    assert meant == ["Leave it out", "Yes, ride it", "I do not know"]


@pytest.mark.parametrize(("again", "told"), [((), True), (((20.0, 29.0),), False)])
def test_what_leaving_one_ride_of_a_road_out_changes_is_not_told_of_all(
    again: tuple[tuple[float, float], ...], told: bool
) -> None:
    """One answer leaves out each ride of a road; the setup was reckoned without one of them."""
    part = AskedPart(
        code="closed", from_m=0.0, to_m=9.0, sent_from_m=0.0, sent_to_m=9.0,
        text=message("Do you mean to ride it?"), about_ground=False, if_left="",
        again=again, sent_again=again,
    )  # fmt: skip
    report = typed()
    said = AdviceItem(code="flip-skip", text=message("If it is left out."), from_m=0.0, to_m=9.0)
    setup = replace(report.assessed.advice.setup, flips=(Flip(said=said, then=SetupChoice.ROAD),))
    advice = replace(report.assessed.advice, setup=setup)
    report = replace(report, assessed=replace(report.assessed, advice=advice))
    (_, _, then), *_ = _replies(part, report, Translator())
    assert then.startswith("Road setup.") is told
