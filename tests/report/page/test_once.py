"""A fact is said once: parts below the findings leave out what these say."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from terrain.report.page.blocks import Block, Part
from terrain.report.page.first import first_screen
from terrain.report.page.once import is_found, once
from terrain.report.page.page import make_page
from terrain.report.terminal import Style, render_summary
from terrain.stages.advice.words import advice_item
from terrain.text.message import message
from terrain.text.translator import Translator
from terrain.values.advice import SetupChoice
from terrain.values.answers import AskedPart
from terrain.values.report import Report
from terrain.values.verdict import Audience, RidePart, Unknown


def test_no_sentence_of_the_findings_stands_again_below(sample_reports: list[Report]) -> None:
    """Sentences of some length, so that no name or number alone counts."""
    says = Translator()
    for report in sample_reports:
        page = make_page(report, says, Audience.STAFF)
        said = {says.translate(item.what).rstrip(".") for item in report.verdict.findings}
        said |= {says.translate(item.why).rstrip(".") for item in report.verdict.findings}
        lines = [
            line
            for part in page.parts
            for block in part.blocks
            for line in (block.text, *block.lines)
        ]
        again = [text for text in said if len(text) > 20 and any(text in line for line in lines)]
        assert again == []


def test_a_caution_goes_only_where_a_finding_says_it(
    sample_report: Callable[[str], Report],
) -> None:
    report = sample_report("valleys-and-passes")
    cautions = report.assessed.advice.cautions
    gone = [item for item in cautions if is_found(item, report)]
    assert gone
    bare = replace(report, verdict=replace(report.verdict, findings=(), unknown=()))
    assert not any(is_found(item, bare) for item in cautions)


def test_a_heading_without_lines_goes() -> None:
    part = Part(
        key="x", title="X",
        blocks=(Block(kind="heading", text="Gone"), Block(kind="list", lines=("Said.",))),
    )  # fmt: skip
    assert once(part, frozenset(("Said",))) is None
    kept = once(part, frozenset(("Other",)))
    assert kept == part


def test_what_is_about_no_part_is_drawn_on_purpose(sample_report: Callable[[str], Report]) -> None:
    """A finding about the whole ride says so; what is not known is an outline where it lies."""
    report = sample_report("valleys-and-passes")
    rows = first_screen(report, Translator(), Audience.RIDER).rows
    whole = [row for row in rows if not row.spans and row.kind != "unknown"]
    assert whole
    assert all("the whole ride" in row.strip for row in whole)
    assert all("the whole ride" not in row.strip for row in rows if row.spans)
    gap = Unknown(key="x", why=message("Not known."), parts=(RidePart(from_m=0.0, to_m=9e3),))
    verdict = replace(report.verdict, unknown=(gap, replace(gap, key="y", parts=())))
    rows = first_screen(replace(report, verdict=verdict), Translator(), Audience.RIDER).rows
    assert 'class="k-unknown"' in rows[-2].strip
    assert rows[-1].strip == ""


def test_each_answer_says_what_follows(sample_report: Callable[[str], Report]) -> None:
    """Of a closed part no answer promises tyres: without leave it is left out."""
    report = sample_report("valleys-and-passes")
    asked = AskedPart(
        code="closed", from_m=2e3, to_m=7e3, sent_from_m=2_100.4, sent_to_m=7_100.0,
        text=message("Do you mean it?"), about_ground=False, if_left=message("Then it is short."),
    )  # fmt: skip
    verdict = replace(report.verdict, asked=(asked,), answer=SetupChoice.ASK)
    answers = first_screen(replace(report, verdict=verdict), Translator(), Audience.RIDER).answers
    assert [answer.part for answer in answers] == ["Do you mean it?", "", ""]
    assert [answer.key for answer in answers] == [
        "2100.7100.leave", "2100.7100.keep", "2100.7100.unsure",
    ]  # fmt: skip
    assert [answer.then for answer in answers] == [
        "Then it is short.", "With written permission only: it stays closed in this report.",
        "Then leave it out.",
    ]  # fmt: skip


def test_a_part_of_which_all_is_told_above_goes() -> None:
    """A list of questions that the first screen asks already: the page could not be written."""
    part = Part(
        key="questions", title="Questions", blocks=(Block(kind="list", lines=("Who knows it?",)),)
    )
    assert once(part, frozenset({"Who knows it?"})) is None


def test_heading_of_nothing_goes_and_the_rest_stays() -> None:
    blocks = (
        Block(kind="heading", text="A"), Block(kind="list", lines=("said.",)),
        Block(kind="heading", text="B"), Block(kind="text", text="new"),
        Block(kind="heading", text="C"),
    )  # fmt: skip
    part = once(Part(key="k", title="t", blocks=blocks), frozenset({"said"}))
    assert part is not None and [block.text for block in part.blocks] == ["B", "new"]


def test_no_workshop_in_reach_is_told_once(sample_report: Callable[[str], Report]) -> None:
    """Nine minutes from a town, a caution to "take help as far" stood below the same said right."""
    report = sample_report("valleys-and-passes")
    item = advice_item("help-unknown")
    gap = Unknown(key="help.mechanic", why="w")
    silent = replace(report, verdict=replace(report.verdict, findings=(), unknown=()))
    told = replace(report, verdict=replace(silent.verdict, unknown=(gap,)))
    assert is_found(item, told) and not is_found(item, silent)


def test_a_gap_that_a_finding_tells_is_not_told_again_on_a_terminal(
    sample_report: Callable[[str], Report],
) -> None:
    report = sample_report("high-tracks")
    first = report.verdict.findings[0]
    gaps = (Unknown(key="a", why=first.what), Unknown(key="b", why=message("Nobody knows why.")))
    report = replace(report, verdict=replace(report.verdict, unknown=gaps))
    says = Translator()
    text = render_summary(report, says, Style(width=400)).partition("Not known")[2]
    assert says.translate(first.what) not in text and "Nobody knows why." in text
