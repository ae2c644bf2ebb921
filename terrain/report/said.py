"""Findings and credits in words, the same wherever they stand."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from terrain.report.page.lead import about_trip, finding_place
from terrain.text.terms import DANGER_TERMS
from terrain.text.translator import Translator
from terrain.values.report import RegionNote, Report
from terrain.values.verdict import Audience, Finding, Rank


def about_line(report: Report, translator: Translator) -> str:
    """Length, time in the saddle, day and rider in one line."""
    length, *rest = about_trip(report, translator)
    parts = [length]
    if report.verdict.riding_s is not None:
        _, low, high = map(translator.duration, report.verdict.riding_s)
        parts.append(
            translator._("{low} to {high} of riding", low=low, high=high)
            if low != high
            else translator._("{time} in the saddle", time=high)
        )
    return ", ".join([*parts, *rest]) + "."


def finding_head(item: Finding, translator: Translator) -> str:
    """What and where: "Steep: 14 % over 400 m, km 75, near Sandel"."""
    where = finding_place(item, translator)
    return translator.translate(item.what).rstrip(".") + (f", {where}" if where else "")


def finding_fact(item: Finding, translator: Translator) -> str:
    """What, where and why, without a full stop."""
    why = translator.translate(item.why).rstrip(".")
    return ". ".join(filter(None, (finding_head(item, translator), why)))


def finding_line(item: Finding, translator: Translator, audience: Audience) -> str:
    """A finding in one line: what, where and what to do."""
    do = translator.translate(item.do.to(audience))
    return f"{finding_fact(item, translator)}. {do}".rstrip()


def dangers_unsaid(
    found: Sequence[Finding], said: Sequence[Finding], translator: Translator
) -> str:
    """What endangers of all that was found, and is not said here, a word each; "" if nothing."""
    dangers = (item for item in found if item.rank is Rank.DANGER)
    kinds = dict.fromkeys(item.kind for item in dangers if item not in said)
    if not kinds:
        return ""
    named = translator.listing([translator._(DANGER_TERMS[kind.value]) for kind in kinds])
    return translator._("More dangers in the report: {named}.", named=named)


def more_unsaid(n: int, translator: Translator) -> str:
    """How much to know is left out here; "" if nothing is."""
    return translator.n_(
        "One more thing to know stands in the report.",
        "{n} more things to know stand in the report.", n,
    ) if n > 0 else ""  # fmt: skip


TRUST_LINE = 1  # of the lines below


def made_lines(report: Report, translator: Translator) -> tuple[str, ...]:
    """When it was made and from which map, how far to trust it, and whom to thank."""
    region = report.assessed.region
    return (
        translator._(
            "Made {day} from the map of region {region}{date}, terrain {version}.",
            day=translator.day(report.made_at),
            region=region.name,
            date=_map_date(region, translator),
            version=report.terrain_version,
        ),
        translator._(
            "Ground, times and distances to help are estimates from open data; missing tags are "
            "shown as unknown. A line on a map is not permission to ride it: signs and local "
            "people decide."
        ),
        *(translator.translate_term(line) for line in region.attribution),
    )


def _map_date(region: RegionNote, translator: Translator) -> str:
    if not region.map_date:
        return ""
    day = translator.day(date.fromisoformat(region.map_date))
    return translator._(" (map of {date})", date=day)
