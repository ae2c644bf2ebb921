"""The table's answer in sentences: the best, the worst, and why."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from terrain.tables.when import WhenRules
from terrain.text.catalogue import N_
from terrain.text.message import Message, join_messages, message, term
from terrain.values.when import WhenCell, WhenMonth

# Common practice, no source.
_SMALL_M = 500.0  # less than this of a ride is not worth a word
_SMALL_SHARE = 0.05
_SNOW_ABOVE_C = 10.0  # 1,500 m higher it freezes
_MEANS = N_(
    "Means of many years at the hour you pass, in the wind of riding, under a clear sky: no "
    "forecast. A hot day can be several degrees warmer."
)
_SHUT = N_(
    "Shut: take it as shut until somebody local says it is open. Soft: may be impassable after "
    "rain."
)
_NO_HEIGHTS = N_(
    "The region has no heights: snow that shuts high roads, and their cold and ice, are not in "
    "this table. Ask about passes before you choose a month."
)
_LAW = N_("What is closed to motorcycles no month opens: the report says what the map knows of it.")


def headline(months: Sequence[WhenMonth], rules: WhenRules) -> Message:
    """The best months and hours, or that none is free of trouble."""
    named, hours = _best(months)
    which = _months_words(named)
    if hours == rules.hours:
        best = message("{months}, at any hour from {early} to {late}.",
                        months=which, early=_clock(hours[0]), late=_clock(hours[-1]))  # fmt: skip
    else:
        best = message("{months}, and set off {hours}.", months=which, hours=_hours(hours, rules))
    if _troubled(months):
        return message("No month is free of trouble. {best}", best=best)
    return best


def _troubled(months: Sequence[WhenMonth]) -> bool:
    best = [(m, c) for m in months for c in m.cells if c.is_best]
    return all(m.shut_m >= _SMALL_M or c.is_dark or c.hard_share >= 0.5 for m, c in best)


def _best(months: Sequence[WhenMonth]) -> tuple[tuple[int, ...], tuple[int, ...]]:
    """Months and hours of setting off that may be named together: every pair is a best cell."""
    hours = {
        m.month: tuple(c.start_h for c in m.cells if c.is_best)
        for m in months
        if any(c.is_best for c in m.cells)
    }
    most = max(hours.values(), key=len)
    common = [h for h in most if all(h in own for own in hours.values())]
    run = _first_run(common or most)
    named = tuple(month for month, own in hours.items() if set(run) <= set(own))
    return named, run


def _first_run(hours: Sequence[int]) -> tuple[int, ...]:
    run = [hours[0]]
    for before, hour in pairwise(hours):
        if hour != before + 1:
            break
        run.append(hour)
    return tuple(run)


def _months_words(named: Sequence[int]) -> Message:
    if len(named) == 12:
        return message("Any month will do")
    runs = _runs(named)
    if len(runs) > 1:
        parts = join_messages((_run_words(run) for run in runs), "{first} or {then}")
        return message("Best in {months}", months=parts)
    first, last = runs[0][0], runs[0][-1]
    if len(runs[0]) == 1:
        return message("Go in {first_month}", first_month=first)
    if len(runs[0]) == 2:
        return message("Go in {first_month} or {last_month}", first_month=first, last_month=last)
    return message("Go between {first_month} and {last_month}", first_month=first, last_month=last)


def _run_words(run: Sequence[int]) -> Message:
    if len(run) == 1:
        return message("{first_month}", first_month=run[0])
    if len(run) == 2:
        return message("{first_month} or {last_month}", first_month=run[0], last_month=run[-1])
    return message("{first_month} to {last_month}", first_month=run[0], last_month=run[-1])


def _runs(named: Sequence[int]) -> list[list[int]]:
    """Months that follow each other; December goes on with January."""
    runs: list[list[int]] = []
    for month in named:
        if runs and runs[-1][-1] == month - 1:
            runs[-1].append(month)
        else:
            runs.append([month])
    if len(runs) > 1 and runs[0][0] == 1 and runs[-1][-1] == 12:
        runs[0] = runs.pop() + runs[0]
    return runs


def _hours(hours: Sequence[int], rules: WhenRules) -> Message:
    early, late = _clock(hours[0]), _clock(hours[-1])
    if hours[0] == rules.hours[0] and len(hours) > 1:
        return message("by {late}", late=late)
    if len(hours) == 1:
        return message("at {early}", early=early)
    return message("between {early} and {late}", early=early, late=late)


def _clock(hour: int) -> str:
    return f"{hour:02d}:00"


def lead(
    months: Sequence[WhenMonth], worst: tuple[int, int], *, heights: bool = True
) -> tuple[str, ...]:
    """What the best is like, and what makes the worst the worst.

    heights : whether the road's are known; else the table is one of the country's mean height
    """
    best = [(m, c) for m in months for c in m.cells if c.is_best]
    unknown_m = max(m.season_unknown_m for m in months)
    said: list[str] = [
        _ground_words(
            [m for m, _ in best], unknown_m if unknown_m >= _SMALL_M else 0.0, heights=heights
        ),
        *([] if heights or not _may_snow(months) else [term(_NO_HEIGHTS)]),
        *_air_words([c for _, c in best]),
    ]
    month = next(m for m in months if m.month == worst[0])
    cell = next(c for c in month.cells if c.start_h == worst[1])
    if not cell.is_best and (why := _why(month, cell)) is not None:
        said.append(
            message(
                "Worst is {worst_month}, setting off at {hour}: {why}.",
                worst_month=month.month, hour=_clock(cell.start_h), why=why,
            )
        )  # fmt: skip
    return tuple(said)


def _may_snow(months: Sequence[WhenMonth]) -> bool:
    """Whether a road far above the country's mean height may lie under snow in some month."""
    return min(c.max_air_temp_c for m in months for c in m.cells) < _SNOW_ABOVE_C


