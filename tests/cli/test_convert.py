"""`tetherline convert`: between the formats, and out to a calendar."""

from __future__ import annotations

import json
from pathlib import Path

import icalendar
import pytest

from dashboard.log.planfile import load_plan
from tests.command import assert_bad_input, one_line, tetherline


def test_there_and_back_the_plan_is_the_same(plan: Path):
    """By the endings; the comments of a TOML file stay when the program changes it."""
    plan.write_text("# ours\n" + plan.read_text())
    for step in (plan.with_name("a.xlsx"), plan.with_name("a.csv")):
        assert tetherline("convert", plan, step).returncode == 0
        back = step.with_name(f"from-{step.suffix[1:]}.toml")
        assert tetherline("convert", step, back).returncode == 0
        assert load_plan(back) == load_plan(plan)
    said = tetherline("convert", plan.with_name("a.csv"), plan, "--force")
    assert said.returncode == 0 and plan.read_text().startswith("# ours\n")


def test_from_sheet_to_sheet_nothing_is_lost_unsaid(plan: Path):
    """CSV to XLSX and back; the comments beside the CSV are counted, since a workbook holds none."""
    plan.write_text("# ours\n" + plan.read_text())
    assert tetherline("convert", plan, plan.with_name("a.csv")).returncode == 0
    said = one_line(tetherline("convert", plan.with_name("a.csv"), plan.with_name("a.xlsx")).stdout)
    assert "Not in it: 1 comment: a sheet does not hold them" in said
    assert tetherline("convert", plan.with_name("a.xlsx"), plan.with_name("b.csv")).returncode == 0
    assert tetherline("convert", plan.with_name("b.csv"), plan.with_name("b.toml")).returncode == 0
    assert load_plan(plan.with_name("b.toml")) == load_plan(plan)


def test_an_existing_file_is_never_replaced_unasked(plan: Path):
    """Neither the target nor the file beside a CSV; the refusal says what to do."""
    (plan.parent / "a.rest.toml").write_text("mine")
    for target in ("a.csv", "plan.toml"):
        source = plan if target == "a.csv" else plan.with_name("plan.xlsx")
        done = tetherline("convert", source, plan.with_name(target))
        assert_bad_input(done, "one that exists", "--force")
    assert (plan.parent / "a.rest.toml").read_text() == "mine" and not (plan.parent / "a.csv").exists()


def test_the_report_says_what_was_taken_how(plan: Path):
    """In words, and as JSON for other programs."""
    sheet = plan.with_name("rev-c.csv")
    rows = "T1;Swap;EV1, EV2;0:20;1h30;Kim\nOut to the mast;;;;;\n"
    sheet.write_text(f"Sheet rev C\nNo;Description;Crew;Start;Dur;Checked by\n{rows}")
    done = tetherline("convert", sheet, plan.with_name("new.toml"), "--with", plan)
    said = one_line(done.stdout)
    assert done.returncode == 0, done.stderr
    assert "Read 1 task from rev-c.csv (headings in row 2)." in said
    assert "Crew: lanes" in said and "Checked by: kept in the notes of the task" in said
    assert "Dur: 1 cell read as minutes, such as '1h30' in row 3: 90" in said
    assert "row 1: 'Sheet rev C': above the headings" in said
    task = load_plan(plan.with_name("new.toml")).all_tasks()["T1"]
    assert (task.lanes, task.likely_min, task.notes) == (("EV1", "EV2"), 90, "Checked by: Kim")
    again = tetherline("convert", sheet, plan.with_name("new.toml"), "--with", plan, "--force", "--json")
    told = json.loads(again.stdout)
    assert told["sheet"]["heading_row"] == 2 and told["written"] == [str(plan.with_name("new.toml"))]
    cell = {"row": 3, "column": "Dur", "found": "1h30", "taken": 90.0, "how": "minutes"}
    assert cell in told["sheet"]["cells_read_by_their_words"]
    assert [one["row"] for one in told["sheet"]["rows_not_taken"]] == [1, 4]


def test_a_sheet_of_tasks_goes_into_the_plan_that_is_there(plan: Path):
    """Its other tables stay; a sheet alone is refused with what to do."""
    sheet = plan.with_name("tasks.csv")
    sheet.write_text("id,lanes,start,duration\nT1,EV1,0:00,30\nT2,EV2,0:00,30\n")
    alone = tetherline("convert", sheet, plan.with_name("other.toml"))
    assert_bad_input(alone, "tasks only", "--with PLAN.toml", "tetherline new")
    before = load_plan(plan)
    assert tetherline("convert", sheet, plan, "--force").returncode == 0
    after = load_plan(plan)
    assert [task.id for task in after.tasks] == ["T1", "T2"] and (after.lanes, after.suits) == (before.lanes, before.suits)


def test_a_calendar_is_written_and_says_what_it_does_not_hold(plan: Path):
    """Each briefed task is an entry; a calendar is not read back."""
    calendar = plan.with_name("plan.ics")
    done = tetherline("convert", plan, calendar)
    assert done.returncode == 0 and "Not in it: suits, windows, links" in one_line(done.stdout)
    events = icalendar.Calendar.from_ical(calendar.read_bytes()).walk("VEVENT")
    assert len(events) == len(load_plan(plan).tasks)
    assert_bad_input(tetherline("convert", calendar, plan, "--force"), "a calendar, which is only written")


@pytest.mark.parametrize(
    ("source", "target", "says"),
    [
        ("plan.toml", "plan.ods", "a name that ends in .toml, .csv, .xlsx or .ics"),
        ("plan.toml", "other.toml", "another ending"),
        ("plan.ods", "other.toml", "a name that ends in"),
        ("none.toml", "none.xlsx", "no such file"),
    ],
)
def test_wrong_names_are_bad_input(plan: Path, source: str, target: str, says: str):
    """Nothing is written."""
    assert_bad_input(tetherline("convert", plan.with_name(source), plan.with_name(target)), says)
    assert not plan.with_name(target).exists()
