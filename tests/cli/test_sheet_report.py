"""How a task sheet was read, in words and as JSON."""

from __future__ import annotations

from pathlib import Path

from dashboard.cli.sheet_report import MOST_SHOWN, report_of_sheet, sheet_json
from dashboard.log.plan_sheet import HowToRead, read_plan_sheet


def test_a_sheet_in_the_form_of_the_program_has_nothing_to_report(tmp_path: Path):
    """But how many tasks it has, and where its headings are; of TOML there is nothing to say."""
    (tmp_path / "tasks.csv").write_text("id,lanes,duration\nT1,EV1,30\n")
    parts = report_of_sheet(read_plan_sheet(tmp_path / "tasks.csv"))
    assert [str(part) for part in parts] == ["Read 1 task from tasks.csv (headings in row 1)."]
    assert report_of_sheet(None) == []


def test_long_lists_are_cut_short_in_words_and_whole_in_json(tmp_path: Path):
    """The words say how many more there are."""
    rows = "".join(f"T{n},EV1,30,x\nPart {n} of it,,,\n" for n in range(30))
    (tmp_path / "tasks.csv").write_text(f"id,lanes,duration,Old\n{rows}")
    sheet = read_plan_sheet(tmp_path / "tasks.csv", HowToRead(leave_out=["Old"]))
    words = [str(part) for part in report_of_sheet(sheet)]
    assert f"  and {30 - MOST_SHOWN} more; --json has them all" in words
    told = sheet_json(sheet)
    assert len(told["rows_not_taken"]) == 30 and told["tasks"] == 30
    assert told["columns"][3] == {"heading": "Old", "taken_as": None, "unit": None}
