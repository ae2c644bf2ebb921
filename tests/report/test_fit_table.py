"""The table behind the fits, as the report shows it."""

from __future__ import annotations

import pytest

from terrain.report.page.advice import fit_table
from terrain.stages.advice.advise import advise_case
from terrain.tables.advice import WEIGHTS
from terrain.text.terms import SCORE_TERMS
from terrain.text.translator import translator_for
from tests.stages.advice.table import CASES
from tests.stages.advice.trips import inputs_of


def test_every_line_of_the_table_has_a_name() -> None:
    assert tuple(SCORE_TERMS) == tuple(WEIGHTS)


@pytest.mark.parametrize("case", CASES[::9], ids=lambda case: case.name)
def test_the_lines_of_a_column_make_its_fit(case: object) -> None:
    advice = advise_case(inputs_of(case))  # type: ignore[arg-type]
    blocks = fit_table(advice, translator_for("en", "metric"))
    if not advice.bikes:
        assert not blocks
        return
    (table,) = [block for block in blocks if block.kind == "table"]
    *lines, last = table.rows
    assert len(lines) == len(WEIGHTS)
    unknown = [row for row in lines if "not known" in row]
    assert all(set(row[1:]) == {"not known"} for row in unknown)
    assert len(blocks) == (3 if unknown else 2)  # and a sentence on what is not known
    for column in range(1, len(table.head)):
        told = sum(float(row[column]) for row in lines if row not in unknown)
        # Each of the seven lines is rounded.
        assert told == pytest.approx(float(last[column]), abs=0.035)
    assert float(last[2]) == round(advice.bikes[0].fit, 2)
