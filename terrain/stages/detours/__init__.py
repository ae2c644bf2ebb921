"""Other ways round hard or remote parts of a ride, and dirt in place of tarmac."""

from terrain.stages.detours.answered import TakenAnswers, take_answers
from terrain.stages.detours.find import find_detours

__all__ = ["TakenAnswers", "find_detours", "take_answers"]
