"""`tetherline campaign`: what is planned, what was run, and what is carried to which sortie."""

from __future__ import annotations

import json
from pathlib import Path

from tests.command import PLAN, assert_bad_input, one_line, tetherline


def test_a_campaign_is_shown_in_words_and_as_json(library: Path):
    """The runs of the sortie, what they left, and a run that cannot be read, with the reason."""
    done = tetherline("campaign", library)
    assert done.returncode == 0, done.stderr
    said = one_line(done.stdout)
    assert "good, half" in said and "No run has left a task" in said and "Cannot be used: broken: " in said
    (library / "next.toml").write_text(PLAN.replace('id = "t"', 'id = "t2"').replace("2031-04", "2031-06"), encoding="utf-8")
    found = json.loads(tetherline("campaign", library, "--json").stdout)
    assert [one["sortie"] for one in found["sorties"]] == ["t", "t2"]
    assert {one["taken_by"] for one in found["carried"]} <= {"t2"}


def test_a_folder_that_is_not_there_is_bad_input(tmp_path: Path):
    """It says what was expected."""
    done = tetherline("campaign", tmp_path / "none")
    assert_bad_input(done, "expected a folder with plans and recorded runs", "no such folder")
