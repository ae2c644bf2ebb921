"""How each rider of a group stands on the ride they share."""

from terrain.stages.group.judge import judge_rider_in

__all__ = ["judge_rider_in"]
