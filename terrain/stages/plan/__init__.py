"""The guide's plan: stops that keep fuel, rest, heat and the van in hand."""

from terrain.stages.plan.course import bikes_for
from terrain.stages.plan.make import make_plan

__all__ = ["bikes_for", "make_plan"]
