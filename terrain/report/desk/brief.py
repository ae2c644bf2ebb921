"""One route's answer in the few lines that a booking's page has for it."""

from __future__ import annotations

from dataclasses import dataclass

from terrain.report.detours import told_detours
from terrain.report.said import dangers_unsaid
from terrain.text.translator import Translator
from terrain.values.advice import SetupChoice
from terrain.values.report import Report
from terrain.values.verdict import Audience, FindingKind, Rank

_MOST_DANGERS, _MOST_WAYS = 2, 2
# The headline names these two; why each bike must not go fills a list of its own.
_LONG = (FindingKind.NO_BIKE, FindingKind.WANTED_BIKE)


@dataclass(frozen=True, slots=True, kw_only=True)
class RouteBrief:
    """What a clerk reads of one route beside its verdict, in one language.

    why : what forbids with its reason, then the gravest dangers, a sentence each
    no_bike : why no bike of the fleet may go, "" if one may
    works : what would make the ride possible, or settle its setup
    ask : the question to the rider that settles the setup, "" if none is open
    """

    why: tuple[str, ...]
    no_bike: str
    works: tuple[str, ...]
    ask: str


def brief_of(report: Report, translator: Translator) -> RouteBrief:
    """The brief for staff; the verdict's headline says already what forbids."""
    verdict, say = report.verdict, translator.translate
    reasons = [say(item.told) for item in verdict.forbidden if item.kind not in _LONG]
    dangers = verdict.of(Rank.DANGER)[:_MOST_DANGERS]
    reasons += [say(item.what) for item in dangers]
    reasons += [more] if (more := dangers_unsaid(verdict.findings, dangers, translator)) else []
    none = [say(item.why) for item in verdict.forbidden if item.kind is FindingKind.NO_BIKE]
    settled = not verdict.forbidden and verdict.answer is not SetupChoice.ASK
    works = [say(item.do.to(Audience.STAFF)) for item in verdict.forbidden[:1]]
    title, ways = told_detours(report, translator, most=_MOST_WAYS)
    works += [" ".join((title, *(say(way.words) for way in ways)))] if ways else []
    return RouteBrief(
        why=tuple(f"{text.rstrip('.')}." for text in reasons),
        no_bike=none[0] if none else "",
        works=() if settled else tuple(works),
        ask=_ask(report, translator) if verdict.answer is SetupChoice.ASK else "",
    )


def _ask(report: Report, translator: Translator) -> str:
    """The first question; what the verdict has to settle if none is worded."""
    questions = report.assessed.advice.questions
    return translator.translate(questions[0].text if questions else report.verdict.to_settle)
