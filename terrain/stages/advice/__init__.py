"""Advice: setup, bikes, rider, kit, questions, cautions and law, from plain numbers."""

from terrain.stages.advice.advise import advise

__all__ = ["advise"]
