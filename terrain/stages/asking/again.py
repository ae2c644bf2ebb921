"""Where a ride goes over a road again that it has gone before, in either direction."""

from __future__ import annotations

from collections import defaultdict

import numpy as np

from terrain.values.arrays import joined_spans
from terrain.values.match import Match

Span = tuple[float, float]
# Two parts are rides of one road if they have so much of the shorter road in common, and so much
# of the longer one: to leave out a long road is no answer for a short piece of it. Common practice,
# no source.
_OF_SHORTER, _OF_LONGER = 0.8, 0.5


def same_road(match: Match, a: Span, b: Span) -> bool:
    """Whether two parts of a ride go over the same road. What is ridden there and back within one
    of them counts once."""
    one, other = _on_edges(match, a), _on_edges(match, b)
    shorter, longer = sorted((_length_m(one), _length_m(other)))
    both_m = sum(
        max(min(high, end) - max(low, start), 0.0)
        for edge in one.keys() & other.keys()
        for low, high in one[edge]
        for start, end in other[edge]
    )
    return longer > 0.0 and both_m >= _OF_SHORTER * shorter and both_m >= _OF_LONGER * longer


def _length_m(on: dict[int, list[Span]]) -> float:
    return sum(high - low for spans in on.values() for low, high in spans)


def _on_edges(match: Match, part: Span) -> dict[int, list[Span]]:
    """The pieces of each edge that are ridden in a part, metres along the edge as drawn."""
    first = int(np.searchsorted(match.to_m, part[0], side="right"))
    last = int(np.searchsorted(match.from_m, part[1], side="left"))
    found: defaultdict[int, list[Span]] = defaultdict(list)
    for k in range(first, last):
        edge, from_m, to_m = int(match.edge[k]), float(match.from_m[k]), float(match.to_m[k])
        if edge < 0 or to_m <= from_m:
            continue
        ends = np.clip((np.array(part) - from_m) / (to_m - from_m), 0.0, 1.0)
        on_m = match.edge_from_m[k] + ends * (match.edge_to_m[k] - match.edge_from_m[k])
        found[edge].append((float(on_m.min()), float(on_m.max())))
    return {edge: joined_spans(spans) for edge, spans in found.items()}
