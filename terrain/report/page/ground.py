"""What the ground rests on: the map's tags, our estimate and why, and what hard ground asks."""

from __future__ import annotations

from typing import Any

from terrain.report.page.blocks import Block, Part
from terrain.text.plain import shortened
from terrain.text.translator import Translator
from terrain.values.report import Facts

_MOST = 5  # stretches told one by one
_HARD = 3  # from this severity on what it asks of bike and rider is told
_DOUBT_M = 100.0  # metres that may be of another ground: less is not worth a line
_LONGEST_NAME = 40


def ground_part(facts: Facts, translator: Translator) -> Part | None:
    """The shares' basis, the least certain stretches with their evidence, the hardest ground."""
    stretches = [s for s in facts["stretches"] if s.get("evidence")]
    if not stretches:
        return None
    blocks = [Block(kind="list", lines=tuple(translator.translate_all(facts["ground"]["words"])))]
    doubtful = _doubtful(stretches)
    if doubtful:
        blocks.append(Block(kind="heading", text=translator._("Where we are least certain")))
        blocks.append(Block(kind="list", lines=tuple(_why(s, translator) for s in doubtful)))
    hard = _hardest(stretches)
    if hard:
        blocks.append(Block(kind="heading", text=translator._("What the hardest ground asks")))
        lines = tuple(
            _line(s, translator.after_colon(s["evidence"]["ride"]), translator) for s in hard
        )
        blocks.append(Block(kind="list", lines=lines))
    return Part(key="ground", title=translator._("What the ground rests on"), blocks=tuple(blocks))


def _doubtful(stretches: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """The few stretches with most metres that may be of another ground, in riding order."""

    def doubt_m(s: dict[str, Any]) -> float:
        return float((s["to_m"] - s["from_m"]) * (1.0 - max(s["p"].values())))

    # Most stretches are too short for the doubt that is worth a line.
    known = [
        s
        for s in stretches
        if s["p"]
        and (
            s["evidence"]["clashes"]
            or (s["to_m"] - s["from_m"] >= _DOUBT_M and doubt_m(s) >= _DOUBT_M)
        )
    ]
    chosen = sorted(known, key=lambda s: (-doubt_m(s), s["from_m"]))[:_MOST]
    return sorted(chosen, key=lambda s: s["from_m"])


def _hardest(stretches: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """The longest stretch of each hard level, the hardest first."""
    longest: dict[int, dict[str, Any]] = {}
    for s in stretches:
        level = s["severity"] or 0
        if level >= _HARD and s["evidence"]["ride"]:
            held = longest.get(level)
            if held is None or s["to_m"] - s["from_m"] > held["to_m"] - held["from_m"]:
                longest[level] = s
    return [longest[level] for level in sorted(longest, reverse=True)]


def _why(s: dict[str, Any], translator: Translator) -> str:
    told = translator.after_colon(s["evidence"]["text"])
    for clash in translator.translate_all(s["evidence"]["clashes"]):
        if clash not in told:
            told += f" {clash}."
    return _line(s, told, translator)


def _line(s: dict[str, Any], text: str, translator: Translator) -> str:
    name = f" ({shortened(s['name'], _LONGEST_NAME)})" if s["name"] else ""
    where = translator.km_range(s["from_m"], s["to_m"]) + name
    return translator._("{where}: {text}", where=where, text=text)
