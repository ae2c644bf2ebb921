"""The summary on a terminal: about twenty lines, readable without colour."""

from __future__ import annotations

import textwrap
from dataclasses import dataclass

from terrain.report.detours import told_detours
from terrain.report.page.lead import share_rows
from terrain.report.said import dangers_unsaid, finding_fact, finding_line, more_unsaid
from terrain.text.plain import plain_line
from terrain.text.terms import GROUND_TERMS
from terrain.text.translator import Translator
from terrain.values.ground import GroundKind
from terrain.values.report import Report
from terrain.values.verdict import Audience, Finding

# One sign a ground; the denser the sign, the harder the ground, as in every drawing.
_SIGNS: dict[GroundKind, str] = {
    GroundKind.PAVED: "░", GroundKind.GRAVEL: "▒", GroundKind.TRACK: "█", GroundKind.FERRY: "~",
    GroundKind.UNMAPPED: "·",
}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Style:
    """Width in columns, and whether the terminal shows colours."""

    width: int = 80
    colour: bool = False

    def bold(self, text: str) -> str:
        return f"\x1b[1m{text}\x1b[0m" if self.colour else text

    def faint(self, text: str) -> str:
        return f"\x1b[2m{text}\x1b[0m" if self.colour else text


def render_summary(
    report: Report, translator: Translator, style: Style, audience: Audience = Audience.STAFF
) -> str:
    """The whole summary, without a final line break; as much as twenty lines hold.

    All that forbids is told, however long it gets; of the rest what fits.
    """
    tries = [
        _summary(report, translator, style, audience, do=do, most=most, gaps=gaps)
        for do, most, gaps in _SHORTER
    ]
    tries.append([tries[-1][0], *tries[-1][2:]])
    lines = next((lines for lines in tries if len(lines) <= _MOST_LINES), tries[-1])
    # No-break spaces have done their work once the lines are set.
    return "\n".join(lines).replace("\u00a0", " ").replace("\u202f", " ")


_MOST_LINES = 20
# Whether to say what to do, how many findings to name beside those that forbid, and how many gaps:
# the fullest that fits is shown.
_SHORTER = (
    (True, 3, 4), (True, 3, 2), (True, 3, 1), (False, 3, 2), (False, 3, 1), (False, 2, 1),
    (False, 1, 1),
)  # fmt: skip


def _summary(
    report: Report, translator: Translator, style: Style, audience: Audience,
    *, do: bool, most: int, gaps: int,
) -> list[str]:  # fmt: skip
    verdict = report.verdict
    headline, lead = translator.translate(verdict.headline), translator.translate(verdict.lead)
    lines = [style.faint(_title(report, translator, style.width)), ""]
    lines += [style.bold(line) for line in _wrap(plain_line(f"{headline} {lead}"), style.width)]
    lines += ["", *_shares(report, translator, style), ""]
    shown = verdict.first(most)
    lines += _know(verdict.findings, shown, translator, style, audience, do=do)
    title, ways = told_detours(report, translator, most=1)
    for way in ways if most > 1 else ():
        told = f"{title} {translator.translate(way.words)}"
        lines += _wrap(plain_line(told), style.width, bullet="- ")
    lines += _unknown(report, shown, translator, style, most=gaps)
    return [*lines, "", *_sketch(report, translator, style.width)]


def _title(report: Report, translator: Translator, width: int) -> str:
    region = report.assessed.region
    name = _short(plain_line(region.name), 24)
    tail = f"  {translator.distance(report.assessed.match.length_m)}, {name}"
    if region.map_date:
        tail += translator._(" map of {date}", date=region.map_date)
    return _short(plain_line(report.assessed.route.name), width - len(tail)) + tail


def _short(text: str, most: int) -> str:
    return text if len(text) <= most else text[: most - 1] + "…"


def _shares(report: Report, translator: Translator, style: Style) -> list[str]:
    rows, rests = share_rows(report, translator)
    parts = [f"{row.name} {row.text}" for row in rows]
    lines = _wrap("   ".join(parts), style.width) if parts else []
    return [*lines, *_wrap(rests, style.width)]


def _know(
    found: tuple[Finding, ...], shown: tuple[Finding, ...], translator: Translator, style: Style,
    audience: Audience, *, do: bool,
) -> list[str]:  # fmt: skip
    if not shown:
        return []
    lines = [style.bold(translator._("To know"))]
    for item in shown:
        fact = f"{finding_fact(item, translator)}."
        text = finding_line(item, translator, audience) if do else fact
        lines += _wrap(plain_line(text), style.width, bullet="- ")
    more = dangers_unsaid(found, shown, translator) or more_unsaid(
        len(found) - len(shown), translator
    )
    return lines + (_wrap(plain_line(more), style.width, bullet="- ") if more else [])


def _unknown(
    report: Report, shown: tuple[Finding, ...], translator: Translator, style: Style, *, most: int
) -> list[str]:
    said = {translator.translate(item.what) for item in shown}
    gaps = [gap for gap in report.verdict.unknown if translator.translate(gap.why) not in said]
    if not gaps:
        return []
    lines = [style.bold(translator._("Not known"))]
    for gap in gaps[:most]:
        lines += _wrap(plain_line(translator.translate(gap.why)), style.width, bullet="- ")
    if len(gaps) > most:
        lines += _wrap(translator._("and more in the report."), style.width, bullet="- ")
    return lines


def _sketch(report: Report, translator: Translator, width: int) -> list[str]:
    """The ground lane in one row of signs, with its scale and key."""
    stretches = report.assessed.ground.stretches
    if not stretches:
        return []
    length_m = stretches[-1].to_m
    step_m = length_m / width
    row, k = [], 0
    for column in range(width):
        middle_m = (column + 0.5) * step_m
        while k + 1 < len(stretches) and stretches[k].to_m <= middle_m:
            k += 1
        row.append(_SIGNS[stretches[k].ground])
    used = [kind for kind in _SIGNS if _SIGNS[kind] in row]
    key = "  ".join(f"{_SIGNS[kind]} {translator._(GROUND_TERMS[kind])}" for kind in used)
    end = translator.distance(length_m)
    scale = f"0{' ' * (width - 1 - len(end))}{end}"
    return ["".join(row), scale, key]


def _wrap(text: str, width: int, bullet: str = "") -> list[str]:
    """Lines of a text; numbers stay with their units (textwrap breaks at any white space)."""
    held = text.replace("\u00a0", "\ue000").replace("\u202f", "\ue001")
    lines = textwrap.wrap(
        held,
        width,
        initial_indent=bullet,
        subsequent_indent=" " * len(bullet),
        break_on_hyphens=False,
    )
    return [line.replace("\ue000", " ").replace("\ue001", " ") for line in lines]
