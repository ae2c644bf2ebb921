"""Invented names from an invented way of speaking.

Words are open syllables of a small set of sounds with a closing sound. None is meant to be a
word or a place of any real language.
"""

from __future__ import annotations

from typing import Final

from tests.island.noise import stream

ISLAND: Final = "Ulenambe"
ISLET: Final = "Little Yazeth"
# Towns in the order of network.COAST_TOWNS, network.VALLEY_TOWNS and the islet's.
TOWNS: Final = (
    "Quivossa", "Tarbalm", "Lornath", "Velkilm", "Hemvovri", "Zenzeth", "Drulovri", "Oshpondu",
    "Sulbarro", "Pravollo", "Beldelm", "Morkivri",
    "Ketrath", "Yabarro", "Gandelm", "Thozeshu", "Fenkivri", "Irseth", "Ulerambe", "Nenallo",
    "Yatimbe",
)  # fmt: skip

_HEADS: Final = (
    "vel", "tho", "dru", "osh", "ket", "mor", "sul", "ne", "ir", "bel", "gan", "hem", "ya",
    "lor", "pra", "zen", "qui", "tar", "ule", "fen",
)  # fmt: skip
_HEARTS: Final = ("ba", "de", "ki", "lo", "mu", "na", "po", "ra", "se", "ti", "vo", "ze")
_TAILS: Final = ("sk", "lm", "th", "ssa", "vri", "mbe", "rro", "shu", "ndu", "llo", "nne")
# Built words that came too near to a real place, name or word when they were looked at.
_AVOID: Final = frozenset({"mordeth", "lordedeshu", "belnasenne", "hempossa"})


def first_names() -> set[str]:
    """The names given by hand, to be kept from being built again."""
    return {ISLAND, ISLET.split()[-1], *TOWNS}


def words(purpose: str, n: int, taken: set[str]) -> list[str]:
    """n new words that are not in `taken`, which they are added to."""
    rng = stream(f"names {purpose}")
    made: list[str] = []
    while len(made) < n:
        parts = [_HEADS[int(rng.random() * len(_HEADS))]]
        for _ in range(1 + int(rng.random() < 0.25)):
            parts.append(_HEARTS[int(rng.random() * len(_HEARTS))])
        parts.append(_TAILS[int(rng.random() * len(_TAILS))])
        word = "".join(parts).capitalize()
        if word.lower() not in _AVOID and word not in taken:
            taken.add(word)
            made.append(word)
    return made
