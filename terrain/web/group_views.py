"""How the riders of a group stand on a route, out of what its report keeps."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from markupsafe import Markup

from terrain.report.desk.group import draw_group
from terrain.text.translator import Translator
from terrain.values.group import Group, GroupRider
from terrain.values.verdict import PerAudience, RidePart
from terrain.web.bookings import Standing
from terrain.web.views import strip_kept


@dataclass(frozen=True, slots=True, kw_only=True)
class GroupView:
    """A group as its page shows it. headline : how many may go; spares : for all of them"""

    group: Group
    headline: str
    spares: tuple[str, ...]


def drawn_groups(
    rows: Sequence[Standing], translator: Translator
) -> dict[int, tuple[GroupView, Markup]]:
    """How the riders of a group stand, by route, with the table drawn."""
    found = {row.route_id: group_view(row, translator.lang) for row in rows}
    return {
        route_id: (view, draw_group(view.group, translator))
        for route_id, view in found.items()
        if view is not None
    }


def group_view(row: Standing, lang: str) -> GroupView | None:
    """How each rider stands on a route; None for one rider, or before there is a report."""
    told, strip = row.told(lang), strip_kept(row)
    if told is None or strip is None or not told.get("group"):
        return None
    said = told["group_said"]
    return GroupView(
        group=Group(
            strip=strip,
            riders=tuple(_rider(*pair) for pair in zip(told["group"], said["riders"], strict=True)),
        ),
        headline=said["headline"],
        spares=tuple(said["spares"]),
    )


def _rider(kept: Mapping[str, Any], said: Sequence[str]) -> GroupRider:
    about, bike, why, answer, staff, rider = said
    return GroupRider(
        name=kept["name"], about=about, bike=bike, riding_s=kept["riding_s"],
        too_hard=tuple(RidePart(from_m=a, to_m=b) for a, b in kept["hard"]),
        at_edge=tuple(RidePart(from_m=a, to_m=b) for a, b in kept["edge"]),
        why=why, answer=answer, may_go=kept["may_go"],
        then=PerAudience(rider=rider, staff=staff, guide=staff),
    )  # fmt: skip
