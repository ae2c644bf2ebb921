"""How fast each edge of a region is."""

from __future__ import annotations

import numpy as np

from terrain.stages.speed.pace import SHORTEST_BEND_M, SpeedInputs, mean_pace_s_m, turn_deg
from terrain.tables.speed import Traveller
from terrain.values.arrays import FloatArray
from terrain.values.views import RoadsView, WayFlag

# Edges looked at at once: bounds the memory of a build. Common practice, no source.
_CHUNK = 100_000


def edge_speed_kph(
    roads: RoadsView,
    p: FloatArray,
    *,
    traveller: Traveller,
    bend_deg_km: FloatArray | None = None,
    severity: FloatArray | None = None,
    grade_pct: FloatArray | None = None,
) -> FloatArray:
    """Plausible mean moving speed on every edge of the graph [km/h], shape (e,), never NaN.

    p : ground probabilities per way, shape (w, 3), NaN rows where not known
    bend_deg_km : of `edge_bend_deg_km`, for who asks for several travellers
    severity : per way 0..1, shape (w,); grade_pct : per edge, shape (e,); None if not known
    Says nothing of whether the traveller may or can pass. Ferries get the speed of their
    crossing time.
    """
    way = roads.edge_way
    e = roads.n_edges
    no_value = np.full(e, np.nan)
    ferry = (roads.ways.flags[way] & WayFlag.FERRY) != 0
    inputs = SpeedInputs(
        highway=roads.ways.highway.codes[way],
        highway_values=roads.ways.highway.values,
        maxspeed_kph=roads.ways.maxspeed_kph[way].astype(np.float64),
        p=np.asarray(p, dtype=np.float64)[way],
        severity=no_value if severity is None else np.asarray(severity, dtype=np.float64)[way],
        grade_pct=no_value if grade_pct is None else np.asarray(grade_pct, dtype=np.float64),
        bend_deg_km=edge_bend_deg_km(roads) if bend_deg_km is None else bend_deg_km,
        settled=np.zeros(e, dtype=np.bool_),
        ferry=ferry,
        ferry_kph=way_ferry_kph(roads)[way],
    )
    pace, _ = mean_pace_s_m(inputs, traveller)
    return 3.6 / pace


def edge_bend_deg_km(roads: RoadsView) -> FloatArray:
    """How much every edge turns on its length [deg/km], shape (e,)."""
    turned = np.empty(len(roads.edge_length_m))
    for low in range(0, len(turned), _CHUNK):
        start = roads.edge_start[low : low + _CHUNK + 1]
        points = slice(start[0], start[-1])
        turn = turn_deg(roads.pt_lon[points], roads.pt_lat[points])
        turn[start[:-1] - start[0]] = 0.0
        turn[start[1:] - 1 - start[0]] = 0.0
        turned[low : low + _CHUNK] = np.add.reduceat(turn, start[:-1] - start[0])
    return 1000.0 * turned / np.maximum(roads.edge_length_m, SHORTEST_BEND_M)


def way_ferry_kph(roads: RoadsView) -> FloatArray:
    """Speed of each way by its tagged crossing time, 1..80 km/h; NaN where not tagged.

    A crossing time in the wrong unit is kept within what ferries do; common practice, no source.
    """
    length = np.bincount(roads.edge_way, weights=roads.edge_length_m, minlength=len(roads.ways))
    crossing_s = roads.ways.ferry_s.astype(np.float64)
    kph = np.full(len(length), np.nan)
    known = crossing_s > 0
    kph[known] = 3.6 * length[known] / crossing_s[known]
    per_way: FloatArray = np.clip(kph, 1.0, 80.0)
    return per_way
