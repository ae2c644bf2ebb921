"""The ways out of a run in plain sentences."""

from __future__ import annotations

from dataclasses import replace

from terrain.text.catalogue import N_
from terrain.text.message import join_messages, message, road_called, term
from terrain.text.terms import EXIT_TERMS
from terrain.values.exits import Exit, WayOut


def exit_words(way: Exit) -> Exit:
    """The exit with its sentences."""
    if way.is_short:
        return replace(way, words=join_messages((_worst(way), _van(way))))
    return replace(way, words=join_messages((_worst(way), _sides(way), *_decide(way), _van(way))))


def _sides(way: Exit) -> str:
    if not way.sides:
        return term(N_("No side way out to paved road is mapped: ride on or turn back."))
    return message(
        "One side way out, at {last_at_m}.",
        "{n} side ways out, the last at {last_at_m}.",
        n=len(way.sides),
        last_at_m=way.sides[-1].at_m,
    )


def _decide(way: Exit) -> list[str]:
    said: list[str] = [
        message(
            "Decide at {decide_at_m}: the next {commit_m} ({commit_s}) have no other way out.",
            decide_at_m=way.last_decision.at_m or 0.0,
            commit_m=way.commit_m,
            commit_s=way.commit_s,
        )
    ]
    if way.turn_back_until_m is not None:
        said.append(
            message("Turning back is quicker until {until_at_m}.", until_at_m=way.turn_back_until_m)
        )
    return said


def _worst(way: Exit) -> str:
    if way.worst is None:
        return term(N_("No way out to a paved road is known on mapped roads."))
    return message(
        "Worst at {worst_at_m}: {out_s}, {out_m} to {road}, {how}.",
        worst_at_m=way.worst.at_m,
        out_s=way.worst.time_s,
        out_m=way.worst.length_m,
        road=_road(way.worst),
        how=term(EXIT_TERMS[way.worst.out]),
    )


def _road(way: WayOut) -> str:
    return road_called(way.to.name) if way.to.name else term(N_("paved road"))


# Common practice, no source.
_PART_M = 1000.0  # a run with more than this left over is barred to a van in part only


def _van(way: Exit) -> str:
    if way.van_passes:
        return term(N_("A van can probably follow."))
    before = None if way.van_before is None else way.van_before.at_m
    after = None if way.van_after is None else way.van_after.at_m
    if before is not None and after is not None and after - before < 1000.0:
        return message("A van can meet at {before_at_m}.", before_at_m=before)
    if len(way.van_gaps) > 1:
        return message(
            "A van cannot follow on {gap_m} of it, in {n_parts} parts between {first_at_m} and "
            "{last_at_m}; in between it can probably meet.",
            gap_m=sum(to_m - from_m for from_m, to_m in way.van_gaps),
            n_parts=len(way.van_gaps),
            first_at_m=way.van_gaps[0][0],
            last_at_m=way.van_gaps[-1][1],
        )
    if before is not None and after is not None:
        if after < way.to_m - _PART_M or before > way.from_m + _PART_M:
            return message(
                "A van cannot follow from {before_at_m} to {after_at_m}; on the rest it probably "
                "can.",
                before_at_m=before,
                after_at_m=after,
            )
        return message(
            "A van can meet before it at {before_at_m} and after it at {after_at_m}.",
            before_at_m=before,
            after_at_m=after,
        )
    if before is not None:
        return message("A van can meet before it at {before_at_m}.", before_at_m=before)
    if after is not None:
        return message("A van can meet after it at {after_at_m}.", after_at_m=after)
    return term(N_("No point of the ride near it is known to be in reach of a van."))
