"""`tetherline runs`: the recorded runs of a folder."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from tests.command import (
    assert_bad_input,
    one_line,
    tetherline,
)


def test_runs_lists_a_library(library: Path):
    """Good and half runs in the table, the broken one below with the reason."""
    done = tetherline("runs", library)
    assert done.returncode == 0, done.stderr
    assert re.search(r"good +pool +2031-03-02 +t +10 +2 h 41 min +\S+ +yes", done.stdout)
    assert re.search(r"half +pool .* no", done.stdout)
    assert "broken: " in done.stdout and "no such file" in one_line(done.stdout)
    rows = {row["name"]: row for row in json.loads(tetherline("runs", library, "--json").stdout)}
    assert rows["broken"]["events"] is None and rows["good"]["length_min"] == 161


def test_runs_of_nothing_is_bad_input(tmp_path: Path):
    """And names what was looked for."""
    assert_bad_input(tetherline("runs", tmp_path / "none"), "no such folder")


@pytest.mark.parametrize("more", [[], ["--json"]])
def test_runs_of_which_none_can_be_read_are_bad_input(library: Path, plan: Path, more: list[str]):
    """A folder with broken runs only, listed with the reason; and a plan, which is no log. Neither is a success."""
    done = tetherline("runs", library / "broken", *more)
    assert_bad_input(done, "expected a recorded run that can be read", "1 log, none of them readable")
    assert "no such file" in one_line(done.stdout) and "Put the plan there" in one_line(done.stdout)
    done = tetherline("runs", plan, *more)
    assert_bad_input(done, "a folder of recorded runs, or one log", "found a plan or a header", "Name the log")
    assert done.stdout == "" and "--plan" not in done.stderr
