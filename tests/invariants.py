"""What can be true of no ride: rules that every report has to keep, as one function over a Report.

`broken(report)` gives a sentence for each rule that a report breaks. They run over a few reports in
the tests and over some hundreds in tests/bench/trips.py.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from functools import lru_cache
from itertools import pairwise
from typing import Any

from terrain.values.advice import AdviceItem
from terrain.values.closed import closed_m, closed_on
from terrain.values.ground import Basis, GroundKind, SeasonCause, SeasonRisk
from terrain.values.plan import ProblemKind, StopKind
from terrain.values.report import Report
from terrain.values.verdict import FindingKind, Rank

_SLACK_M = 1.0
_WHOLE = 0.99  # a part of more than this is the whole
_LEFT_OUT = ("flip-skip", "beyond-rider-part")
# Lengths that an item tells of its own part, not of the ride.
_OWN_LENGTHS = ("run_m", "more_m", "soft_m")
_ONLY = re.compile(r"\bonly (?:about )?(\d+(?:\.\d+)?)\s?%")
_ONE_ARE = re.compile(r"(?:^|[^\d.,])1 are\b")
_LEAK = re.compile(r"\bnan\b|\bNone\b|\binf\b|\{[a-z_]+(?::\w)?\}")
_CLOCK = re.compile(r"^(?:[01]\d|2[0-3]):[0-5]\d(?:\+\d)?$")
_FORBIDS_M = 300.0


def broken(report: Report) -> list[str]:
    """The rules that the report breaks, a sentence each; empty if it keeps them all."""
    return [f"{rule.__name__[1:]}: {told}" for rule in _RULES for told in rule(report)]


def _length_within_span(report: Report) -> Iterator[str]:
    """A length never exceeds the span that holds it, nor a span the ride."""
    whole = report.assessed.match.length_m
    for item in report.verdict.findings:
        if item.from_m is None or item.to_m is None or item.length_m is None:
            continue
        if item.length_m > item.to_m - item.from_m + _SLACK_M:
            yield f"{item.kind.value}: {item.length_m:.0f} m in {item.from_m:.0f}-{item.to_m:.0f}"
        if item.from_m < -_SLACK_M or item.to_m > whole + _SLACK_M:
            yield f"{item.kind.value}: {item.from_m:.0f}-{item.to_m:.0f} off a ride of {whole:.0f}"
    for said in _items(report):
        span = whole if said.to_m is None else said.to_m - (said.from_m or 0.0)
        for name, value in said.numbers:
            if name in _OWN_LENGTHS and isinstance(value, int | float):
                most = span if said.from_m is not None else whole
                if value > most + _SLACK_M:
                    yield f"{said.code}: {name} {value:.0f} of {most:.0f} m"


def _only_below_half(report: Report) -> Iterator[str]:
    """ "only" is never said of more than half."""
    for text in _texts(report):
        for share in _ONLY.findall(text):
            if float(share) > 50.0:
                yield text


def _no_part_is_the_whole(report: Report) -> Iterator[str]:
    """What is left when all of a ride is left out tells nothing."""
    whole = report.assessed.match.length_m
    for said in _items(report):
        run_m = dict(said.numbers).get("run_m")
        if said.code in _LEFT_OUT and isinstance(run_m, int | float) and run_m > _WHOLE * whole:
            yield str(said.text)


def _evidence_points_the_way_of_the_estimate(report: Report) -> Iterator[str]:
    """Ways that are all of one kind give no estimate of the other without a word for it."""
    for s in report.assessed.ground.stretches:
        near = next((c for c in s.evidence.counts if c.what == "near"), None)
        if s.p is None or s.basis is not Basis.INFERRED or near is None or near.n < 3:
            continue
        against = (near.paved == 0 and s.p[0] >= 0.5) or (near.paved == near.n and s.p[0] < 0.5)
        if against and "other signs" not in s.evidence.text.lower():
            yield f"km {s.from_m / 1000:.1f}: p {s.p[0]:.2f}: {s.evidence.text}"


def _grammar(report: Report) -> Iterator[str]:
    """No "1 are", and no number, name or field that leaked unsaid."""
    for text in _texts(report):
        if _ONE_ARE.search(text) or _LEAK.search(text):
            yield text


def _shares_add_up(report: Report) -> Iterator[str]:
    """The best shares make 1, and so do the shares by basis."""
    ground = report.assessed.ground
    if ground.shares is not None:
        total = sum(share.best for share in ground.shares.values())
        if abs(total - 1.0) > 1e-6:
            yield f"shares make {total:.6f}"
        total = sum(ground.basis_shares.values())
        if abs(total - 1.0) > 1e-6:
            yield f"shares by basis make {total:.6f}"


def _days_cover_the_ride(report: Report) -> Iterator[str]:
    """Days follow each other from the start to the end, and each ends after it began."""
    days = report.assessed.plan.days
    ends = [0.0, *(day.to_m for day in days)]
    for day, begin in zip(days, ends, strict=False):
        if abs(day.from_m - begin) > _SLACK_M or day.to_m < day.from_m:
            yield f"day {day.number} from {day.from_m:.0f}, not {begin:.0f}"
        if day.end_s < day.start_s:
            yield f"day {day.number} ends before it begins"
    if days and abs(ends[-1] - report.assessed.match.length_m) > _SLACK_M:
        yield f"the last day ends at {ends[-1]:.0f}"
    stops = [stop.at_m for stop in report.assessed.plan.stops]
    if any(b < a - _SLACK_M for a, b in pairwise(stops)):
        yield "stops out of order"


def _clock_has_24_hours(report: Report) -> Iterator[str]:
    """The clock never says 28:40."""
    facts = report.assessed.plan.to_dict()
    for row in (*facts["days"], *facts["stops"]):
        for key in ("start", "end", "arrive", "sunrise", "sunset", "dusk"):
            value = row.get(key)
            if value is not None and not _CLOCK.match(value):
                yield f"{key} {value}"


def _broken_limits_have_their_word(report: Report) -> Iterator[str]:
    """A day over the hours, or into the dark, is a problem that is told."""
    plan, rules = report.assessed.plan, report.assessed.fleet.rules
    told = {(p.kind, round(p.from_m)) for p in plan.problems}
    for day in plan.days:
        here = round(day.from_m)
        if day.riding_s > rules.ride_day_s + 1 and (ProblemKind.LONG_DAY, here) not in told:
            yield f"day {day.number}: {day.riding_s:.0f} s of riding without a word"
        late = day.margin_s is not None and day.margin_s < 0
        if late and (ProblemKind.DAYLIGHT, here) not in told:
            yield f"day {day.number} ends in the dark without a word"


def _closed_is_whole_and_first(report: Report) -> Iterator[str]:
    """What is closed is summed over all of it, split by day without loss, and told first."""
    parts, days = report.assessed.places.closed, report.assessed.plan.days
    total = closed_m(parts)
    by_day = sum(closed_m(closed_on(parts, day.from_m, day.to_m)) for day in days)
    if days and abs(by_day - total) > _SLACK_M:
        yield f"{total:.0f} m closed, {by_day:.0f} m by day"
    if total > report.assessed.match.length_m + _SLACK_M:
        yield f"{total:.0f} m closed of {report.assessed.match.length_m:.0f}"
    if total >= _FORBIDS_M:
        first = next(iter(report.verdict.findings), None)
        if first is None or (first.kind, first.rank) != (FindingKind.CLOSED, Rank.FORBIDDEN):
            yield f"{total:.0f} m closed, and first comes {first and first.kind.value}"
        elif abs((first.length_m or 0.0) - total) > _SLACK_M:
            yield f"{total:.0f} m closed, told are {first.length_m}"


def _order_by_harm(report: Report) -> Iterator[str]:
    """Findings stand by rank, what forbids first."""
    ranks = [list(Rank).index(item.rank) for item in report.verdict.findings]
    if ranks != sorted(ranks):
        yield str(ranks)


def _no_van_without_a_guide(report: Report) -> Iterator[str]:
    """No van stops on an unguided ride; with one, none amid what a van cannot use."""
    gaps = [gap for way in report.assessed.help.exits for gap in way.van_gaps]
    for stop in report.assessed.plan.stops:
        if StopKind.VAN not in stop.kinds:
            continue
        if not report.assessed.trip.guided:
            yield f"a van at {stop.at_m:.0f}"
        if any(a + 1000 < stop.at_m < b - 1000 for a, b in gaps):
            yield f"a van at {stop.at_m:.0f}, amid what it cannot use"


def _plan_with_a_bike_that_may_go(report: Report) -> Iterator[str]:
    """Fuel is planned for a bike that may go, if any may."""
    fuel, may_go = report.assessed.plan.fuel, {b.name for b in report.assessed.advice.bikes}
    if fuel is not None and may_go and fuel.bike not in may_go:
        yield f"planned for {fuel.bike}"


def _season_names_its_cause(report: Report) -> Iterator[str]:
    """Rain softens, snow shuts; each risk says of what it comes, and says nothing of the other."""
    for s in report.assessed.ground.stretches:
        risky = s.season_risk not in (None, SeasonRisk.NONE)
        if risky != (s.season_cause is not None):
            yield f"km {s.from_m / 1000:.1f}: {s.season_risk} of {s.season_cause}"
        words = s.evidence.season.lower()
        if s.season_cause in (SeasonCause.SNOW, SeasonCause.THAW) and "rain" in words:
            yield f"km {s.from_m / 1000:.1f}: {words}"
        if s.season_cause is SeasonCause.RAIN and "snow" in words:
            yield f"km {s.from_m / 1000:.1f}: {words}"


def _help_is_consistent(report: Report) -> Iterator[str]:
    """Weaker help told near a remote part is nearer than the workshop; parts lie on the ride."""
    help_, whole = report.assessed.help, report.assessed.match.length_m
    for run in help_.remote:
        if not -_SLACK_M <= run.from_m <= run.worst_at_m <= run.to_m <= whole + _SLACK_M:
            yield f"remote {run.from_m:.0f}-{run.to_m:.0f}"
        for item in run.weaker:
            if run.nearest_s is not None and item.time_s > run.nearest_s:
                yield f"{item.kind.value} is farther than the workshop"
    for kind, far in help_.kinds:
        if far.farthest_m is not None:
            shut_m = sum(way.length_m for way in far.restricted)
            if far.farthest_m < 0 or shut_m > 10 * max(far.farthest_m, 1.0):
                yield f"{kind.value}: {shut_m:.0f} m closed of {far.farthest_m:.0f}"


def _cold_or_hot(report: Report) -> Iterator[str]:
    """A ride that is cold at its warmest tells no water for the heat."""
    rider = report.assessed.heat.rider
    if rider is None or rider.max_air_temp_c >= 15.0 or rider.min_wind_chill_c >= 0.0:
        return
    for text in report.assessed.heat.words:
        if "Drink" in text:
            yield text


def _a_crossing_is_no_guess(report: Report) -> Iterator[str]:
    """A ferry has one way, whatever the file draws of it: none of it is told as guessed."""
    ferries = [(s.from_m, s.to_m) for s in report.assessed.ground.stretches
               if s.ground is GroundKind.FERRY]  # fmt: skip
    for item in report.verdict.findings:
        for part in item.parts if item.kind is FindingKind.GUESS else ():
            lost = sum(max(0.0, min(b, part.to_m) - max(a, part.from_m)) for a, b in ferries)
            if lost > _SLACK_M:
                yield f"{lost:.0f} m of ferry in {part.from_m:.0f}-{part.to_m:.0f}"


def _dark_lies_outside_the_light(report: Report) -> Iterator[str]:
    """A day that is told as begun or ended in the dark is one by its own hours."""
    for item in report.verdict.findings:
        if item.kind is not FindingKind.DARK or item.from_m is None:
            continue
        day = next(
            (d for d in report.assessed.plan.days if d.from_m <= item.from_m <= d.to_m), None
        )
        if day is None or day.daylight is None:
            continue
        early, late = day.start_s < day.daylight.dawn_s, (day.margin_s or 0.0) < 0
        if not (early or late):
            yield f"day {day.number}, {day.start_s:.0f} to {day.end_s:.0f} s: {item.what}"


def _small_things_are_not_told(report: Report) -> Iterator[str]:
    """No clutch is hot for less than a minute, and nobody unpacks within a quarter of an hour."""
    for run in report.assessed.heat.clutch:
        if run.time_s < 60.0:
            yield f"a clutch hot for {run.time_s:.0f} s at {run.from_m:.0f}"
    for day in report.assessed.plan.days[:1]:
        asked = any(stop.pinned for stop in report.assessed.plan.stops if stop.at_m <= day.to_m)
        if len(report.assessed.plan.days) > 1 and day.riding_s < 900.0 and not asked:
            yield f"day 1 ends after {day.riding_s:.0f} s"


_RULES: tuple[Callable[[Report], Iterator[str]], ...] = (
    _length_within_span, _only_below_half, _no_part_is_the_whole,
    _evidence_points_the_way_of_the_estimate, _grammar, _shares_add_up, _days_cover_the_ride,
    _clock_has_24_hours, _broken_limits_have_their_word, _closed_is_whole_and_first,
    _order_by_harm, _no_van_without_a_guide, _plan_with_a_bike_that_may_go,
    _season_names_its_cause, _help_is_consistent, _cold_or_hot, _a_crossing_is_no_guess,
    _dark_lies_outside_the_light, _small_things_are_not_told,
)  # fmt: skip


def _items(report: Report) -> Iterator[AdviceItem]:
    advice = report.assessed.advice
    yield from (flip.said for flip in advice.setup.flips)
    for group in (advice.setup.reasons, advice.cautions, advice.law, advice.rider.reasons):
        yield from group


@lru_cache(maxsize=1)
def _texts(report: Report) -> tuple[str, ...]:
    """Every sentence of the report as its JSON tells it, names from the map left out."""
    facts = {k: v for k, v in report.to_dict().items() if k not in ("messages", "route", "places")}
    return tuple(_sentences(facts))


def _sentences(value: Any) -> Iterator[str]:
    if isinstance(value, dict):
        for key, inner in value.items():
            if key not in ("message", "why_message", "name"):  # with its numbers left open
                yield from _sentences(inner)
    elif isinstance(value, list | tuple):
        for inner in value:
            yield from _sentences(inner)
    elif isinstance(value, str) and " " in value:
        yield value
