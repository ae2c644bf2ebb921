"""PDF and mail: tagged, fonts inside, same bytes, few pages; a draft with both bodies."""

from __future__ import annotations

import email
import email.policy
import re
import shutil
import subprocess
import zlib
from dataclasses import replace
from datetime import datetime
from importlib.resources import files
from pathlib import Path

import pytest

import terrain
from terrain.errors import InputError, UsageError
from terrain.report.files import route_stem
from terrain.report.formats import Asked, render_files
from terrain.report.mail import Attachment, _subject, check_template, make_draft, render_eml
from terrain.report.page.help import exit_lines
from terrain.report.page.page import make_page
from terrain.report.paper import typeset
from terrain.report.paper.card import _card, _fitting, render_card
from terrain.report.paper.layout import column_widths, lay_parts, page_budget
from terrain.report.paper.typeset import _shortened, render_pdf
from terrain.report.said import finding_head
from terrain.text.plain import plain_line
from terrain.text.translator import Translator, translator_for
from terrain.values.advice import SetupChoice
from terrain.values.exits import Exit
from terrain.values.report import Report
from terrain.values.verdict import Audience, FindingKind, Rank, RidePart
from tests.assessed import assessed, report_of
from tests.report.hostile import NAMES
from tests.report.renamed import renamed
from tests.report.sample import typed


@pytest.fixture(scope="module")
def reports(sample_reports: list[Report]) -> list[Report]:
    return sample_reports


def _unpacked(pdf: bytes) -> bytes:
    """The file with its compressed streams opened, to look for words of the format in."""
    parts = [pdf]
    for stream in re.findall(rb"stream\r?\n(.*?)\r?\nendstream", pdf, re.S):
        try:
            parts.append(zlib.decompress(stream))
        except zlib.error:
            continue
    return b"\n".join(parts)


def _pages(pdf: bytes) -> int:
    return len(re.findall(rb"/Type\s*/Page\b(?!s)", _unpacked(pdf)))


@pytest.fixture(scope="module")
def papers(reports: list[Report]) -> list[tuple[str, bytes]]:
    """Language and PDF of every sample ride, all languages and audiences among them."""
    told = [("en", "rider"), ("es", "staff"), ("fr", "guide"), ("es", "guide"), ("fr", "rider")]
    return [
        (lang, render_pdf(report, translator_for(lang), Audience(audience)))
        for report, (lang, audience) in zip(reports, told, strict=True)
    ]


def test_pdf_is_tagged_with_its_fonts_in_two_pages_for_a_day(
    papers: list[tuple[str, bytes]], reports: list[Report]
) -> None:
    """ISO 14289-1 (PDF/UA-1): structure, language, title, alternative text, fonts inside."""
    for (lang, pdf), report in zip(papers, reports, strict=True):
        inside = _unpacked(pdf)
        assert b"/StructTreeRoot" in inside
        assert b"pdfuaid" in inside
        assert re.search(rb"/MarkInfo\s*<<\s*/Marked true", inside)
        assert re.search(rb"/DisplayDocTitle true", inside)
        assert f"({lang})".encode() in inside or f"<{lang}>".encode() in inside
        assert report.assessed.route.name.encode() in inside
        # Every font is in the file, and every drawing has its words.
        assert inside.count(b"/FontFile") == len(re.findall(rb"/Type\s*/FontDescriptor", inside))
        figures = len(re.findall(rb"/S\s*/Figure\b", inside))
        assert figures >= 2
        assert inside.count(b"/Alt") >= figures
        for kind in (b"/H1", b"/H2", b"/L", b"/LI"):
            assert re.search(rb"/S\s*" + kind + rb"\b", inside), kind
        assert _pages(pdf) <= page_budget(len(report.assessed.plan.days))
    whole = b"".join(_unpacked(pdf) for _, pdf in papers)
    assert all(re.search(rb"/S\s*" + kind + rb"\b", whole) for kind in (b"/Table", b"/TH", b"/TD"))


