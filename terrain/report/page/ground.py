"""What the ground rests on: the map's tags, our estimate and why, and what hard ground asks."""

from __future__ import annotations

from collections.abc import Sequence

from terrain.report.page.blocks import Block, Part
from terrain.text.message import road_called
from terrain.text.plain import plain_line, shortened
from terrain.text.translator import Translator
from terrain.values.ground import Stretch
from terrain.values.report import Report

_MOST = 5  # stretches told one by one
_NOTES = 12  # remarks of notes told
_HARD = 3  # from this severity on what it asks of bike and rider is told
_HARD_M = 100.0  # a shorter piece asks nothing of anybody
_DOUBT_M = 100.0  # metres that may be of another ground: less is not worth a line
_LONGEST_NAME = 40


def ground_part(report: Report, translator: Translator) -> Part | None:
    """The shares' basis, the least certain stretches with their evidence, the hardest ground."""
    ground = report.assessed.ground
    if not ground.stretches:
        return None
    blocks = [Block(kind="list", lines=tuple(translator.translate_all(ground.words)))]
    doubtful = _doubtful(ground.stretches)
    if doubtful:
        blocks.append(Block(kind="heading", text=translator._("Where we are least certain")))
        blocks.append(Block(kind="list", lines=tuple(_why(s, translator) for s in doubtful)))
    noted = [s for s in ground.stretches if s.evidence.note and s.evidence.note.remark][:_NOTES]
    if noted:
        blocks.append(Block(kind="heading", text=translator._("What was noted on the way")))
        lines = tuple(_noted(s, translator) for s in noted)
        blocks.append(Block(kind="list", lines=lines))
    hard = _hardest(ground.stretches)
    if hard:
        blocks.append(Block(kind="heading", text=translator._("What the hardest ground asks")))
        lines = tuple(_line(s, translator.after_colon(s.evidence.ride), translator) for s in hard)
        blocks.append(Block(kind="list", lines=lines))
    return Part(key="ground", title=translator._("What the ground rests on"), blocks=tuple(blocks))


def _doubt_m(s: Stretch) -> float:
    return 0.0 if s.p is None else s.length_m * (1.0 - max(s.p))


def _doubtful(stretches: Sequence[Stretch]) -> list[Stretch]:
    """The few stretches with most metres that may be of another ground, in riding order."""
    known = [
        s for s in stretches if s.p is not None and (s.evidence.clashes or _doubt_m(s) >= _DOUBT_M)
    ]
    chosen = sorted(known, key=lambda s: (-_doubt_m(s), s.from_m))[:_MOST]
    return sorted(chosen, key=lambda s: s.from_m)


def _hardest(stretches: Sequence[Stretch]) -> list[Stretch]:
    """The longest stretch of each hard level, the hardest first."""
    longest: dict[int, Stretch] = {}
    for s in stretches:
        level = int(s.severity or 0)
        held = longest.get(level)
        if (
            level >= _HARD
            and s.length_m >= _HARD_M
            and s.evidence.ride
            and (held is None or s.length_m > held.length_m)
        ):
            longest[level] = s
    return [longest[level] for level in sorted(longest, reverse=True)]


def _why(s: Stretch, translator: Translator) -> str:
    told = translator.after_colon(s.evidence.text)
    for clash in translator.translate_all(s.evidence.clashes):
        if clash not in told:
            told += f" {clash}."
    return _line(s, told, translator)


def _noted(s: Stretch, translator: Translator) -> str:
    """The remark of a note, with its day and who made it, however the ground was judged."""
    note = s.evidence.note
    assert note is not None
    day = "" if note.noted is None else translator.day(note.noted)
    about = ", ".join(filter(None, (plain_line(note.who), day)))
    return _line(s, plain_line(note.remark) + (f" ({about})" if about else ""), translator)


def _line(s: Stretch, text: str, translator: Translator) -> str:
    called = translator.translate(road_called(s.name)) if s.name else ""
    name = f" ({shortened(called, _LONGEST_NAME)})" if called else ""
    where = translator.km_range(s.from_m, s.to_m) + name
    return translator._("{where}: {text}", where=where, text=text)
