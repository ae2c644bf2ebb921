"""The ways out of a run in plain sentences."""

from __future__ import annotations

from dataclasses import replace

from terrain.values.exits import Exit, Leaving, Out


def exit_words(way: Exit) -> Exit:
    """The exit with its sentences."""
    parts = [_worst(way)]
    if way.is_short:
        return replace(way, words=f"{parts[0]} {_van(way)}")
    if way.sides:
        count = len(way.sides)
        parts.append(
            f"{count} side way{'' if count == 1 else 's'} out, the last at "
            f"km {_at(way.sides[-1].at_m)}."
        )
    else:
        parts.append("No side way out to paved road is mapped: the ways are on or back.")
    parts.append(
        f"Decide at km {_at(way.last_decision.at_m or 0.0)}: the next {_km(way.commit_m)} km "
        f"({minutes(way.commit_s)}) have no other way out."
    )
    if way.turn_back_until_m is not None:
        parts.append(f"Turning back is quicker until km {_at(way.turn_back_until_m)}.")
    parts.append(_van(way))
    return replace(way, words=" ".join(part for part in parts if part))


def minutes(time_s: float) -> str:
    """A time to five minutes, below ten to the minute."""
    whole = round(time_s / 60)
    if whole >= 10:
        whole = 5 * round(time_s / 300)
    hours, rest = divmod(max(whole, 1), 60)
    return f"{hours} h {rest:02d}" if hours else f"{rest} min"


def _km(metres: float) -> str:
    return f"{metres / 1000:.0f}" if metres >= 20_000 else f"{metres / 1000:.1f}"


def _at(metres: float) -> str:
    return f"{metres / 1000:.1f}"


def _worst(way: Exit) -> str:
    if way.worst is None:
        return "No way out to a paved road is known on mapped roads."
    return (
        f"Worst at km {_at(way.worst.at_m)}: {minutes(way.worst.time_s)}, "
        f"{_km(way.worst.length_m)} km to {_road(way.worst)}, {_HOW[way.worst.out]}."
    )


_HOW = {
    Out.BACK: "by turning back",
    Out.ON: "by riding on",
    Out.SIDE: "by a side way",
}


def _road(way: Leaving) -> str:
    return way.to.name or "paved road"


def _van(way: Exit) -> str:
    if way.van_passes:
        return "A van can probably follow."
    meet = []
    if way.van_before is not None and way.van_before.at_m is not None:
        meet.append(f"before at km {_at(way.van_before.at_m)}")
    if way.van_after is not None and way.van_after.at_m is not None:
        meet.append(f"after at km {_at(way.van_after.at_m)}")
    if not meet:
        return "No point of the ride near it is known to be in reach of a van."
    return f"A van can meet {' and '.join(meet)}."