@pytest.mark.parametrize("lang", ["en", "de"])
def test_a_ride_on_no_date_keeps_to_its_pages(
    island_home: Path, lang: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Its months stand beside all that a dated ride has: too much, which is known without setting
    it, so that it is set once."""
    region = terrain.open_region("island", island_home)
    route = terrain.read_route(island_home / "demo" / "routes" / "valleys-and-passes.gpx")
    report = terrain.assess(route, region, terrain.Trip(rider="novice", pillion=True))
    made: list[bytes] = []
    set_in_type = typeset.typeset
    monkeypatch.setattr(
        typeset, "typeset", lambda *data: made.append(set_in_type(*data)) or made[-1]
    )
    assert _pages(render_pdf(report, translator_for(lang), Audience.RIDER)) == 2
    assert len(made) == 1


def test_a_long_ride_with_much_to_know_skips_no_heading_level(island_home: Path) -> None:
    """What the first page has no room for is headed before the days are (ISO 14289-1, 7.4.2)."""
    region = terrain.open_region("island", island_home)
    route = terrain.read_route(island_home / "demo" / "routes" / "high-tracks.gpx")
    trip = terrain.Trip(depart=datetime(2027, 6, 14, 8), rider="novice", pillion=True,
                        wanted_class="road-tourer")  # fmt: skip
    report = terrain.assess(route, region, trip)
    assert len(report.assessed.plan.days) > 2
    assert b"pdfuaid" in _unpacked(render_pdf(report, Translator(), Audience.RIDER))


def test_the_verdict_stands_first_on_paper(papers: list[tuple[str, bytes]]) -> None:
    """Read from the page's top down, as poppler does: no drawing stands over the first screen."""
    if shutil.which("pdftotext") is None:
        pytest.skip("pdftotext is not installed")
    for lang, pdf in papers:
        found = subprocess.run(["pdftotext", "-l", "1", "-layout", "-", "-"], input=pdf,
                               capture_output=True, check=True)  # fmt: skip
        told = found.stdout.decode()
        along = translator_for(lang)._("Along the ride")
        setup = translator_for(lang)._("Setup")
        assert setup in told.partition(along)[0]


def test_a_week_takes_six_pages_and_a_day_two() -> None:
    assert [page_budget(n) for n in (0, 1, 2, 5, 7, 14)] == [2, 2, 3, 6, 6, 9]


def test_pdf_is_the_same_twice(papers: list[tuple[str, bytes]], reports: list[Report]) -> None:
    assert render_pdf(reports[0], Translator(), Audience.RIDER) == papers[0][1]


def test_card_has_a_page_a_day(reports: list[Report]) -> None:
    for report in reports:
        days = report.to_dict()["days"]
        assert _pages(render_card(report, Translator())) == len(days)


def test_card_without_a_plan_is_one_page() -> None:
    assert _pages(render_card(report_of(assessed()), Translator())) == 1


def test_each_card_says_all_that_forbids(reports: list[Report]) -> None:
    forbidden = 0
    for report in reports:
        for day in report.assessed.plan.days:
            card = _card(day, report, Translator())
            forbids = report.verdict.forbidden
            told = [line for line in card["know"] if not line.startswith("Closed to motorcycles")]
            assert len(told) >= len(forbids)
            for item, line in zip(forbids, told, strict=False):
                assert line.startswith(Translator().translate(item.what).rstrip("."))
            # Where a question is open it stands there itself.
            asks = report.verdict.answer is SetupChoice.ASK and not report.verdict.forbidden
            verdict = report.verdict.worst if asks else report.verdict.headline
            assert card["verdict"] == Translator().translate(verdict)
            forbidden += len(forbids)
    assert forbidden > 0


def test_a_card_tells_where_a_finding_is_on_its_own_day(reports: list[Report]) -> None:
    """The card of the second day named a place of the first."""
    report = next(r for r in reports if len(r.assessed.plan.days) > 1)
    first, second, *_ = report.assessed.plan.days
    spans = [
        (day.from_m + 100.0, day.from_m + 100.0 + 900.0 / day.number) for day in (first, second)
    ]
    parts = tuple(RidePart(from_m=a, to_m=b) for a, b in spans)
    both = replace(report.verdict.findings[0], rank=Rank.DANGER, kind=FindingKind.HARD, parts=parts)
    told = replace(report, verdict=replace(report.verdict, findings=(both,)))
    for day, (from_m, to_m) in zip((first, second), spans, strict=True):
        (line,) = _card(day, told, Translator())["know"]
        assert f"On this day: {Translator().km_range(from_m, to_m)}" in line
    alone = replace(both, parts=parts[:1])
    told = replace(report, verdict=replace(report.verdict, findings=(alone,)))
    assert "On this day" not in _card(first, told, Translator())["know"][0]


def test_letters_without_a_font_still_make_a_pdf(reports: list[Report]) -> None:
    named = renamed(reports[0], "Sill", title="山道 \U0001f3cd ꙮ")
    assert render_pdf(named, Translator()).startswith(b"%PDF")


def _inside(report: Report, *names: str) -> bytes:
    """The paper of a ride whose route, roads and places bear these names in turn."""
    return _unpacked(render_pdf(renamed(report, *names, title=" - ".join(names)), Translator()))


def test_vietnamese_and_arabic_letters_are_in_the_paper(reports: list[Report]) -> None:
    inside = _inside(reports[0], "Đường Hồ Chí Minh", "Ngã ba Đồng Lộc", "طريق الجبل")
    assert b"pdfuaid" in inside  # a letter without a font would have cost the standard
    assert b"NotoSansArabic" in inside
    assert inside.count(b"/FontFile") == len(re.findall(rb"/Type\s*/FontDescriptor", inside))


def test_the_extra_brings_chinese_japanese_and_korean_letters(reports: list[Report]) -> None:
    pytest.importorskip("cvttf_NotoSansCJK_Regular", reason="the extra cjk is not installed")
    inside = _inside(reports[0], "山道の茶屋", "안녕 마을", "山路")
    assert b"pdfuaid" in inside
    assert b"NotoSansCJK" in inside


def test_columns_take_the_room_that_makes_a_table_short() -> None:
    long, short = "a reason that fills more than one line of the page " * 4, "km 3.5"
    head = ("At", "For", "Why")
    widths = column_widths(head, ((short, "lunch, check of coolant and oil", long),) * 3)
    assert widths[0] == 0  # as wide as its entries
    assert widths[2] > 2 * (widths[1] or 31)
    assert column_widths(("A", "B"), (("one", "two"),)) == [0, 0]
    assert column_widths(("A",), ((long,),))[0] > 0
    assert column_widths((), ()) == []


def test_paper_names_what_it_has_no_room_for(reports: list[Report]) -> None:
    """Cautions always stand on it; what else is needed on the way comes before reasons."""
    report = reports[-1]
    page = make_page(report, Translator(), Audience.RIDER)
    all_of_it, none = lay_parts(page.parts, report, Translator(), lambda parts: True)
    assert none == []
    assert [part["title"] for part in all_of_it] == [part.title for part in page.parts]
    kept, left = lay_parts(
        page.parts, report, Translator(), lambda parts: sum(part["tall"] for part in parts) < 300.0
    )
    titles = [part["title"] for part in kept]
    assert "Cautions" in titles
    assert "Advice and its reasons" in left
    assert {*titles, *left} == {part.title for part in page.parts}


def test_cautions_that_find_no_room_are_counted() -> None:
    """In the tightest case the gravest stay, and how many more there are is said."""
    lines = [f"caution {i}" for i in range(7)]
    cautions = {"title": "Cautions", "blocks": [{"lines": lines}]}
    texts = {"parts": [cautions], "left": "Left: plan.",
             "more_findings": ["a"], "more_unknown": ["b", "c"]}  # fmt: skip
    short = _shortened(texts, translator_for())
    assert short["parts"][0]["blocks"][0]["lines"] == lines[:4]
    assert short["left"] == "Left: plan. 6 more things to know stand in the report."


def test_mail_is_a_draft_with_both_bodies_and_files(reports: list[Report]) -> None:
    asked = Asked(translator=Translator(), mail_to="guest@example.org")
    ((name, data),) = render_files(reports[0], ["eml"], stem="plan", asked=asked)
    assert name == "plan-report.eml"
    mail = email.message_from_bytes(data, policy=email.policy.default)
    assert mail["X-Unsent"] == "1"
    assert mail["To"] == "guest@example.org"
    facts = reports[0].to_dict()
    assert facts["route"]["name"] in mail["Subject"]
    plain, html = mail.get_body(("plain",)), mail.get_body(("html",))
    assert plain is not None
    assert html is not None
    for said in facts["advice"]["questions"]:
        assert said["text"][:20] in " ".join(plain.get_content().split())
    kinds = [part.get_content_type() for part in mail.iter_attachments()]
    assert kinds == ["application/pdf", "application/gpx+xml"]
    assert [p.get_filename() for p in mail.iter_attachments()] == [
        "plan-report.pdf",
        "plan-report.gpx",
    ]
    # RFC 5322 section 2.1.1: no line longer than 998 characters.
    assert max(len(line) for line in data.split(b"\r\n")) <= 998


def _eml(to: str = "", **template: str) -> bytes:
    return render_eml(make_draft(typed(), Translator(), **template), to=to)


def test_staff_can_write_their_own_body() -> None:
    body = "Dear guest,\n{{ plain(page.verdict) }}\n{{ questions | length }} questions"
    check_template(body, "mail.txt")
    mail = email.message_from_bytes(_eml(template=body), policy=email.policy.default)
    plain = mail.get_body(("plain",))
    assert plain is not None
    assert plain.get_content().splitlines()[:2] == [
        "Dear guest,",
        "Road setup, nearly certain.",
    ]


def test_a_faulty_template_is_told_with_its_line() -> None:
    with pytest.raises(InputError, match=r"mail\.txt, line 2"):
        check_template("Hello\n{% if %}", "mail.txt")
    with pytest.raises(InputError, match="cannot be filled in"):
        _eml(template="{{ nothing.there }}")
    # Templates run in a sandbox: no way into the program from one.
    with pytest.raises(InputError, match="cannot be filled in"):
        _eml(template="{{ ''.__class__.__mro__[1].__subclasses__() }}")


def test_no_template_leaves_out_what_decides(reports: list[Report]) -> None:
    """Neither the verdict nor a thing that forbids; all of both stand in `body`."""
    barred = next(item for item in reports if len(item.verdict.forbidden) > 0)
    say = Translator()
    for template in ("lon,lat\n1,2\n", "{{ page.title }}", "{{ plain(page.verdict) }}"):
        with pytest.raises(InputError, match=r"mine\.txt: .* leaves out what .*{{ body }}"):
            make_draft(barred, say, template=template, template_source="mine.txt")
    draft = make_draft(barred, say, template="Dear guest,\n\n{{ body }}\n")
    assert draft.plain.startswith("Dear guest,")
    own = "{{ page.verdict }}\n{% for item in page.know %}{{ plain(item.what) }}\n{% endfor %}"
    assert make_draft(barred, say, template=own).plain


@pytest.mark.parametrize(
    ("body", "where"),
    [
        ("Hello\n{{ page.title + 1 }}", "line 2"),
        ("{{ 1 / 0 }}", "line 1"),
        ("{{ plain(5) }}", "line 1"),
        ("a\n\n{{ facts.route.length_m | round('x') }}", "line 3"),
        ("{% for n in range(10 ** 9) %}{{ n }}{% endfor %}", "line 1"),
        ("{% macro a() %}{{ a() }}{% endmacro %}{{ a() }}", "line 1"),
        ("{% include 'mail.txt' %}", "line 1"),
        ("{{ facts.no.such }}", "line 1"),
        ("{{ _('{x}', y=1) }}", "line 1"),
        ("{{ questions | nothing }}", "line 1"),
        ("{{ facts.stretches.clear() }}", "line 1"),
        ("Hello {{ plain(", "line 1"),
    ],
)
def test_any_fault_in_a_template_is_one_error_with_its_line(body: str, where: str) -> None:
    with pytest.raises(InputError, match="cannot be filled in") as told:
        _eml(template=body, template_source="mine.txt")
    assert str(told.value).startswith(f"mine.txt, {where}: ")
    assert "Traceback" not in str(told.value)


@pytest.mark.parametrize(
    ("to", "header"),
    [
        ("guest@example.org", "guest@example.org"),
        ("José Núñez <jose@example.org>", "José Núñez <jose@example.org>"),
        ('a@example.org, "Bücher, X" <c@example.org>',
         'a@example.org, "Bücher, X" <c@example.org>'),
        ("jose@exämple.org", "jose@xn--exmple-cua.org"),  # RFC 3490, ToASCII
    ],
)  # fmt: skip
def test_addresses_are_told_as_mail_takes_them(to: str, header: str) -> None:
    data = _eml(to=to)
    mail = email.message_from_bytes(data, policy=email.policy.default)
    assert mail["To"] == header
    assert data.isascii()
    assert not mail["To"].defects


@pytest.mark.parametrize(
    "to", ["not an address", "<x", ";:,", "josé@example.org", "a@b\r\nBcc: c@d", '"open <a@b>', "@"]
)
def test_what_is_no_address_is_one_error(to: str) -> None:
    with pytest.raises(UsageError, match="no address"):
        _eml(to=to)


@pytest.mark.parametrize("name", NAMES)
def test_a_draft_holds_any_name(name: str) -> None:
    """RFC 5322, 2047 and 2231: headers of letters alone, every part read back without a defect."""
    stem = route_stem(name)
    files = {f"{stem}-report.pdf": b"%PDF", f"{stem}-report.gpx": "<gpx>é</gpx>".encode()}
    kinds = ("application/pdf", "application/gpx+xml")
    attached = tuple(
        Attachment(name=n, kind=kind, data=data)
        for (n, data), kind in zip(files.items(), kinds, strict=True)
    )
    data = render_eml(make_draft(typed(name), translator_for("es")), attachments=attached)
    assert data.isascii()
    mail = email.message_from_bytes(data, policy=email.policy.default)
    assert mail.keys() == ["Subject", "Date", "X-Unsent", "MIME-Version", "Content-Type"]
    assert not any(part.defects for part in mail.walk())
    said = " ".join(plain_line(name).split())
    assert " ".join(mail["Subject"].split()).startswith(said)
    parts = {part.get_filename(): part.get_payload(decode=True) for part in mail.iter_attachments()}
    assert parts == files


def test_a_card_drops_rows_and_keeps_its_letters(reports: list[Report]) -> None:
    """What forbids is never dropped; what is, is counted; the strip has a least height."""
    lines = [f"A danger of some length, number {n}." for n in range(9)]
    assert _fitting(lines, 1_000.0) == lines[:3]
    assert _fitting(lines, 30.0) == lines[:1]
    assert _fitting(lines, 0.0) == []
    finding = replace(reports[0].verdict.findings[0], rank=Rank.FORBIDDEN)
    verdict = replace(reports[0].verdict, findings=(finding,) * 9)
    card = _card(None, replace(reports[0], verdict=verdict), Translator())
    assert len(card["know"]) >= 9
    sizes = re.findall(r"viewBox=\"0 0 (\d+) (\d+)\"", card["drawings"][0]["svg"])
    assert int(sizes[0][0]) == 491
    assert int(sizes[0][1]) >= 180
    source = (files("terrain.report") / "templates" / "card.typ").read_text("utf-8")
    assert "scale(" not in source


def test_the_slowest_ways_out_are_told_first(reports: list[Report]) -> None:
    report = next(r for r in reports if any(w.worst for w in r.assessed.help.exits))
    known = next(way for way in report.assessed.help.exits if way.worst is not None)
    assert known.worst is not None

    def way(from_m: float, time_s: float | None) -> Exit:
        worst = None if time_s is None else replace(known.worst, time_s=time_s)
        return replace(known, from_m=from_m, to_m=from_m + 100, worst=worst, unknown_m=0.0,
                       words=f"out in {time_s}")  # fmt: skip

    exits = (way(0, 400), way(1e3, 900), way(2e3, 20), way(3e3, None), way(4e3, 700))
    help_ = replace(report.assessed.help, exits=exits)
    told = replace(report, assessed=replace(report.assessed, help=help_))
    lines, more = exit_lines(told, Translator(), 0, 1e6, most=3)
    assert [line.split(": ")[1] for line in lines] == ["out in 900", "out in None", "out in 700"]
    assert more == 1  # the short one is nothing to plan
    assert exit_lines(told, Translator(), 0, 1e6)[1] == 0


def test_a_letter_without_a_font_is_told(
    caplog: pytest.LogCaptureFixture, reports: list[Report]
) -> None:
    """The PDF stays tagged; that it is no PDF/UA any more is said, with the letter."""
    made = render_pdf(renamed(reports[0], "Sill", title="Old sign \U0001e000 road"), Translator())
    assert b"pdfuaid" not in made
    assert b"/StructTreeRoot" in made or b"/MarkInfo" in made
    assert "not marked as PDF/UA" in caplog.text
    assert "1e000" in caplog.text
    caplog.clear()
    assert b"pdfuaid" in render_pdf(reports[0], Translator())
    assert caplog.text == ""


def test_the_subject_tells_verdict_and_questions_before_a_long_name(
    reports: list[Report],
) -> None:
    asked = next(r for r in reports if r.assessed.advice.questions).assessed.advice.questions
    ride = reports[0].assessed
    ride = replace(ride, route=replace(ride.route, name="From the lighthouse over the pass " * 8))
    for n, translator in ((0, ""), (1, "(one question)"), (2, "(2 questions)")):
        questions = (asked * 2)[:n]
        told = report_of(replace(ride, advice=replace(ride.advice, questions=questions)))
        subject = make_draft(told, Translator()).subject
        assert len(subject) <= 150
        assert "setup" in subject and subject.startswith("From the lighthouse")
        assert subject.endswith(translator)
        assert ("question" in subject) is bool(n)


def test_a_long_verdict_loses_its_last_sentences_and_no_half_of_one() -> None:
    barred = "The enduro asked for must not go."
    long = f"{barred} {'Too hard for Ben. ' * 3}The group rides at the pace of {'Ben ' * 20}."
    for n, end in ((0, "Ben"), (2, "Ben (2 questions)")):
        subject = _subject("Way " * 40, long, Translator(), n)
        assert len(subject) <= 150 and f": {barred} Too hard for Ben." in subject
        assert subject.endswith(end) and "pace" not in subject


def test_a_mail_counts_what_it_leaves_out(reports: list[Report]) -> None:
    """A ferry among four things that ask for care was not in it, and nothing said so."""
    told = "to know stand"
    seen = set()
    for report in reports:
        draft, findings = make_draft(report, Translator()), report.verdict.findings
        said = [f for f in findings if plain_line(finding_head(f, Translator())) in draft.plain]
        seen.add(len(said) < len(findings))
        assert (told in draft.plain) is (told in draft.html) is (len(said) < len(findings))
    assert True in seen


def test_an_open_question_stands_before_what_is_good_to_know(reports: list[Report]) -> None:
    """What forbids or endangers comes first; where nothing does, what the answer hangs on."""
    seen = set()
    mild = [
        replace(report, verdict=replace(report.verdict, findings=report.verdict.of(Rank.CARE)))
        for report in reports
        if report.verdict.answer is SetupChoice.ASK
    ]
    for report in (*reports, *mild):
        draft = make_draft(report, Translator())
        for text in (draft.plain, draft.html):
            asked, forbids = text.find("Please tell us:"), text.find("Before anything else:")
            if report.verdict.of(Rank.FORBIDDEN, Rank.DANGER):
                seen.add("grave")
                assert forbids >= 0 and (asked < 0 or forbids < asked)
            elif report.verdict.answer is SetupChoice.ASK:
                seen.add("open")
                assert 0 <= asked < text.find("Good to know:")
    assert seen == {"grave", "open"}
