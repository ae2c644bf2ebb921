"""The page in a real browser: no message on the console, no request, no script of a name, and
no serious finding of axe-core (WCAG 2.1 A and AA rules)."""

from __future__ import annotations

import json
import re
import shutil
import subprocess
from html import unescape
from importlib.util import find_spec
from pathlib import Path

import pytest

from terrain.report.html import render_html
from terrain.report.words import Words, words_for
from tests.report.hostile import NAMES
from tests.report.sample import SampleReport, facts

_CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
pytestmark = pytest.mark.skipif(_CHROMIUM is None, reason="no Chromium on this machine")


def _run(page: Path, *options: str) -> subprocess.CompletedProcess[str]:
    command = [
        str(_CHROMIUM), "--headless", "--no-sandbox", "--disable-gpu", "--enable-logging=stderr",
        "--log-level=0", "--disable-background-networking", "--virtual-time-budget=20000",
        f"--user-data-dir={page.parent / 'profile'}", *options, page.as_uri(),
    ]  # fmt: skip
    return subprocess.run(command, capture_output=True, text=True, timeout=120, check=True)


def _write(folder: Path, page: str) -> Path:
    path = folder / "page.html"
    path.write_text(page, encoding="utf-8")
    return path


def _console(done: subprocess.CompletedProcess[str]) -> list[str]:
    return [line for line in done.stderr.splitlines() if ":CONSOLE" in line]


def test_page_is_quiet_and_asks_for_nothing(tmp_path: Path) -> None:
    page = render_html(SampleReport(), Words())  # type: ignore[arg-type]
    log = tmp_path / "net.json"
    done = _run(_write(tmp_path, page), "--dump-dom", f"--log-net-log={log}")
    assert _console(done) == []
    assert "<h1>" in done.stdout
    asked = set(re.findall(r'"url":"(https?://[^"]+)"', log.read_text(encoding="utf-8")))
    # The browser's own housekeeping aside, nothing is asked for.
    assert {url for url in asked if not re.search(r"google|gstatic|chrome", url)} == set()


def test_no_name_runs_as_script(tmp_path: Path) -> None:
    told = facts()
    every = " ".join(NAMES)
    told["route"]["name"] = every
    for place, name in zip(told["places"], NAMES, strict=False):
        place["name"] = name
    for stretch, name in zip(told["stretches"], NAMES * 9, strict=False):
        stretch["name"] = name
    page = render_html(SampleReport(told), Words())  # type: ignore[arg-type]
    done = _run(_write(tmp_path, page), "--dump-dom")
    assert _console(done) == []
    title = re.search(r"<title>(.*?)</title>", done.stdout, re.S)
    assert title is not None
    assert unescape(title[1]).startswith("<script>document.title='owned'")
    assert "<iframe" not in done.stdout


_AXE_RUN = """
axe.run(document, {runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "best-practice"]})
  .then(function (found) {
    var kept = found.violations.map(function (v) {
      var nodes = v.nodes.slice(0, 3).map(function (n) { return n.html; });
      return {id: v.id, impact: v.impact, nodes: nodes};
    });
    var out = document.createElement("pre");
    out.id = "axe-found";
    out.textContent = JSON.stringify(kept);
    document.body.appendChild(out);
  });
"""


@pytest.mark.parametrize("lang", ["en"])
@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [360, 1200])
def test_axe_finds_nothing_serious(lang: str, scheme: str, width: int, tmp_path: Path) -> None:
    spec = find_spec("axe_core_python")
    if spec is None or spec.origin is None:
        pytest.skip("axe-core is not installed (pip install axe-core-python)")
    axe = (Path(spec.origin).parent / "axe.min.js").read_text(encoding="utf-8")
    page = render_html(SampleReport(), words_for(lang))  # type: ignore[arg-type]
    if scheme == "dark":
        page = page.replace("(prefers-color-scheme: dark)", "all")
    page = page.replace("</body>", f"<script>{axe}</script><script>{_AXE_RUN}</script></body>")
    done = _run(_write(tmp_path, page), "--dump-dom", f"--window-size={width},900")
    told = re.search(r'<pre id="axe-found">(.*?)</pre>', done.stdout, re.S)
    assert told is not None, "axe did not finish"
    found = json.loads(unescape(told[1]))
    assert [v for v in found if v["impact"] in ("serious", "critical")] == []
