"""The words around the code: help, README, and what no committed file may hold."""

from __future__ import annotations

import ast
import dataclasses
import hashlib
import re
import shlex
import shutil
import subprocess
import sys
import tomllib
from collections.abc import Iterator, Mapping
from datetime import datetime
from functools import cache
from importlib.metadata import packages_distributions
from pathlib import Path
from typing import Any

import click
import pytest
from packaging.requirements import Requirement

import terrain
from terrain.cli import program
from terrain.report.formats import Asked, write_files
from terrain.text.translator import translator_for
from terrain.web.settings import WebSettings
from tests.test_architecture import _ORDER

_ROOT = Path(__file__).resolve().parents[1]
_BINARY = {".gz", ".mo", ".npz", ".pbf"}
_MOST_BYTES = 2 * 2**20

# Paths of one machine: they mean nothing on another.
_MACHINE_PATH = re.compile(
    r"(?<![\w.:/~<])/(?:home|root|Users|work|workspace|mnt|opt|srv|tmp|private|Volumes)/(?!someone\b)\w"
    r"|\b[A-Z]:\\Users\\"
)
# Numbers of a tracker mean nothing to who reads the files alone. Another project's are its own.
_ISSUE_NUMBER = re.compile(r"(?<!CPython )\b(?:issues?|tickets?) #?\d+\b|\bGH-\d+\b", re.I)


def _commands(
    command: click.Command, names: tuple[str, ...] = ()
) -> Iterator[tuple[tuple[str, ...], click.Command]]:
    yield names, command
    if isinstance(command, click.Group):
        ctx = click.Context(command)
        for name in command.list_commands(ctx):
            inner = command.get_command(ctx, name)
            assert inner is not None
            yield from _commands(inner, (*names, name))


_COMMANDS = dict(_commands(program))


@pytest.fixture(params=_COMMANDS, ids=lambda names: " ".join(names) or "terrain")
def names(request: pytest.FixtureRequest) -> tuple[str, ...]:
    found: tuple[str, ...] = request.param
    return found


def test_the_contract_s_commands_are_there() -> None:
    wanted = ["report", "batch", "demo", "serve", "region build", "region list", "region show",
              "region remove", "region fetch", "fleet check"]  # fmt: skip
    assert {tuple(name.split()) for name in wanted} <= set(_COMMANDS)


def test_command_has_help(names: tuple[str, ...]) -> None:
    command = _COMMANDS[names]
    assert command.help
    assert command.help.strip().split("\n")[0].endswith((".", "?"))
    for parameter in command.params:
        if isinstance(parameter, click.Option):
            assert parameter.help, f"{parameter.name} has no help"


def test_command_has_a_worked_example_that_parses(names: tuple[str, ...]) -> None:
    command = _COMMANDS[names]
    examples = _examples(command.epilog or "")
    if not examples and isinstance(command, click.Group) and names:
        pytest.skip("a group only lists its commands")
    assert examples
    for example in examples:
        # What the shell does with the output is not ours to check.
        words = shlex.split(example.split(" > ")[0].split(" | ")[0])
        assert words[: 1 + len(names)] == ["terrain", *names]
        _parse(words[1:])


def test_command_has_a_place_in_readme(names: tuple[str, ...]) -> None:
    readme = _text(_ROOT / "README.md")
    command = _COMMANDS[names]
    if isinstance(command, click.Group):
        return
    # A row may list a group's commands: `terrain region build`, `list`, `show`.
    rows = [line for line in readme.split("\n") if f"`terrain {names[0]}" in line]
    group = [row for row in rows if re.search(rf"[ `]{re.escape(names[-1])}\b", row)]
    assert group, f"README does not say what 'terrain {' '.join(names)}' does"


def test_set_up_commands_are_the_same_everywhere() -> None:
    pattern = re.compile(r"^python3 -m venv .*$", re.M)
    try_it, run_tests = pattern.findall(_text(_ROOT / "README.md"))
    assert try_it.endswith("terrain demo")
    assert run_tests.endswith("-m pytest")
    assert pattern.findall(_text(_ROOT / ".ci" / "run")) == [run_tests]
    assert pattern.findall(_text(_ROOT / "DEVELOPERS.md")) == [run_tests]


