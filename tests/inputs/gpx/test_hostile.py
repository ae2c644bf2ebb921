"""Documents made to hurt: refused quickly, in little memory, with one message.

The list follows OWASP ASVS 5.0, 1.5.1 (entities), 5.2.2, 5.2.3 (packed files) and 5.3.2, 5.3.3
(names in archives).
"""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from .hostile import ATTACKS

WORDS = {
    "billion_laughs": "DOCTYPE",
    "quadratic_blowup": "DOCTYPE",
    "external_entity": "DOCTYPE",
    "deep": "nested more than 64 deep",
    "gzip_of_deep": "nested more than 64 deep",
    "long_name": "longer than 1,000,000 characters",
    "long_attribute": "longer than 1,000,000 characters",
    "many_attributes": "longer than 1,000,000 characters",
    "long_comment": "ends in the middle",
    "many_parts": "more than 10,000 tracks and segments",
    "many_points": "more than 1,000,000 points",
    "gzip_bomb": "unpacks to over 250 times its size",
    "zip_bomb": "times its size",
    "lying_zip_bomb": "damaged",
    "crowded_zip": "more than 1000 entries",
    "zip_path": "no points",
}
# What an attack would cost if it worked is minutes or gigabytes; the processor time that each may
# take is limited where it is read, and is no measure of speed.
MEGABYTES = dict.fromkeys(WORDS, 100.0)


def test_every_attack_has_an_expected_answer() -> None:
    assert WORDS.keys() == ATTACKS.keys()


@pytest.fixture(scope="module")
def told() -> dict[str, tuple[str, str]]:
    """Of each attack what it took [MB] and what was said."""
    root = Path(__file__).resolve().parents[3]
    done = subprocess.run(
        [sys.executable, "-m", "tests.inputs.gpx.hostile", *WORDS],
        cwd=root,
        capture_output=True,
        text=True,
        timeout=600,
        check=False,
    )
    assert done.returncode == 0, done.stderr[-2000:]
    lines = [line.split("\t") for line in done.stdout.split("\n")[:-1]]
    return {name: (megabytes, message) for name, _, megabytes, message in lines}


@pytest.mark.parametrize("name", WORDS)
def test_refused_with_bounded_work_and_in_little_memory(
    name: str, told: dict[str, tuple[str, str]]
) -> None:
    megabytes, message = told[name]
    assert WORDS[name] in message
    assert message.count("\n") == 0 and len(message) < 300
    assert float(megabytes) < MEGABYTES[name]
