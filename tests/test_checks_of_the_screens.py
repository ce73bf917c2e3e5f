"""The list of `tests/README.md`: every check of the screens names tests that are there."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

TESTS = Path(__file__).parent
ROWS = re.findall(r"^\| (\d+) \| (.+?) \| (.+?) \|$", (TESTS / "README.md").read_text(), re.MULTILINE)


def test_there_are_thirty() -> None:
    """In order."""
    assert [int(number) for number, _, _ in ROWS] == list(range(1, 31))


@pytest.mark.parametrize(("check", "shown_by"), [(check, shown_by) for _, check, shown_by in ROWS])
def test_what_shows_a_check_is_there(check: str, shown_by: str) -> None:
    """At least one test, and each under its name in its file."""
    named = re.findall(r"`([\w/]+\.py)::(test_\w+)`", shown_by)
    assert named, check
    for file, test in named:
        assert f"def {test}(" in (TESTS / file).read_text(), f"{file}::{test}"
