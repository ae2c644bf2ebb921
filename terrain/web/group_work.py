"""What a report keeps of a group: each rider's page, sheets and mail, and how all of them stand."""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from terrain.text.catalogue import N_
from terrain.web.booked import differs, mismatch
from terrain.web.summary import AskedPart, GroupSaid, PartAt, RiderKept, RiderSaid, Summary
from terrain.web.trips import OneRider

if TYPE_CHECKING:
    from terrain.text.translator import Translator
    from terrain.values.fleet import Fleet
    from terrain.values.group import Group, GroupRider, InGroup
    from terrain.values.report import Report

#: For the first rider of a booking without a name.
WHO_BOOKED = N_("Who booked")
Pack = Callable[[bytes], bytes]


@dataclass(frozen=True, slots=True, kw_only=True)
class Party:
    """A group that was judged, the rider who booked first.

    wanted : the bike that each has booked, as it was written
    """

    ridden: tuple[InGroup, ...]
    group: Group
    wanted: tuple[str, ...]


def party_of(ridden: Sequence[InGroup], riders: Sequence[OneRider]) -> Party:
    """riders : who booked, then each further one"""
    from terrain.report.desk.strip import strip_of
    from terrain.stages.group import judge_rider_in
    from terrain.values.group import Group

    judged = [judge_rider_in(item, rider.customer or WHO_BOOKED)
              for item, rider in zip(ridden, riders, strict=True)]  # fmt: skip
    edited = [item.report.assessed.advice.edited for item in ridden]
    if len({None if was is None else (was.reason, was.unix_s) for was in edited}) > 1:
        judged = [_with_reason(x, item.report) for x, item in zip(judged, ridden, strict=True)]
    return Party(
        ridden=tuple(ridden), group=Group(strip=strip_of(ridden[0].report), riders=tuple(judged)),
        wanted=tuple(rider.wanted for rider in riders),
    )  # fmt: skip


def _with_reason(rider: GroupRider, report: Report) -> GroupRider:
    """With why the desk decided for this rider, where it did not decide alike for all."""
    from terrain.text.message import join_messages, message
    from terrain.text.plain import plain_line
    from terrain.values.verdict import PerAudience

    edited, then = report.assessed.advice.edited, rider.then
    if edited is None:
        return rider
    said = message("The rental desk decided this: {reason}", reason=plain_line(edited.reason))
    return replace(
        rider,
        then=PerAudience(
            rider=join_messages((then.rider, said)), staff=join_messages((then.staff, said)),
            guide=join_messages((then.guide, said)),
        ),
    )  # fmt: skip


def rider_files(party: Party, translator: Translator, pack: Pack) -> dict[str, bytes]:
    """The files of each rider by number: a mail of their own, for all but the first the report too.

    Riders alike share one report, which is written once.
    """
    written: dict[int, dict[str, bytes]] = {}
    files: dict[str, bytes] = {}
    for n, item in enumerate(party.ridden, 1):
        key = id(item.report)
        if key not in written:
            written[key] = _written(item, translator, pack)
        for name, data in written[key].items():
            if n > 1 or name.startswith("draft"):
                files[name.format(n=n)] = data
    return files


def _written(item: InGroup, translator: Translator, pack: Pack) -> dict[str, bytes]:
    from terrain.report.desk.handover import handovers_of
    from terrain.report.formats import Asked, render_files
    from terrain.report.mail import make_draft

    told = {
        "draft{n}.json": pack(make_draft(item.report, translator).to_json().encode()),
        "staff{n}.sheets": pack(
            json.dumps(handovers_of(item.report).to_dict(), ensure_ascii=False).encode()
        ),
    }
    for audience, kind in (("rider", "html"), ("rider", "pdf"), ("staff", "html")):
        asked = Asked(translator=translator, audience=audience)
        ((_, data),) = render_files(item.report, (kind,), stem="x", asked=asked)
        told[f"{audience}{{n}}.{kind}"] = pack(data)
    return told


