"""The guide's plan: days and stops that keep fuel, rest, heat, light and the van in hand."""

from terrain.stages.plan.days import RideDays, choose_days
from terrain.stages.plan.make import make_plan

__all__ = ["RideDays", "choose_days", "make_plan"]
