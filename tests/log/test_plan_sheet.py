"""Task sheets in CSV and XLSX: the same tasks as in the plan file, errors by row and column."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta
from pathlib import Path
from typing import Any

import openpyxl  # type: ignore[import-untyped]
import pytest

from dashboard.core.base.problems import InputError, Problem
from dashboard.log.plan_sheet import read_plan_sheet
from dashboard.log.plan_sheet_writer import sheet_of_plan
from dashboard.log.planfile import examine_plan, load_plan
from tests.log.plans import FULL
from tests.problems import assert_problem, the_only


@pytest.fixture
def plan_file(tmp_path: Path) -> Path:
    """The plan file whose tasks a sheet replaces."""
    file = tmp_path / "plan.toml"
    file.write_text(FULL)
    return file


def csv_sheet(folder: Path, text: str) -> Path:
    """A CSV sheet with this content."""
    file = folder / "tasks.csv"
    file.write_text(text)
    return file


def xlsx_sheet(folder: Path, *rows: list[Any], name: str = "tasks") -> Path:
    """An XLSX sheet with these rows."""
    book = openpyxl.Workbook()
    page = book.active
    page.title = name
    for row in rows:
        page.append(row)
    file = folder / "tasks.xlsx"
    book.save(file)
    return file


def sheet_tasks(path: Path) -> list[dict[str, Any]]:
    """The tasks of a sheet that has no problem."""
    sheet = read_plan_sheet(path)
    assert sheet.problems == []
    return sheet.tasks


def refused(path: Path) -> list[Problem]:
    """The problems with which a sheet is refused."""
    try:
        return read_plan_sheet(path).problems
    except InputError as wrong:
        return wrong.problems


@pytest.mark.parametrize("ending", [".csv", ".xlsx"])
def test_a_plan_survives_its_sheet(plan_file: Path, ending: str) -> None:
    """Out to a sheet and in again: the same plan, contingency tasks and text that looks like a formula included."""
    plan = load_plan(plan_file)
    sheet = plan_file.with_name(f"tasks{ending}")
    sheet.write_bytes(sheet_of_plan(plan, sheet))
    assert load_plan(plan_file, sheet) == plan


def test_a_sheet_reads_as_the_keys_of_a_task(tmp_path: Path) -> None:
    """Lists by spaces, a lag behind a plus, three points by strokes, yes for true."""
    sheet = csv_sheet(tmp_path, (
        "id,lanes,start,duration,follows,required,needs,workload,title\n"
        "T080,EV1 EV2,1:50,30/40/65,T070+5 T060,yes,daylight link,300,\"Swap, check\"\n"
        "\n"
        "T090,ARM,,0:40,,,,light,\n"
    ))
    assert sheet_tasks(sheet) == [
        {"id": "T080", "lanes": ["EV1", "EV2"], "start": "1:50", "duration": [30, 40, 65],
         "follows": [{"task": "T070", "lag": 5}, {"task": "T060"}], "required": True, "needs": ["daylight", "link"],
         "workload": 300, "title": "Swap, check"},
        {"id": "T090", "lanes": ["ARM"], "duration": "0:40", "workload": "light"},
    ]


def test_semicolons_and_tabs_separate_as_well(tmp_path: Path) -> None:
    """Spreadsheets of many countries write CSV with semicolons."""
    for mark in ";\t":
        sheet = csv_sheet(tmp_path, mark.join(("ID", "Lanes", "Can move to")) + "\n" + mark.join(("T1", "EV1", "EV2")))
        assert sheet_tasks(sheet) == [{"id": "T1", "lanes": ["EV1"], "can_move_to": ["EV2"]}]


def test_what_a_spreadsheet_makes_of_a_time_is_undone(tmp_path: Path) -> None:
    """1:50 kept as a time of day is PET 1:50; a number kept as 10.0 is the name 10."""
    sheet = xlsx_sheet(tmp_path, ["id", "lanes", "start", "closeout", "not_before", "duration"],
                       [10.0, "EV1", time(1, 50), timedelta(minutes=7), "1:40", 40])
    assert sheet_tasks(sheet) == [
        {"id": "10", "lanes": ["EV1"], "start": 110, "closeout": 7, "not_before": "1:40", "duration": 40}
    ]


def test_words_that_look_like_numbers_stay_words(tmp_path: Path) -> None:
    """A spreadsheet keeps a name made of digits as a number."""
    sheet = xlsx_sheet(tmp_path, ["id", "together", "leg", "notes", "obliges", "boxed"], ["T1", 7.0, 12, 3.5, 90, True])
    assert sheet_tasks(sheet) == [
        {"id": "T1", "together": "7", "leg": "12", "notes": "3.5", "obliges": ["90"], "boxed": True}
    ]


def test_pet_past_a_day_is_read_from_a_spreadsheet(tmp_path: Path) -> None:
    """A spreadsheet counts 24:00 and more as a day of its own calendar."""
    sheet = xlsx_sheet(tmp_path, ["id", "start"], ["T1", timedelta(hours=25, minutes=30)], ["T2", 1.0625])
    book = openpyxl.load_workbook(sheet)
    book.active["B3"].number_format = "h:mm"
    book.save(sheet)
    assert sheet_tasks(sheet) == [{"id": "T1", "start": 1530}, {"id": "T2", "start": 1530}]


def test_a_duration_that_became_a_date_is_told(tmp_path: Path) -> None:
    """10/15/20 is a date to a spreadsheet; the cell is named with the way out."""
    sheet = xlsx_sheet(tmp_path, ["id", "duration"], ["T1", datetime(2020, 10, 15)], ["T2", date(2020, 10, 15)])
    problems = refused(sheet)
    assert [problem.where for problem in problems] == [f"{sheet}: sheet tasks, row {n}, column duration" for n in (2, 3)]
    assert_problem(problems[0], subject="row 2, column duration", expected="40 or 30 40 65",
                   found="a date (2020-10-15) that the spreadsheet made of it", cure="Correct the cell")
    assert sheet_tasks(csv_sheet(tmp_path, "id,duration\nT1,10 15 20\n")) == [{"id": "T1", "duration": [10, 15, 20]}]


def test_the_sheet_named_tasks_is_taken_else_the_first(tmp_path: Path) -> None:
    """A workbook may hold other pages."""
    book = openpyxl.Workbook()
    book.active.append(["id"])
    book.active.append(["T-first"])
    file = tmp_path / "tasks.xlsx"
    book.save(file)
    assert sheet_tasks(file) == [{"id": "T-first"}]
    page = book.create_sheet("tasks")
    page.append(["id"])
    page.append(["T-tasks"])
    book.save(file)
    assert sheet_tasks(file) == [{"id": "T-tasks"}]


# --- joint tasks ----------------------------------------------------------------------------------


def test_a_joint_task_may_have_a_row_for_each_lane(tmp_path: Path) -> None:
    """Two rows that agree are one task of two lanes."""
    sheet = csv_sheet(tmp_path, "id,lanes,start,duration\nT1,EV1,1:00,30\nT2,EV1,2:00,10\nT1,EV2,1:00,30\n")
    assert sheet_tasks(sheet) == [
        {"id": "T1", "lanes": ["EV1", "EV2"], "start": "1:00", "duration": 30},
        {"id": "T2", "lanes": ["EV1"], "start": "2:00", "duration": 10},
    ]


def test_lanes_of_a_joint_task_that_disagree_are_told(tmp_path: Path) -> None:
    """One task cannot start at two times; both rows are named."""
    sheet = csv_sheet(tmp_path, "id,lanes,start,duration\nT1,EV1,1:00,30\nT1,EV2,1:05,30\n")
    assert_problem(
        the_only(refused(sheet)), subject="joint task T1, column start", expected="the same 'start'",
        found="'1:00' in row 2 (EV1) and '1:05' in row 3 (EV2)", cure="Make them the same",
        where=f"{sheet}: row 3, column start",
    )


def test_one_task_twice_in_one_lane_is_a_name_used_twice(plan_file: Path) -> None:
    """Rows of one lane are two tasks of one name."""
    head = "id,lanes,start,duration,contingency\nT070,EV1,0:40,20,\nT080,EV2,1:50,30,\nC010,EV1,,5,leak\n"
    sheet = csv_sheet(plan_file.parent, head + "T080,EV2,3:00,30,\n")
    assert_problem(the_only(examine_plan(plan_file, sheet)[1]), subject="task T080", expected="each task name once",
                   found="a second time", cure="Rename", where=f"{sheet}: row 5, column id")


# --- errors by row and column ---------------------------------------------------------------------


def test_wrong_values_are_named_by_row_and_column(plan_file: Path) -> None:
    """What the plan finds wrong with a task is shown where the task stands: in the sheet."""
    sheet = csv_sheet(plan_file.parent, (
        "id,lanes,start,duration,after,required,contingency\n"
        "T070,EV1,0:40,20,,,\n"
        "T080,EV2,ten,30,,,\n"
        "T090,EV9,2:00,30/20,T07,perhaps,\n"
        "C010,EV1,,5,,,leek\n"
    ))
    places = {p.where.removeprefix(f"{sheet}: "): p for p in examine_plan(plan_file, sheet)[1]}
    assert set(places) == {
        "row 5, column contingency", "row 3, column start", "row 4, column lanes", "row 4, column duration",
        "row 4, column after", "row 4, column required",
    }
    assert_problem(places["row 4, column after"], subject="task T090", expected="known task", found="'T07'",
                   cure="Did you mean 'T070'?")
    assert_problem(places["row 5, column contingency"], subject="C010", expected="a contingency of the plan file",
                   found="'leek'", cure="Did you mean 'leak'?")


def test_problems_of_the_other_tables_keep_their_line(plan_file: Path) -> None:
    """The sheet has the tasks; the rest still stands in the plan file."""
    plan_file.write_text(FULL.replace("every = 30", "evry = 30"))
    sheet = csv_sheet(plan_file.parent, "id,lanes,start,duration\nT070,EV1,0:40,20\nT080,EV2,1:50,30\n")
    lines = {p.where for p in examine_plan(plan_file, sheet)[1]}
    line = FULL.split("\n").index("every = 30") + 1
    assert f"{plan_file}:{line}" in lines


def test_unknown_columns_columns_twice_and_loose_cells_are_told(tmp_path: Path) -> None:
    """Nothing in a sheet is passed over in silence."""
    problems = refused(csv_sheet(tmp_path, "id,lnes,start,start\nT1,EV1,1:00,1:00,remark\n"))
    assert_problem(problems[0], subject="column 'lnes'", expected="a key of [[task]]", found="'lnes'",
                   cure="Did you mean 'lanes'?", where="row 1, column lnes")
    assert_problem(problems[1], subject="column 'start'", expected="one column for 'start'", found="a second one",
                   cure="Remove one")
    assert_problem(problems[2], subject="row 2", expected="cells only under column names", found="'remark' in column E",
                   cure="Name the column", where="row 2, column E")


def test_a_formula_that_was_never_computed_is_told(tmp_path: Path) -> None:
    """It would read as an empty cell."""
    problem = the_only(refused(xlsx_sheet(tmp_path, ["id", "duration"], ["T1", "=20+20"])))
    assert_problem(problem, subject="row 2, column B", expected="a value", found="(=20+20)", cure="save it")


@pytest.mark.parametrize(
    ("name", "content", "found", "cure"),
    [
        ("tasks.csv", b"", "an empty file", "saved in full"),
        ("tasks.csv", b"id,lanes\nT1,Caf\xe9\n", "byte 0xe9 at byte 15 (line 2)", "UTF-8"),
        ("tasks.csv", b"PK\x03\x04\0\0", "a NUL byte", "text file"),
        ("tasks.csv", b'id,title\nT1,"never closed\n', "not CSV", "quotes"),
        ("tasks.csv", b"some words\nand more\n", "none named 'id'", "first row"),
        ("tasks.csv", b",,\n,,\n", "no row", "column names first"),
        ("tasks.xlsx", b"id,lanes\n", "another kind", "XLSX or CSV"),
        ("tasks.xlsx", b"PK\x03\x04 and then nothing", "a damaged file", "Save the sheet again"),
    ],
)
def test_a_file_that_cannot_be_a_sheet_is_refused(
    tmp_path: Path, name: str, content: bytes, found: str, cure: str
) -> None:
    """Said so in one line, whatever it is."""
    (tmp_path / name).write_bytes(content)
    problem = the_only(p for p in refused(tmp_path / name) if "column '" not in p.subject)
    assert_problem(problem, subject=name, expected="", found=found, cure=cure)


def test_a_sheet_is_written_as_csv_or_xlsx_only(plan_file: Path) -> None:
    """Another ending is refused before anything is written."""
    with pytest.raises(InputError) as wrong:
        sheet_of_plan(load_plan(plan_file), plan_file.with_suffix(".ods"))
    assert_problem(the_only(wrong.value.problems), subject="plan.ods", expected=".csv or .xlsx", found="'.ods'",
                   cure="Choose one")