def group_summary(summary: Summary, party: Party, fleet: Fleet, units: str) -> Summary:
    """The first rider's summary with what the others add: whoever may not go is told first."""
    from terrain.text.translator import translator_for
    from terrain.values.advice import SetupChoice

    verdicts = [item.report.verdict for item in party.ridden]
    asked = {(x.sent_from_m, x.sent_to_m): x for verdict in verdicts for x in verdict.asked}
    parts = [asked[key] for key in sorted(asked)]

    def said(lang: str) -> dict[str, Any]:
        translator = translator_for(lang, units)
        say = translator.translate
        lines = tuple(AskedPart(say(x.text), say(x.if_left)) for x in parts)
        works = _works(party, summary.told(lang).works, translator)
        return {**_said(party, fleet, translator), "asked": lines, "works": works}

    is_open = any(verdict.answer is SetupChoice.ASK for verdict in verdicts)
    facts = {
        "setup": SetupChoice.ASK.value if is_open else summary.setup,
        "edited": any(verdict.decided for verdict in verdicts),
        "differs": any(
            differs(wanted, item.report.assessed.advice, fleet)
            for item, wanted in zip(party.ridden, party.wanted, strict=True)
        ),
        "parts": tuple(
            PartAt(x.sent_from_m, x.sent_to_m, x.about_ground, x.sent_again) for x in parts
        ),
        "group": tuple(
            _kept(rider, item.report)
            for rider, item in zip(party.group.riders, party.ridden, strict=True)
        ),
        "spoken": {lang: own.model_copy(update=said(lang)) for lang, own in summary.spoken.items()},
    }
    return summary.model_copy(update=facts | said("en"))


def _kept(rider: GroupRider, report: Report) -> RiderKept:
    return RiderKept(
        name=rider.name,
        riding_s=rider.riding_s,
        hard=tuple((round(x.from_m), round(x.to_m)) for x in rider.too_hard),
        edge=tuple((round(x.from_m), round(x.to_m)) for x in rider.at_edge),
        may_go=rider.may_go,
        setup=report.verdict.answer.value,
        excluded=tuple(item.name for item in report.assessed.advice.excluded),
    )


def _said(party: Party, fleet: Fleet, translator: Translator) -> dict[str, Any]:
    """The summary's sentences that are of all riders, in one language."""
    from terrain.report.desk.group import group_headline

    say = translator.translate
    spares = {
        item.code: say(item.text)
        for ridden in party.ridden
        for item in ridden.report.assessed.advice.spares
    }
    advised = [item.report.assessed.advice for item in party.ridden]
    booked = [
        [mismatch(wanted, advice, fleet, translator, why=why)
         if differs(wanted, advice, fleet) else ""
         for wanted, advice in zip(party.wanted, advised, strict=True)]
        for why in (True, False)
    ]  # fmt: skip
    forbidden = [_forbidden(x, translator) for x in party.ridden]
    headline = group_headline(party.group, translator)
    return {
        "verdict": headline,
        "forbidden": tuple(_by_name(party, forbidden, translator)),
        "mismatch": " ".join(_by_name(party, [[x] for x in booked[0]], translator)),
        "booked": " ".join(_by_name(party, [[x] for x in booked[1]], translator)),
        "group_said": GroupSaid(
            headline=headline,
            riders=tuple(
                RiderSaid(say(x.about), translator.translate_term(x.bike), say(x.why),
                          say(x.answer), say(x.then.staff), say(x.then.rider))
                for x in party.group.riders
            ),
            spares=tuple(text.rstrip(".") for text in spares.values()),
        ),
    }  # fmt: skip


def _works(party: Party, first: tuple[str, ...], translator: Translator) -> tuple[str, ...]:
    """What would let those ride who may not, by name, before what is so for the first rider."""
    banned = [rider for rider in party.group.riders if rider.may_go is False]
    remedies = [
        [translator.translate(rider.then.staff)] if rider in banned else []
        for rider in party.group.riders
    ]
    own = [line for line in first if [line] not in remedies]
    return (*_by_name(party, remedies, translator), *own)


def _forbidden(item: InGroup, translator: Translator) -> list[str]:
    from terrain.report.said import finding_line
    from terrain.values.verdict import Audience

    found = item.report.verdict.forbidden
    return [finding_line(finding, translator, Audience.STAFF) for finding in found]


def _by_name(party: Party, told: Sequence[Sequence[str]], translator: Translator) -> list[str]:
    """What is told of each rider, with their names; what is told of all of them once, without."""
    lines: dict[str, list[str]] = {}
    for rider, said in zip(party.group.riders, told, strict=True):
        for line in filter(None, said):
            lines.setdefault(line, []).append(translator.translate_term(rider.name))
    n = len(party.group.riders)
    return [
        line if len(names) == n
        else translator._("{name}: {what}", name=translator.listing(names), what=line)
        for line, names in lines.items()
    ]  # fmt: skip