def _ground_words(
    months: Sequence[WhenMonth], unknown_m: float, *, heights: bool = True
) -> Message:
    """unknown_m : of which the season is not known, the same in every month"""
    shut_m, soft_m = max(m.shut_m for m in months), max(m.soft_m for m in months)
    if shut_m >= _SMALL_M:
        return message(
            "Even then {shut_m} of it are to be taken as shut until somebody local says they are "
            "open.",
            shut_m=shut_m,
        )
    if unknown_m and soft_m >= _SMALL_M:
        return message(
            "What rain and snow do to {unknown_m} of it is not known; {soft_m} of the rest may be "
            "impassable after rain.",
            unknown_m=unknown_m, soft_m=soft_m,
        )  # fmt: skip
    if unknown_m:
        return message(
            "What rain and snow do to {unknown_m} of it is not known: ask locally before you go.",
            unknown_m=unknown_m,
        )
    if soft_m >= _SMALL_M:
        return message("Then the season shuts none of it; {soft_m} may be impassable after rain.",
                        soft_m=soft_m)  # fmt: skip
    if not heights:
        return message("Then no rain of the season shuts or softens any of it.")
    return message("Then no rain or snow of the season shuts or softens any of it.")


def _air_words(cells: Sequence[WhenCell]) -> list[str]:
    said: list[str] = []
    low, high = min(c.rest_share for c in cells), max(c.rest_share for c in cells)
    if high < _SMALL_SHARE:
        said.append(message("Hardly any of the riding is hot."))
    elif high - low < _SMALL_SHARE:
        said.append(message("For {high_share} of the riding it is hot enough to rest often.",
                             high_share=high))  # fmt: skip
    else:
        said.append(
            message(
                "For {low_share} to {high_share} of the riding it is hot enough to rest often.",
                low_share=low, high_share=high,
            )
        )  # fmt: skip
    if all(c.is_dark for c in cells):
        said.append(message("Some of it is ridden in the dark, or ends within an hour of it."))
    cold = max(c.cold_share for c in cells)
    if cold >= _SMALL_SHARE:
        said.append(message("For {cold_share} of the riding hands grow cold.", cold_share=cold))
    ice = max(c.ice_share for c in cells)
    if ice >= _SMALL_SHARE:
        said.append(message("For {ice_share} of the riding ice may lie.", ice_share=ice))
    return said


def _why(month: WhenMonth, cell: WhenCell) -> Message | None:
    """The gravest that a cell brings, in the order cells are ranked by."""
    if month.shut_m >= _SMALL_M and month.snow_m >= month.shut_m / 2:
        return message("{snow_m} may be closed by snow", snow_m=month.snow_m)
    if month.shut_m >= _SMALL_M:
        return message("{shut_m} may be impassable for days", shut_m=month.shut_m)
    if cell.is_dark:
        if cell.before_light_s > 0:
            return message("it begins before light")
        return message("it ends in the dark, or within an hour of it")
    if cell.cold_share + cell.ice_share > cell.rest_share + cell.hard_share:
        if cell.ice_share < _SMALL_SHARE:
            return message("hands grow cold for {cold_share} of the riding",
                            cold_share=cell.cold_share)  # fmt: skip
        return message("ice may lie for {ice_share} of the riding", ice_share=cell.ice_share)
    if cell.rest_share >= _SMALL_SHARE:
        return message("{hot_share} of the riding is hot enough to rest often",
                        hot_share=cell.rest_share)  # fmt: skip
    if month.soft_m >= _SMALL_M:
        return message("{soft_m} may be impassable after rain", soft_m=month.soft_m)
    return None


def notes(months: Sequence[WhenMonth]) -> tuple[str, ...]:
    """What the figures are not."""
    if any(m.shut_m or m.soft_m for m in months):
        return (term(_MEANS), term(_SHUT), term(_LAW))
    return (term(_MEANS), term(_LAW))
