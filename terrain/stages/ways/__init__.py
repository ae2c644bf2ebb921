"""The ground of every way of a region, fitted to its tags at build."""

from terrain.stages.ways.fit import fit_way_ground

__all__ = ["fit_way_ground"]
