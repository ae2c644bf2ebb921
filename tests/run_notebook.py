"""Run the cells of notebooks in one process, as a kernel would, and keep their figures.

python -m tests.run_notebook FOLDER NOTEBOOK... : each is run from its own folder. Each figure is
drawn to FOLDER as PNG; stdout gets a JSON line a notebook: the printed text and each figure's axes.
"""

from __future__ import annotations

import contextlib
import io
import json
import os
import sys
from pathlib import Path
from typing import Any


def run(notebook: Path, folder: Path) -> dict[str, Any]:
    """What the notebook printed and drew. Raises what a cell raises."""
    import matplotlib

    matplotlib.use("Agg")
    import matplotlib.pyplot as plt

    cells = json.loads(notebook.read_text(encoding="utf-8"))["cells"]
    os.chdir(notebook.parent)
    space: dict[str, Any] = {"__name__": "__main__"}
    printed = io.StringIO()
    figures: list[dict[str, Any]] = []
    for n, cell in enumerate(cells):
        if cell["cell_type"] != "code":
            continue
        code = compile("".join(cell["source"]), f"{notebook.name}, cell {n}", "exec")
        with contextlib.redirect_stdout(printed):
            exec(code, space)
        # A notebook shows and forgets the figures of a cell when the cell ends.
        for number in plt.get_fignums():
            figure = plt.figure(number)
            path = folder / f"{notebook.stem}-{len(figures) + 1:02d}.png"
            figure.savefig(path, dpi=80)
            axes = [_axes(ax) for ax in figure.axes]
            figures.append({"file": str(path), "cell": n, "axes": axes})
        plt.close("all")
    return {"printed": printed.getvalue(), "figures": figures}


def _axes(ax: Any) -> dict[str, Any]:
    return {
        "title": ax.get_title(loc="left") or ax.get_title(),
        "x": ax.get_xlabel(),
        "y": ax.get_ylabel(),
        "x_ticks": [tick.get_text() for tick in ax.get_xticklabels()],
        "y_ticks": [tick.get_text() for tick in ax.get_yticklabels()],
        "drawn": len(ax.lines) + len(ax.patches) + len(ax.collections) + len(ax.images),
    }


if __name__ == "__main__":
    to, *books = (Path(word).resolve() for word in sys.argv[1:])
    for book in books:
        print(json.dumps(run(book, to)))
