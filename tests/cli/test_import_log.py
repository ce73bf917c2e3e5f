"""`tetherline import-log`: a sheet becomes a recorded run."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.command import (
    assert_bad_input,
    one_line,
    tetherline,
)


def test_a_sheet_becomes_a_run_that_can_be_followed(tmp_path: Path, plan: Path):
    """Import, list, state; what did not match is said."""
    sheet = tmp_path / "log.csv"
    sheet.write_text(
        "PET,Who,What,Notes\n0:01,EV1,Start Unstow pump,\n0:36,EV1,Done Unstow pmp,\nlater,EV1,Start T020,\n",
        encoding="utf-8",
    )
    done = tetherline(
        "import-log",
        sheet,
        "--plan",
        plan,
        "--to",
        tmp_path / "run",
        "--setting",
        "pool",
        "--date",
        "2031-03-02",
    )
    assert done.returncode == 0, done.stderr
    report = one_line(done.stdout)
    assert "2 events and 1 note; 1 row not applied; 1 row not understood" in report
    assert "row 3: 'Unstow pmp': no task of the plan has that name or title. Nearest: T010 Unstow pump" in report
    assert "--match 'Unstow pmp=T010'" in report
    state = json.loads(tetherline("state", plan, tmp_path / "run" / "log.jsonl", "--json").stdout)
    assert state["tasks"]["T010"]["state"] == "in work"
    assert "later | EV1 | Start T020" in state["unread"][0]["line"]
    again = tetherline("import-log", sheet, "--plan", plan, "--to", tmp_path / "run")
    assert_bad_input(again, "a folder without a run")


@pytest.mark.parametrize(
    ("more", "says"),
    [
        (["--setting", "sea"], "one of pool"),
        (["--times", "met"], "pet or utc"),
        (["--date", "2 March"], "a day such as"),
        (["--columns", "time"], "name=value"),
    ],
)
def test_wrong_options_of_an_import_are_bad_input(tmp_path: Path, plan: Path, more: list[str], says: str):
    """Nothing is written."""
    sheet = tmp_path / "log.csv"
    sheet.write_text("PET,What\n0:01,Start T010\n", encoding="utf-8")
    assert_bad_input(tetherline("import-log", sheet, "--plan", plan, "--to", tmp_path / "run", *more), says)
    assert not (tmp_path / "run").exists()
