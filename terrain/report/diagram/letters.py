"""The letters that stand for fuel, water and stops in the diagram, in the reader's language."""

from __future__ import annotations

from collections.abc import Iterable

from terrain.text.catalogue import N_
from terrain.text.translator import Translator

# A translation ends in the letter: the first of the word, or another where that is taken.
_LETTERS: dict[str, str] = {
    "fuel": N_("letter for fuel: F"),
    "water": N_("letter for water: W"),
    "hospital": N_("letter for hospital: H"),
    "lunch": N_("letter for lunch: L"),
    "rest": N_("letter for rest: R"),
    "check": N_("letter for check: C"),
    "van": N_("letter for van: V"),
    "night": N_("letter for night: N"),
    "pinned": N_("letter for your stop: P"),
}
STOP_WORDS: dict[str, str] = {
    "fuel": N_("fuel"),
    "lunch": N_("lunch"),
    "rest": N_("rest"),
    "water": N_("water"),
    "check": N_("check of coolant and oil"),
    "van": N_("van"),
    "night": N_("night"),
    "pinned": N_("your stop"),
}
_WORDS = STOP_WORDS | {"hospital": N_("hospital")}


def letter(kind: str, translator: Translator) -> str:
    """The letter of a kind of place or stop."""
    told = translator._(_LETTERS.get(kind, _LETTERS["pinned"]))
    return next(sign for sign in reversed(told) if sign.isalpha())


def letters_told(kinds: Iterable[str], translator: Translator) -> str:
    """ "F fuel, W water": the letters of some kinds with their words, in the order of the list."""
    wanted = set(kinds)
    return ", ".join(
        f"{letter(kind, translator)} {translator._(_WORDS[kind])}"
        for kind in _LETTERS
        if kind in wanted
    )
