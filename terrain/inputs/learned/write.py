"""What was learned, as the text of its file."""

from __future__ import annotations

from pathlib import Path

from terrain.errors import LearnedError
from terrain.inputs.toml_lines import quoted
from terrain.text.message import message
from terrain.values.learned import Learned, LearnedTimes, LearnedWay, PacedWay, PaceRow, Witness
from terrain.values.trip import Three


def learned_text(learned: Learned) -> str:
    """A file that reads back as the same."""
    lines = [
        "# Learned from recorded rides; give it to a report with --learned.",
        "# Factors are times over the tables' times on paved, gravel and track.",
        'schema = "terrain-learned/1"',
    ]
    if learned.times is not None:
        lines += _times(learned.times)
        for row in learned.times.rows:
            lines += _pace(row)
    for way in learned.ways:
        lines += _way(way)
    for paced in learned.paced:
        lines += _paced(paced)
    for witness in learned.witnesses:
        lines += _witness(witness)
    return "\n".join(lines) + "\n"


def save_learned(text: str, path: Path) -> None:
    """Write the file whole or not at all, in place of one of the same name.

    Raises LearnedError if the disk refuses.
    """
    draft = path.with_name(f".{path.name}.draft")
    try:
        draft.write_text(text, encoding="utf-8")
        draft.replace(path)
    except OSError as exc:
        draft.unlink(missing_ok=True)
        raise LearnedError(
            message("the file cannot be written ({strerror})", strerror=str(exc.strerror)),
            str(path),
            message("Choose another folder."),
        ) from exc


def _times(times: LearnedTimes) -> list[str]:
    return [
        "", "[times]", f"rides = {times.n_rides}", f"length_m = {times.length_m:.1f}",
        f"first_day = {times.first_day.isoformat()}", f"last_day = {times.last_day.isoformat()}",
        f"ride_sd = {times.ride_sd:.4f}", f"ground_sd = {times.ground_sd:.4f}",
        f"stretch_sd = {times.stretch_sd:.4f}",
    ]  # fmt: skip


def _pace(row: PaceRow) -> list[str]:
    pace = row.pace
    lines = ["", "[[pace]]", f'rider = "{row.rider.value}"']
    if row.bike_class is not None:
        lines.append(f"bike_class = {quoted(row.bike_class)}")
    return [
        *lines, f"rides = {pace.n_alike}", f"factor = {_three(pace.factor)}",
        f"low = {_three(pace.low)}", f"high = {_three(pace.high)}",
        f"spread = {_three(pace.spread)}",
    ]  # fmt: skip


def _way(way: LearnedWay) -> list[str]:
    lines = ["", "[[way]]", f"way_id = {way.way_id}"]
    if way.ground is not None and way.p is not None:
        lines += [f'ground = "{way.ground.value}"', f"p = {_three(way.p)}"]
    said = ", ".join(f"{item.ground.value} = {item.n}" for item in way.said)
    return [
        *lines, f"trust = {way.trust:.4f}", f"said = {{{said}}}", f"shut = {way.shut}",
        f"witnesses = {way.witnesses}", f"against = {way.against}",
        f"last_day = {way.last_day.isoformat()}",
        f"against_map = {'true' if way.against_map else 'false'}",
    ]  # fmt: skip


def _paced(way: PacedWay) -> list[str]:
    return [
        "", "[[paced]]", f"way_id = {way.way_id}", f'ground = "{way.ground.value}"',
        f"p = {_three(way.p)}", f"trust = {way.trust:.4f}", f"rides = {way.n_rides}",
        f"last_day = {way.last_day.isoformat()}",
    ]  # fmt: skip


def _witness(witness: Witness) -> list[str]:
    return [
        "", "[[witness]]", f"who = {quoted(witness.who)}", f"errs = {witness.errs:.4f}",
        f"checks = {witness.checks}", f"statements = {witness.statements}",
        f"heard = {'true' if witness.heard else 'false'}",
    ]  # fmt: skip


def _three(values: Three) -> str:
    return "[" + ", ".join(f"{value:.4f}" for value in values) + "]"