def test_readme_names_what_is_there() -> None:
    readme = _text(_ROOT / "README.md")
    for path in re.findall(r"`([\w./-]+/[\w./-]*|[A-Z]+(?:\.md)?)`", readme):
        if "/" in path or path.endswith(".md") or path == "LICENSE":
            assert (_ROOT / path).exists(), path


def test_developers_names_what_is_there_in_the_order_it_has() -> None:
    guide = _text(_ROOT / "DEVELOPERS.md")
    held = [str(path.relative_to(_ROOT)) for path in _ROOT.glob("t*/**/*.py")]
    for name in re.findall(r"`([\w/]+\.py)`", guide):
        assert any(f"/{path}".endswith(f"/{name}") for path in held), name
    benches = set(re.findall(r"-m (tests\.bench\.\w+)", guide))
    assert len(benches) > 20
    for bench in benches:
        assert f"{bench.replace('.', '/')}.py" in held, bench
    stages = re.search(r"riding order .*?`([a-z\s]+)`, and last .*?`(\w+)`", guide, re.S)
    assert stages is not None
    assert (*stages[1].split(), stages[2]) == _ORDER


def test_readme_names_every_setting_of_the_desk() -> None:
    named = set(re.findall(r"`([a-z_]+)`", _text(_ROOT / "README.md")))
    settings = {field.name for field in dataclasses.fields(WebSettings)} - {"home"}
    assert settings <= named, settings - named


def test_the_python_column_of_readme_runs(island_home: Path, tmp_path: Path) -> None:
    """Each row of what goes in and comes out, from Python as written."""
    table = _text(_ROOT / "README.md").partition("| | command line | Python | desk |")[2]
    rows = [line for line in table.split("\n\n")[0].split("\n")[2:] if line]
    known: dict[str, Any] = {
        "terrain": terrain, "Asked": Asked, "write_files": write_files,
        "translator_for": translator_for, "folder": tmp_path,
        "path": island_home / "demo" / "routes" / "coast-road.gpx",
        "region": terrain.open_region("island", island_home),
        "url": "http://127.0.0.1:9/nobody-listens",
        "trip": terrain.Trip(depart=datetime(2027, 3, 14, 8)),
    }  # fmt: skip
    known["route"] = terrain.read_route(known["path"])
    known["report"] = terrain.assess(known["route"], known["region"], known["trip"])
    assert len(rows) >= 7
    for row in rows:
        cell = re.split(r"(?<!\\)\|", row)[3]
        calls = re.findall(r"`([^`]+)`", cell)
        assert calls, row
        for call in calls:
            assert eval(call, dict(known)) is not None, call
    written = {path.suffix for path in tmp_path.iterdir()}
    assert {".html", ".pdf", ".eml", ".gpx", ".kml", ".ics"} <= written


def test_no_machine_path_and_no_issue_number() -> None:
    for path in _tracked_text():
        for number, line in enumerate(_text(path).split("\n"), start=1):
            for pattern in (_MACHINE_PATH, _ISSUE_NUMBER):
                assert not pattern.search(line), f"{path}:{number}: {line.strip()[:120]}"


def test_what_the_patterns_find() -> None:
    for top in ("home/ann", "tmp", "work"):
        assert _MACHINE_PATH.search(f'see "/{top}/plan.gpx"')
    assert not _MACHINE_PATH.search("https://example.org/home/x and ../home/x and a/home/b")
    for word in ("Issue", "ticket #", "issue #"):
        assert _ISSUE_NUMBER.search(f"as in {word} 12".replace("# ", "#"))
    assert not _ISSUE_NUMBER.search("#0072B2, CPython issue 148801, an issue of 12 m")


def test_text_files_are_utf_8_with_plain_line_ends() -> None:
    for path in _tracked_text():
        text = path.read_bytes().decode("utf-8")  # raises where it is not
        assert "\r" not in text, path
        assert not text.startswith("\ufeff"), path
        assert text == "" or text.endswith("\n"), path


