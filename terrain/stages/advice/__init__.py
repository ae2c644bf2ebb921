"""Advice: setup, bikes, rider, kit, questions, cautions and law, from plain numbers."""

from terrain.stages.advice.advise import advise_case
from terrain.stages.advice.gather import gather

__all__ = ["advise_case", "gather"]
