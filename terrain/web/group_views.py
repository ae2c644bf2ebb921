"""How the riders of a group stand on a route, out of what its report keeps."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from markupsafe import Markup

from terrain.report.desk.group import draw_group
from terrain.text.translator import Translator
from terrain.values.group import Group, GroupRider
from terrain.values.verdict import PerAudience, RidePart
from terrain.web.bookings import Standing
from terrain.web.summary import RiderKept, RiderSaid


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
    told = row.told(lang)
    if told is None or told.strip is None or told.group_said is None:
        return None
    said = told.group_said
    return GroupView(
        group=Group(
            strip=told.strip,
            riders=tuple(_rider(*pair) for pair in zip(told.group, said.riders, strict=True)),
        ),
        headline=said.headline,
        spares=said.spares,
    )


def _rider(kept: RiderKept, said: RiderSaid) -> GroupRider:
    return GroupRider(
        name=kept.name, about=said.about, bike=said.bike, riding_s=kept.riding_s,
        too_hard=tuple(RidePart(from_m=a, to_m=b) for a, b in kept.hard),
        at_edge=tuple(RidePart(from_m=a, to_m=b) for a, b in kept.edge),
        why=said.why, answer=said.answer, may_go=kept.may_go,
        then=PerAudience(rider=said.rider, staff=said.staff, guide=said.staff),
    )  # fmt: skip
