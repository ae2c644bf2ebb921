"""Weaker help along a ride: who may help where no motorcycle workshop is near."""

from __future__ import annotations

import numpy as np

from terrain.stages.help.fields import weak_sources
from terrain.stages.help.found import Found
from terrain.stages.help.way import ToPlaces
from terrain.stages.places.refs import place_ref
from terrain.values.help import WEAK_HELP, Weaker, WeakHelp


class WeakerHelp:
    """The nearest place of each kind of weaker help, from any sample of a ride."""

    def __init__(self, found: Found) -> None:
        self.found = found
        weaker = found.fields.weaker_s
        ridden = weak_sources(found.places, among=found.ridden[found.places.edge])
        self.to = {
            kind: ToPlaces(
                found.here, found.fields, found.places,
                cost=weaker.cost[row], place=weaker.place[row], ridden=ridden[row],
            )
            for row, kind in enumerate(WEAK_HELP)
        }  # fmt: skip

    def farthest(self) -> tuple[Weaker, ...]:
        """Of each kind in reach, the nearest at the point farthest from it by time."""
        made = []
        for kind, to in self.to.items():
            if not np.isnan(to.time_s).all():
                made += self._near(kind, int(np.nanargmax(to.time_s)))
        return tuple(made)

    def around(self, i: int, within_s: float | None) -> tuple[Weaker, ...]:
        """Of each kind the nearest to sample i, quickest first, if quicker than `within_s`."""
        near = [item for kind in WEAK_HELP for item in self._near(kind, i)]
        near = [item for item in near if within_s is None or item.time_s < within_s]
        return tuple(sorted(near, key=lambda item: item.time_s))

    def _near(self, kind: WeakHelp, i: int) -> list[Weaker]:
        way = self.to[kind].way(i)
        if way is None:
            return []
        found = self.found
        place = place_ref(found.places, way.row, kind=kind.value, nearby=found.nearby)
        return [
            Weaker(
                kind=kind, at_m=float(found.samples.at_m[i]), place=place, time_s=way.time_s,
                length_m=way.length_m, restricted=way.restricted,
            )
        ]  # fmt: skip
