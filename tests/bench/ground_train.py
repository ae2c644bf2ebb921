"""Fit the coefficients of the ground model on all extracts and write their table.

Run by hand: python -m tests.bench.ground_train
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np
import scipy.sparse as sparse
from scipy.special import logit

from terrain.stages.ways.columns import column_names, columns
from terrain.stages.ways.model import fit_logit, group_matrix
from terrain.stages.ways.tags import CLASS_BY_VALUE
from terrain.tables.ground_model import MODEL, GroundModel, Question
from terrain.values.arrays import FloatArray
from tests.bench.ground_maps import Mapped, extracts, read_map

TRAINED_ON = (
    "andorra-2023", "liechtenstein-2021", "malta-2018", "faroe-2017", "porto-2020",
    "sao-paulo-2020", "monaco-2021", "helsinki", "campo-grande-2013", "swellendam",
)  # fmt: skip
_TARGET = Path(__file__).resolve().parents[2] / "terrain" / "tables" / "ground_coefficients.py"


def leeway_of(name: str) -> float:
    """How far (variance) a column may differ between regions that share nothing."""
    if name.endswith(", main"):
        return 0.1 if not name.startswith("old edit") else 0.05
    if name.endswith((", minor", ", track")):
        return 0.5 if not name.startswith("old edit") else 0.25
    for start, value in (
        ("class", 2.25), ("link", 0.3), ("tracktype", 4.0), ("graded", 1.0), ("smooth", 1.0),
        ("1 lane", 1.0), ("2 lanes", 1.0), ("under 3", 1.0), ("3 to 5", 1.0), ("5 m", 1.0),
        ("to ", 1.0), ("over 50", 1.0), ("access", 1.0),
    ):  # fmt: skip
        if name.startswith(start):
            return value
    return 0.5


def _carried_leeway(name: str) -> float:
    """How far a column may move, over all regions, from what its definition leads to expect.

    Few roads have an access tag, nearly all of them in one or two of the extracts, and what it
    says of the ground depends on who may ride: what is carried stays near what the tag means, and
    each region learns its own.
    """
    return 0.1 if name.startswith("access ") else leeway_of(name)


#: What the definitions in the OSM wiki lead to expect, as (unsealed, unbuilt) on the logit scale;
#: the sizes are common practice, no source. They matter where the extracts hold few examples.
_DEFINED = {
    "tracktype grade1": (-2.0, -1.0),
    "tracktype grade2": (1.0, -1.0),
    "tracktype grade3": (2.0, 0.0),
    "tracktype grade4": (2.0, 1.0),
    "tracktype grade5": (2.0, 1.5),
    "smoothness excellent": (-2.0, -0.5),
    "smoothness good": (-1.0, -0.5),
    "smoothness bad": (0.5, 0.0),
    "smoothness very_bad": (1.0, 1.0),
    "smoothness horrible": (1.0, 1.5),
    "smoothness very_horrible": (1.0, 2.0),
    "four wd only": (2.5, 2.0),
    "mtb:scale": (0.5, 0.5),
    "ford": (0.5, 0.3),
    "access farm or forest only": (1.5, -0.3),
    "access customers or delivery": (-0.5, -0.3),
    "access closed but to buses": (-1.5, -0.5),
}


def _expected(names: Sequence[str], *, unsealed: bool) -> FloatArray:
    out = np.zeros(len(names))
    for i, name in enumerate(names):
        if name.startswith("class "):
            p = CLASS_BY_VALUE[name.removeprefix("class ")].expect
            out[i] = logit(1 - p[0]) if unsealed else logit(p[2] / (p[1] + p[2]))
        elif name in _DEFINED:
            out[i] = _DEFINED[name][0 if unsealed else 1]
    return out


def fit_coefficients(
    maps: Sequence[Mapped], model: GroundModel = MODEL
) -> tuple[FloatArray, FloatArray]:
    """Coefficients of both questions over several regions, each with groups of its own."""
    return (
        _fit(maps, model.unsealed, model, unsealed=True),
        _fit(maps, model.unbuilt, model, unsealed=False),
    )


def _fit(
    maps: Sequence[Mapped], question: Question, model: GroundModel, *, unsealed: bool
) -> FloatArray:
    names = column_names()
    tables, groups, spreads, outcomes, weights = [], [], [], [], []
    for one in maps:
        told = one.labels.sealed if unsealed else one.labels.built
        rows = np.flatnonzero(~np.isnan(told) & one.facts.shape.road)
        if not len(rows):
            continue
        own, _, spread = group_matrix(one.facts, rows, question)
        tables += [columns(one.facts, rows, graded=g) for g in (True, False)]
        groups.append(sparse.vstack([own, own]))
        spreads.append(spread)
        outcomes += [1 - told[rows]] * 2
        weights.append(np.full(2 * len(rows), 0.5))
    design = sparse.hstack(
        [sparse.csr_matrix(np.vstack(tables)), sparse.block_diag(groups)], format="csr"
    )
    spread = np.concatenate(spreads)
    coef = fit_logit(
        design,
        np.concatenate(outcomes),
        weight=np.concatenate(weights),
        expected=np.concatenate([_expected(names, unsealed=unsealed), np.zeros(len(spread))]),
        leeway=np.concatenate([[_carried_leeway(n) for n in names], spread]),
    )
    return coef[: len(names)]


def main() -> None:
    found = extracts()
    maps = [read_map(found[name], name) for name in TRAINED_ON]
    unsealed, unbuilt = fit_coefficients(maps)
    head = _TARGET.read_text(encoding="utf-8").split("COEFFICIENTS:")[0]
    rows = [
        f'    Coefficient("{name}", {leeway_of(name)}, {a:.3f}, {b:.3f}),'
        for name, a, b in zip(column_names(), unsealed, unbuilt, strict=True)
    ]
    text = "COEFFICIENTS: tuple[Coefficient, ...] = (\n" + "\n".join(rows) + "\n)\n"
    _TARGET.write_text(head + text, encoding="utf-8")
    print(f"{_TARGET.name}: {len(rows)} columns from {sum(len(m.roads.ways) for m in maps)} ways")


if __name__ == "__main__":
    main()