def test_no_file_is_large_or_kept_twice() -> None:
    seen: dict[str, Path] = {}
    for path in _tracked():
        data = path.read_bytes()
        assert len(data) <= _MOST_BYTES, path
        # The sample routes lie open for readers, and are held equal to the shipped ones.
        if len(data) > 500 and path.parent.name != "sample_routes":
            digest = hashlib.sha256(data).hexdigest()
            assert digest not in seen, f"{path} is {seen.get(digest)} again"
            seen[digest] = path


def test_extras_cover_what_tests_import() -> None:
    project = _project()
    named = [*project["dependencies"], *project["optional-dependencies"]["test"]]
    missing = _undeclared(_ROOT / "tests", named)
    assert missing == {}, "name these in pyproject's extra 'test'"


def test_dependencies_cover_what_the_package_imports() -> None:
    project = _project()
    extras = {
        key: value for key, value in project["optional-dependencies"].items() if key != "test"
    }
    named = [*project["dependencies"], *(line for lines in extras.values() for line in lines)]
    missing = _undeclared(_ROOT / "terrain", named)
    assert missing == {}, "name these in pyproject"


def _examples(epilog: str) -> list[str]:
    """Command lines under "Example:", continued lines joined."""
    text = epilog.replace("\\\n", " ")
    return [line.strip() for line in text.split("\n") if line.strip().startswith("terrain ")]


def _parse(words: list[str]) -> None:
    """Every name and value of the words is understood; nothing is run."""
    command: click.Command = program
    while isinstance(command, click.Group) and not words[0].startswith("-"):
        inner = command.get_command(click.Context(command), words[0])
        assert inner is not None, words[0]
        command, words = inner, words[1:]
    # Files of the example need not be there to see whether it is understood.
    for parameter in command.params:
        if isinstance(parameter.type, click.Path):
            parameter.type.exists, found = False, parameter.type.exists
            assert found in (True, False)
    command.make_context("example", words)


@cache
def _tracked() -> list[Path]:
    if shutil.which("git") is None or not (_ROOT / ".git").exists():
        pytest.skip("not a git checkout: what is committed cannot be told")
    listed = subprocess.run(
        ["git", "ls-files", "-z"], cwd=_ROOT, capture_output=True, check=True
    ).stdout.decode()
    paths = [_ROOT / name for name in listed.split("\0") if name]
    return [path for path in paths if path.is_file()]


def _tracked_text() -> list[Path]:
    return [path for path in _tracked() if path.suffix not in _BINARY]


@cache
def _text(path: Path) -> str:
    return path.read_text(encoding="utf-8")


def _project() -> dict[str, Any]:
    told = tomllib.loads(_text(_ROOT / "pyproject.toml"))["project"]
    assert isinstance(told, dict)
    return told


def _undeclared(folder: Path, named: list[str]) -> dict[str, str]:
    """Modules of other projects that no named requirement brings, and who imports them."""
    declared = {_plain(Requirement(line).name) for line in named}
    brings = _brings()
    missing = {}
    for path in sorted(folder.rglob("*.py")):
        for module in _imported(path):
            if module in sys.stdlib_module_names or module in ("terrain", "tests"):
                continue
            if not declared & {_plain(name) for name in brings.get(module, [module])}:
                missing[module] = str(path.relative_to(_ROOT))
    return missing


@cache
def _brings() -> Mapping[str, list[str]]:
    return packages_distributions()


def _plain(name: str) -> str:
    """A project's name as registries compare it (PEP 503)."""
    return re.sub(r"[-_.]+", "-", name).lower()


def _imported(path: Path) -> set[str]:
    tops = set()
    for node in ast.walk(ast.parse(_text(path))):
        if isinstance(node, ast.Import):
            tops |= {alias.name.split(".")[0] for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module and not node.level:
            tops.add(node.module.split(".")[0])
        elif isinstance(node, ast.Call) and _is_importorskip(node.func):
            named = [a.value for a in node.args[:1] if isinstance(a, ast.Constant)]
            tops |= {str(name).split(".")[0] for name in named}
    return tops


def _is_importorskip(func: ast.expr) -> bool:
    name = func.attr if isinstance(func, ast.Attribute) else getattr(func, "id", "")
    return name in ("importorskip", "import_module")
