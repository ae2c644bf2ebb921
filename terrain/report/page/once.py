"""A fact is said once: what the findings say already is left out of the parts below them."""

from __future__ import annotations

from dataclasses import replace

from terrain.report.page.blocks import Block, Part
from terrain.text.translator import Translator
from terrain.values.advice import AdviceItem
from terrain.values.report import Report
from terrain.values.verdict import FindingKind

# Sentences of advice by code, and the finding that says the same of the same places.
_SAID_BY: dict[str, FindingKind] = {
    "beyond-rider": FindingKind.BEYOND_RIDER, "beyond-rider-part": FindingKind.BEYOND_RIDER,
    "heat-no-riding": FindingKind.HEAT, "heat-how": FindingKind.HEAT,
    "no-class-fits": FindingKind.NO_BIKE, "impassable": FindingKind.HARD,
    "season-snow": FindingKind.SEASON, "season-frost": FindingKind.SEASON,
    "season-tagged": FindingKind.SEASON, "season-confirm": FindingKind.SEASON,
    "season-doubtful": FindingKind.SEASON, "remote": FindingKind.REMOTE,
    "help-unknown": FindingKind.REMOTE,
}  # fmt: skip
# The same of what is not known, by the keys that it has in the JSON.
_NOT_KNOWN = {
    "undated": "trip.depart", "unmapped": "match.unmapped_m", "help-unknown": "help.mechanic",
}  # fmt: skip


def is_found(item: AdviceItem, report: Report) -> bool:
    """Whether a finding, or the list of what is not known, says a sentence of advice already."""
    kind = _SAID_BY.get(item.code)
    if any(found.kind is kind for found in report.verdict.findings):
        return True
    key = _NOT_KNOWN.get(item.code)
    return any(gap.key == key for gap in report.verdict.unknown)


def told_above(report: Report, translator: Translator) -> frozenset[str]:
    """The sentences of the findings and of what is asked and not known, as they are printed."""
    verdict = report.verdict
    said = [
        *(text for f in verdict.findings for text in (f.what, f.why, f.do.rider) if text),
        *(gap.why for gap in verdict.unknown),
        *(asked.text for asked in verdict.asked),
    ]
    return frozenset(_bare(translator.translate(text)) for text in said)


def once(part: Part, told: frozenset[str]) -> Part | None:
    """The part without lines that are told already; None if nothing else was in it."""
    blocks: list[Block] = []
    for block in part.blocks:
        kept = block
        if block.lines:
            kept = replace(block, lines=tuple(x for x in block.lines if _bare(x) not in told))
        if (kept.kind in ("list", "fold") and not kept.lines) or (
            kept.kind == "text" and (not kept.text or _bare(kept.text) in told)
        ):
            continue
        blocks.append(kept)
    # A heading with nothing under it goes.
    filled = [
        block
        for i, block in enumerate(blocks)
        if block.kind != "heading" or any(b.kind != "heading" for b in blocks[i + 1 : i + 2])
    ]
    return replace(part, blocks=tuple(filled)) if filled else None


def _bare(text: str) -> str:
    return text.strip().rstrip(".")
