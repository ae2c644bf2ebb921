"""How far from help a class gets, for cases by hand."""

from __future__ import annotations

from terrain.values.fleet import Parts
from terrain.values.help import ClassHelp, HelpBasis


def reach_of(
    name: str,
    *,
    known: bool = True,
    farthest_s: float,
    farthest_m: float,
    at_m: float | None = None,
    remote_m: float = 0.0,
) -> ClassHelp:
    """Help for a class, with the numbers that advice reads."""
    return ClassHelp(
        name=name, parts=Parts.FAIR, sources=(HelpBasis.MAPPED,), known=known,
        farthest_m=farthest_m, farthest_s=farthest_s, farthest_at_m=at_m, remote_m=remote_m,
        nearest=None, words="",
    )  # fmt: skip
