"""`tetherline compare`: two runs side by side, or one beside its brief."""

from __future__ import annotations

import json
from pathlib import Path

from tests.command import assert_bad_input, one_line, tetherline


def test_a_run_is_compared_with_its_brief(library: Path):
    """Ends and tasks in words; the same as JSON, with the caution."""
    done = tetherline("compare", library / "good")
    assert done.returncode == 0, done.stderr
    assert "good beside the brief" in done.stdout and "Advisory only" in done.stdout
    found = json.loads(tetherline("compare", library / "good", "--json").stdout)
    assert found["second"] == "good" and found["end_pet_min"]["first"] == 150
    assert {one["task"] for one in found["tasks"]} == {"T010", "T020", "T030", "T040"}
    assert found["caution"].startswith("Advisory only")


def test_two_runs_are_compared_on_a_page(library: Path, tmp_path: Path):
    """The page draws the lanes of both; it is not written over."""
    page = tmp_path / "both.html"
    done = tetherline("compare", library / "good", library / "half", "--to", page)
    assert done.returncode == 0 and "half (not ended: projected) beside good" in done.stdout
    said = page.read_text(encoding="utf-8")
    assert "Lanes of good" in said and "Lanes of half (not ended: projected)" in said and "Advisory only" in said
    assert_bad_input(tetherline("compare", library / "good", "--to", page), "expected no file there yet", "--force")


def test_wrong_input_is_said(library: Path, tmp_path: Path):
    """A run that is not there, and a page that cannot be written."""
    assert_bad_input(tetherline("compare", tmp_path / "none"), "no such file or folder")
    assert_bad_input(tetherline("compare", library / "good", "--to", tmp_path / "no" / "page.html"), "cannot be written")


def test_two_runs_of_one_name_are_told_apart(library: Path):
    """As the first and the second."""
    assert "good (second) beside good (first)" in one_line(tetherline("compare", library / "good", library / "good").stdout)
