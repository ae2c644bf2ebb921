"""The quickest way from every sample of a ride to a network: by the ride, or leaving it."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from terrain.calc.along import Samples, approach, by_the_ride, cost_along
from terrain.values.arrays import BoolArray, FloatArray, Int32Array, IntArray
from terrain.values.help import HelpFields, WayOut
from terrain.values.views import RoadsView


class Ways(NamedTuple):
    """Way to a network from each sample, shape (s,).

    cost : [s], NaN where none is known; origin : the sample one rides to along the ride first;
    there : that sample stands on the network; node : the node one rides to from a sample if
    one leaves the ride there
    """

    cost: FloatArray
    origin: IntArray
    there: BoolArray
    node: Int32Array


def ways_to(
    samples: Samples, roads: RoadsView, fields: HelpFields, field: WayOut, there: BoolArray
) -> Ways:
    """Ways to the network of a field. there : samples that stand on it already"""
    lane = cost_along(
        samples,
        roads,
        approach(samples, fields.edge_time_s, outbound=True),
        node_cost=field.time_s,
        node_source=np.arange(roads.n_nodes, dtype=np.int32),
    )
    cost = np.where(there, 0.0, np.where(samples.on_land, lane.cost, np.nan))
    on_ride = by_the_ride(samples, cost, by_time=True)
    return Ways(on_ride.cost, on_ride.origin, there, lane.source)


def on_edges(samples: Samples, edges: BoolArray) -> BoolArray:
    """Samples that lie on the given edges."""
    on: BoolArray = (samples.edge >= 0) & edges[np.maximum(samples.edge, 0)]
    return on
