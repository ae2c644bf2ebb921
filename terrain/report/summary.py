"""One table over many reports: a row a route, a failed one with its error."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from markupsafe import Markup

from terrain.report.diagram.lanes import draw_ground
from terrain.report.drawing.scale import DiagramRow
from terrain.report.said import finding_fact
from terrain.text.figures import whole_percents
from terrain.text.plain import csv_table, plain_line
from terrain.text.translator import Translator
from terrain.values.ground import LAND_GROUNDS, Basis, GroundKind, Share
from terrain.values.report import Report
from terrain.values.verdict import FindingKind, Rank, Verdict

WIDE, HIGH = 240.0, 28.0  # of a ground's picture [px]
_Cell = str | float | None
_FIRM = (Basis.TAGGED, Basis.GRADED, Basis.NOTED)
_COLUMNS = (
    "file", "error", "route", "length_km", "paved", "paved_low", "paved_high", "gravel", "track",
    "track_low", "track_high", "known_share", "unmapped_km", "riding_h", "setup", "p_off_road",
    "bike", "verdict", "forbidden",
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class SummaryRow:
    """What one table keeps of a report, so that many need not be held at once.

    file : as shown; error : why there is no report, else ""
    cells : (column, value) for the spreadsheet; length, shares, answer : as told in a terminal
    page : file of the ride's own page, "" if none was asked for; route : the ride's name
    forbidden : all that forbids the ride; mismatch : why another bike than the one asked for, ""
        if it suits or is forbidden; know : the gravest of the rest; ground : its picture
    length_m, riding_s, off_tarmac : what the table can be sorted by; off_tarmac a share 0..1
    """

    file: str
    error: str
    cells: tuple[tuple[str, _Cell], ...] = ()
    length: str = ""
    shares: tuple[str, ...] = ()
    answer: str = ""
    page: str = ""
    route: str = ""
    forbidden: tuple[str, ...] = ()
    mismatch: str = ""
    know: str = ""
    ground: Markup | None = None
    length_m: float = 0.0
    riding_s: float = 0.0
    off_tarmac: float = 0.0

    @property
    def harm(self) -> int:
        """What forbids, then the wrong bike, then what could not be judged, then the rest."""
        if self.forbidden:
            return 0
        return 1 if self.mismatch else 2 if self.error else 3


def summary_row(file: str, report: Report, translator: Translator, *, page: str = "") -> SummaryRow:
    """The row of a report. page : file name of the ride's own page, if there is one"""
    assessed, verdict = report.assessed, report.verdict
    rest = verdict.of(Rank.DANGER, Rank.CARE, Rank.NOTE)
    paved = [share.best for kind, share in _by_ground(report) if kind == GroundKind.PAVED]
    return SummaryRow(
        page=page,
        route=assessed.route.name,
        forbidden=tuple(f"{finding_fact(item, translator)}." for item in verdict.forbidden),
        mismatch=_mismatch(verdict, translator),
        know=f"{finding_fact(rest[0], translator)}." if rest else "",
        ground=_ground(report),
        length_m=assessed.match.length_m,
        riding_s=assessed.ride.speeds.total_s,
        off_tarmac=1.0 - sum(paved) if paved else 1.0,
        file=file,
        error="",
        cells=tuple(_cells(report, translator).items()),
        length=translator.distance_number(report.assessed.match.length_m),
        shares=_shares(report, translator),
        answer=plain_line(translator.translate(report.verdict.headline)),
    )


def _mismatch(verdict: Verdict, translator: Translator) -> str:
    if verdict.booked is None or verdict.booked.fits:
        return ""
    if any(item.kind is FindingKind.WANTED_BIKE for item in verdict.forbidden):
        return ""
    return translator.translate(verdict.booked.why)


def _ground(report: Report) -> Markup:
    """The diagram's lane of ground in little."""
    match = report.assessed.match
    row = DiagramRow(from_m=0.0, to_m=match.length_m, px_per_m=WIDE / max(match.length_m, 1.0))
    return draw_ground(row, report.assessed.ground.stretches, HIGH)


def summary_csv(rows: Sequence[SummaryRow]) -> bytes:
    """The table for a spreadsheet; empty cells are not known."""
    told = [{"file": row.file, "error": row.error, **dict(row.cells)} for row in rows]
    cells = [[row.get(key) for key in _COLUMNS] for row in told]
    return csv_table([_COLUMNS, *cells]).encode("utf-8-sig")


def _cells(report: Report, translator: Translator) -> dict[str, _Cell]:
    ride, verdict = report.assessed, report.verdict
    ground, setup = ride.ground, ride.advice.setup
    sentence = f"{translator.translate(verdict.headline)} {translator.translate(verdict.lead)}"
    cells: dict[str, _Cell] = {
        "route": ride.route.name,
        "length_km": round(ride.match.length_m / 1000, 1),
        "known_share": round(sum(ground.basis_shares.get(basis, 0.0) for basis in _FIRM), 3),
        "unmapped_km": round(ride.match.unmapped_m / 1000, 1),
        "riding_h": round(ride.ride.speeds.total_s / 3600, 2),
        "setup": setup.choice.value,
        "p_off_road": None if setup.p_off_road is None else round(setup.p_off_road, 4),
        "bike": verdict.bike,
        "verdict": sentence.strip(),
        "forbidden": " ".join(f"{finding_fact(x, translator)}." for x in verdict.forbidden),
    }
    for kind, share in _by_ground(report):
        cells |= {kind: round(share.best, 4), f"{kind}_low": round(share.low, 4)}
        cells[f"{kind}_high"] = round(share.high, 4)
    return cells


def _by_ground(report: Report) -> list[tuple[str, Share]]:
    shares = report.assessed.ground.shares
    return [] if shares is None else [(kind.value, shares[kind]) for kind in LAND_GROUNDS]


def summary_lines(rows: Sequence[SummaryRow], translator: Translator, width: int) -> list[str]:
    """The table for a terminal, by harm: file, length, shares, answer or error."""
    name_width = max([12, *(len(plain_line(row.file)) for row in rows)])
    name_width = min(name_width, max(12, width - 48))
    head = (
        f"{translator._('route'):<{name_width}} {translator.distance_unit:>6} "
        f"{translator._('paved'):>7} "
        f"{translator._('gravel'):>7} {translator._('track'):>7}  {translator._('answer')}"
    )
    lines = [head]
    for row in sorted(rows, key=lambda row: row.harm):
        name = plain_line(row.file)
        name = name if len(name) <= name_width else "…" + name[-(name_width - 1) :]
        if row.error:
            lines.append(f"{name:<{name_width}} {plain_line(row.error)}")
            continue
        figures = " ".join(f"{text:>7}" for text in row.shares)
        lines.append(f"{name:<{name_width}} {row.length:>6} {figures}  {row.answer}")
    return lines


def _shares(report: Report, translator: Translator) -> tuple[str, ...]:
    known = [share.best for _, share in _by_ground(report)]
    if not known:
        return ("?",) * len(LAND_GROUNDS)
    return tuple(f"{translator.number(whole)} %" for whole in whole_percents(known))
