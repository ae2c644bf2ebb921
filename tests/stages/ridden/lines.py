"""Straight rides along the equator, drawn by hand: as matched, and their grounds and speeds."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from terrain.values.ground import GroundKind
from terrain.values.match import LegKind, Match
from terrain.values.ride import Ride
from tests.stages.tinymap import EAST_M, NORTH_M, ride_on

OFF_MAP = -1
CHANCES = np.array([(0.98, 0.01, 0.01), (0.02, 0.96, 0.02)])  # of way 0 tarmac, of way 1 gravel


def laid(
    line: Sequence[tuple[float, float]], legs: Sequence[tuple[float, int]], *, lon: float = 0.0
) -> Match:
    """A ride over points (east, north) [m] of a place on the equator.

    legs : (end [m], edge) of each leg, edge and way of one number, each edge ridden from its start
    """
    xy = np.array(line)
    at = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(xy, axis=0).T))])
    edge = np.array([number for _, number in legs], np.int32)
    to_m = np.array([end for end, _ in legs])
    n, length = len(legs), np.diff(to_m, prepend=0.0)
    on = edge >= 0
    return Match(
        kind=np.where(on, LegKind.MATCHED, LegKind.UNMAPPED).astype(np.int8),
        filled=np.zeros(n, bool), edge=edge, way=edge, way_id=edge.astype(np.int64),
        forward=np.ones(n, bool), edge_from_m=np.where(on, 0.0, np.nan),
        edge_to_m=np.where(on, length, np.nan), from_m=to_m - length, to_m=to_m,
        offset_m=np.zeros(n), lon=lon + xy[:, 0] / EAST_M, lat=xy[:, 1] / NORTH_M, at_m=at,
        point_at_m=np.zeros(0),
    )  # fmt: skip


def east(length_m: float, edge: int, *, north_m: float = 0.0) -> Match:
    """Due east on one edge, or off the map."""
    return laid([(0.0, north_m), (length_m, north_m)], [(length_m, edge)])


def ride_of(match: Match, *ground: GroundKind) -> Ride:
    """Tarmac at 60 km/h, gravel at 36."""
    return ride_on(match, ground, CHANCES)


def rising(*ends: tuple[float, float]) -> np.ndarray:
    """Positions up to each end [m], so far apart as said beside it, from 0 on."""
    starts = [0.0, *(end for end, _ in ends)]
    parts = [
        np.arange(a, b, step) for (a, b), (_, step) in zip(pairwise(starts), ends, strict=True)
    ]
    return np.append(np.concatenate(parts), starts[-1])
