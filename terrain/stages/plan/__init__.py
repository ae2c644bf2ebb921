"""The guide's plan: days and stops that keep fuel, rest, heat, light and the van in hand."""

from terrain.stages.plan.make import make_plan

__all__ = ["make_plan"]
