"""The reports on the sample routes change only where a commit says why."""

from __future__ import annotations

import json
from pathlib import Path

from tests.samples import FIGURES, figures_of


def test_the_samples_say_what_they_said(island_home: Path) -> None:
    """After a change that is meant to change them: `python -m tests.samples`, and look."""
    kept = json.loads(FIGURES.read_text(encoding="utf-8"))
    now = json.loads(json.dumps(figures_of(island_home)))
    assert now.keys() == kept.keys()
    for route, rows in now.items():
        changed = {key for key in rows.keys() | kept[route].keys()
                   if rows.get(key) != kept[route].get(key)}  # fmt: skip
        assert not changed, (route, sorted(changed)[:20])
