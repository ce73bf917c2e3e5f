"""Task sheets as rooms write them: read with a report of what was taken how, or refused in words; never half-read."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from dashboard.core.base.problems import InputError, Problem
from dashboard.log.plan_sheet import HowToRead, PlanSheet, read_plan_sheet
from tests.problems import assert_problem, the_only


def book(folder: Path, rows: list[list[Any]], merge: tuple[str, ...] = (), **formats: str) -> Path:
    """A workbook with these rows, these merged ranges, and these number formats by cell."""
    made = openpyxl.Workbook()
    page = made.active
    page.title = "Plan rev C"
    for row in rows:
        page.append(row)
    for cells in merge:
        page.merge_cells(cells)
    for cell, shown in formats.items():
        page[cell].number_format = shown
    made.save(folder / "rev-c.xlsx")
    return folder / "rev-c.xlsx"


def text(folder: Path, content: str | bytes) -> Path:
    """A CSV file with this content."""
    path = folder / "rev-c.csv"
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    return path


def read(path: Path, **how: Any) -> PlanSheet:
    """A sheet without problems."""
    sheet = read_plan_sheet(path, HowToRead(**how))
    assert sheet.problems == []
    return sheet


def wrong(path: Path) -> list[Problem]:
    """The problems of a sheet."""
    return read_plan_sheet(path).problems


def ways(sheet: PlanSheet) -> list[tuple[int, str, str, Any]]:
    """The cells that were not taken as they stand."""
    return [(one.row, one.column, one.found, one.taken) for one in sheet.taken]


def test_a_sheet_with_a_title_groups_of_headings_and_merged_cells(tmp_path: Path) -> None:
    """Title rows above, groups over the headings, phases between the tasks, one worksite merged over its rows."""
    path = book(tmp_path, [
        ["Lantern 2: task list, rev C"],
        ["Lead: A. Person", None, None, None, None, dt.date(2031, 4, 2)],
        [],
        ["Task", None, "Times", None, "People", "Where"],
        ["No.", "Description", "Start PET", "Dur (min)", "Crew", None],
        ["Phase 1: out"],
        ["T010", "Hatch open", dt.time(0, 0), 12, "EV1, EV2", "airlock"],
        ["T020", "Carry bags", dt.time(0, 12), "20/25/40", "EV1 & EV2", None],
        ["Phase 2: work"],
        ["T030", "Swap pump", dt.time(0, 40), "1h30", "EV1+EV2", "mast"],
    ], ("A1:F1", "A4:B4", "C4:D4", "F4:F5", "A6:F6", "F7:F8"))  # fmt: skip
    sheet = read(path)
    assert sheet.tasks == [
        {"id": "T010", "title": "Hatch open", "start": 0, "duration": 12, "lanes": ["EV1", "EV2"], "worksite": "airlock"},
        {"id": "T020", "title": "Carry bags", "start": 12, "duration": [20, 25, 40], "lanes": ["EV1", "EV2"],
         "worksite": "airlock"},
        {"id": "T030", "title": "Swap pump", "start": 40, "duration": 90, "lanes": ["EV1", "EV2"], "worksite": "mast"},
    ]  # fmt: skip
    assert [(one.row, one.why) for one in sheet.not_taken] == [
        (1, "above the headings"), (2, "above the headings"),
        (6, "one filled cell, so it is a heading or a remark"), (9, "one filled cell, so it is a heading or a remark"),
    ]
    assert (10, "Times / Dur (min)", "1h30", 90) in ways(sheet)
    assert sheet.remarks == ["Rows 7 to 8 are merged in column Where: each of them has the value."]


def test_semicolons_a_byte_order_mark_and_decimal_commas(tmp_path: Path) -> None:
    """As a spreadsheet in many countries saves CSV; units stand in the headings."""
    sheet = read(text(tmp_path, b"\xef\xbb\xbfID;Title;Crew;Start;Duration (h);Worth;Priority\r\n"
                                b"T1;\xc3\xa9t\xc3\xa9;EV1;0:40;1,5;;P2\r\nT2;b;EV2;1:00 PM;0,25;;3\r\n"), leave_out=["Worth"])
    assert sheet.tasks == [
        {"id": "T1", "title": "\u00e9t\u00e9", "lanes": ["EV1"], "start": "0:40", "duration": 90, "priority": 2},
        {"id": "T2", "title": "b", "lanes": ["EV2"], "start": 780, "duration": 15, "priority": 3},
    ]
    assert ways(sheet) == [
        (2, "Duration (h)", "1,5", 90), (2, "Priority", "P2", 2), (3, "Start", "1:00 PM", 780), (3, "Duration (h)", "0,25", 15),
    ]


@pytest.mark.parametrize(
    ("cell", "minutes"),
    [
        ("40 min", 40), ("40min", 40), ("40'", 40), ("1h30", 90), ("1 h 30 min", 90), ("1 h", 60), ("2 hours", 120),
        ("1.5 h", 90), ("1,5 h", 90), ("0:40", "0:40"), ("0:40 h", 40), ("PET 1:50", 110), ("40", 40), (40, 40),
        ("PET+1:50", 110), ("T+1:50", 110),
        (dt.time(0, 40), 40), (dt.timedelta(hours=25), 1500), ("30/40/65", [30, 40, 65]), ("30 40 65 min", [30, 40, 65]),
        ("1 / 1.5 / 2 h", [60, 90, 120]), ("0:30/0:40/1:05", ["0:30", "0:40", "1:05"]), ("7,5", 7.5),
    ],
)  # fmt: skip
def test_lengths_are_read_as_people_write_them(tmp_path: Path, cell: Any, minutes: Any) -> None:
    """With units, as times of the spreadsheet, as three points."""
    assert read(book(tmp_path, [["id", "title", "duration"], ["T1", "Swap", cell]])).tasks[0]["duration"] == minutes


@pytest.mark.parametrize("cell", ["about 40", "40?", "2 days", "30-65", "soon", "1:75", "40 min + 5"])
def test_a_length_that_is_not_plain_is_left_for_the_check_to_refuse(tmp_path: Path, cell: str) -> None:
    """It is not half-read: the cell comes through as it stands."""
    duration = read(book(tmp_path, [["id", "title", "duration"], ["T1", "Swap", cell]])).tasks[0]["duration"]
    assert duration == cell or (isinstance(duration, list) and not all(isinstance(one, int | float) for one in duration))


def test_an_end_in_place_of_a_duration(tmp_path: Path) -> None:
    """Start and finish give it; where all three stand they must agree."""
    head = "id,lanes,start,finish,duration\n"
    assert read(text(tmp_path, f"{head}T1,EV1,0:40,1:25,\n")).tasks[0]["duration"] == 45
    assert read(text(tmp_path, f"{head}T1,EV1,0:40,1:25,45\n")).tasks[0]["duration"] == 45
    assert_problem(the_only(wrong(text(tmp_path, f"{head}T1,EV1,0:40,1:25,30\n"))), subject="row 2, column finish",
                   expected="1:10", found="1:25", cure="Correct one")
    assert_problem(the_only(wrong(text(tmp_path, f"{head}T1,EV1,0:40,0:25,\n"))), subject="row 2, column finish",
                   expected="an end after the start (0:40)", found="0:25", cure="Correct one")


def test_three_points_in_three_columns(tmp_path: Path) -> None:
    """Under a common heading, or each by itself; two of the three are refused."""
    rows = [["id", "crew", "Duration", None, None], [None, None, "low", "likely", "high"], ["T1", "EV1", 20, 25, 40]]
    assert read(book(tmp_path, rows, ("C1:E1",))).tasks == [{"id": "T1", "lanes": ["EV1"], "duration": [20, 25, 40]}]
    problem = the_only(wrong(text(tmp_path, "id,low,most likely,high\nT1,20,25,\n")))
    assert_problem(problem, subject="row 2", expected="low, likely and high", found="low and likely", cure="all three")


def test_a_row_of_units_below_the_headings(tmp_path: Path) -> None:
    """It says what the numbers are, and is no task."""
    sheet = read(text(tmp_path, "ID,Crew,Start,Duration\n,,PET,h\nT1,EV1,0:40,0.5\n"))
    assert (sheet.tasks, sheet.table.header_row) == ([{"id": "T1", "lanes": ["EV1"], "start": "0:40", "duration": 30}], 2)


def test_further_columns_are_kept_in_the_notes(tmp_path: Path) -> None:
    """Nothing is lost; what is not wanted is left out by name; what is nearly a key is an error."""
    rows = "id,crew,Checked by,notes,Done?\nT1,EV1,Kim,two hands,x\n"
    assert read(text(tmp_path, rows)).tasks[0]["notes"] == "two hands; Checked by: Kim; Done?: x"
    assert read(text(tmp_path, rows), leave_out=["Done?"]).tasks[0]["notes"] == "two hands; Checked by: Kim"
    assert_problem(the_only(wrong(text(tmp_path, "id,crew,durration\nT1,EV1,3\n"))), subject="column 'durration'",
                   expected="a key of [[task]]", found="'durration'", cure="Did you mean 'duration'?")
    with pytest.raises(InputError, match="--leave-out.*'Dnoe"):
        read(text(tmp_path, rows), leave_out=["Dnoe?"])


def test_a_column_can_be_named(tmp_path: Path) -> None:
    """In any language; the headings are then found by these names."""
    rows = "Plan\nNr.;Aufgabe;Wer;Dauer;Beginn\nT1;Pumpe;EV1;40;0:20\n"
    given = {"title": "Aufgabe", "lanes": "Wer", "duration": "Dauer", "start": "Beginn"}
    assert read(text(tmp_path, rows), columns=given).tasks == [
        {"id": "T1", "title": "Pumpe", "lanes": ["EV1"], "duration": 40, "start": "0:20"}
    ]
    with pytest.raises(InputError, match="a key of"):
        read(text(tmp_path, rows), columns={"dauer": "Dauer"})


def test_one_column_per_lane_with_marks(tmp_path: Path) -> None:
    """In place of a column with the lanes; a column of that name that holds words is a further column."""
    rows = [["id", "dur", "EV1", "EV2", "ARM"], ["T1", 40, "x", "X", None], ["T2", 10, None, None, "yes"]]
    assert [one["lanes"] for one in read(book(tmp_path, rows)).tasks] == [["EV1", "EV2"], ["ARM"]]
    rows[1][3] = "mind the cable"
    assert read(book(tmp_path, rows)).tasks[0] == {"id": "T1", "duration": 40, "lanes": ["EV1"], "notes": "EV2: mind the cable"}


def test_a_sheet_without_ids_gets_them(tmp_path: Path) -> None:
    """In steps of ten, as the remark says; a column `Task` of single words holds ids, of sentences titles."""
    sheet = read(text(tmp_path, "Task,Crew,Dur\nHatch open,EV1,10\nCarry bags,EV1 EV2,20\n"))
    assert [(one["id"], one["title"]) for one in sheet.tasks] == [("T010", "Hatch open"), ("T020", "Carry bags")]
    assert "numbered T010, T020" in sheet.remarks[0]
    ids = read(text(tmp_path, "Task,Description,Crew,Dur\nA1,Hatch open,EV1,10\nA2,Carry bags,EV1 EV2,20\n"))
    assert [(one["id"], one["title"]) for one in ids.tasks] == [("A1", "Hatch open"), ("A2", "Carry bags")]


def test_a_task_that_runs_over_two_merged_rows_is_one_task(tmp_path: Path) -> None:
    """The second row adds its remark; a value of its own that differs is refused."""
    rows = [["id", "crew", "dur", "remarks"], ["T1", "EV1", 40, "two hands"], [None, None, None, "mind the cable"]]
    merge = ("A2:A3", "B2:B3", "C2:C3")
    assert read(book(tmp_path, rows, merge)).tasks == [
        {"id": "T1", "lanes": ["EV1"], "duration": 40, "notes": "two hands; mind the cable"}
    ]
    rows[2][2] = 50
    problem = the_only(wrong(book(tmp_path, rows, merge[:2])))
    assert_problem(problem, subject="row 3, column dur", expected="row 2 (40)", found="50", cure="an id of its own")


def test_cells_merged_over_two_keys_are_refused(tmp_path: Path) -> None:
    """Nothing tells which of the two the value belongs to."""
    rows = [["id", "crew", "start", "dur"], ["T1", "EV1", 40, None]]
    problem = the_only(wrong(book(tmp_path, rows, ("C2:D2",))))
    assert_problem(problem, subject="row 2", expected="not merged over several columns", found="start and dur", cure="Take")


def test_fractions_of_a_day_are_refused(tmp_path: Path) -> None:
    """A spreadsheet keeps 0:30 as 0.0208 of a day; shown as a plain number it would be read as no time at all."""
    rows = [["id", "crew", "dur"], ["T1", "EV1", 0.5 / 24], ["T2", "EV1", 1 / 24]]
    assert_problem(the_only(wrong(book(tmp_path, rows))), subject="column 'dur'", expected="minutes", found="0.04167",
                   cure="h:mm")
    assert [one["duration"] for one in read(book(tmp_path, rows, C2="h:mm", C3="h:mm")).tasks] == [30, 60]


def test_the_sheet_with_tasks_is_found_among_others(tmp_path: Path) -> None:
    """A cover page before it, a scratch page behind it; another can be asked for by name."""
    made = openpyxl.Workbook()
    made.active.title = "Cover"
    made.active.append(["Lantern 2", "rev C"])
    page = made.create_sheet("Timeline")
    for row in (["ID", "Crew", "Start", "Dur"], ["T1", "EV1", "0:20", 40]):
        page.append(row)
    made.create_sheet("Old").append(["id", "crew"])
    made.save(tmp_path / "rev-c.xlsx")
    assert read(tmp_path / "rev-c.xlsx").table.sheet == "Timeline"
    assert read(tmp_path / "rev-c.xlsx", sheet="Old").tasks == []
    with pytest.raises(InputError, match="--sheet: expected a sheet of the workbook; found 'Tasks'"):
        read(tmp_path / "rev-c.xlsx", sheet="Tasks")


def test_headings_that_are_printed_again_on_each_page_are_no_tasks(tmp_path: Path) -> None:
    """They are listed."""
    sheet = read(text(tmp_path, "id,crew,dur\nT1,EV1,3\nid,crew,dur\nT2,EV1,3\n"))
    assert [one["id"] for one in sheet.tasks] == ["T1", "T2"]
    assert [(one.row, one.why) for one in sheet.not_taken] == [(3, "the headings once more")]


def test_a_thousand_rows_are_read_in_full(tmp_path: Path) -> None:
    """Each row is a task, in order."""
    rows = [["id", "crew", "start", "dur"], *([f"T{n}", "EV1, EV2", "0:40", "40 min"] for n in range(1000))]
    sheet = read(book(tmp_path, rows))
    assert [one["id"] for one in sheet.tasks] == [f"T{n}" for n in range(1000)] and len(sheet.taken) == 2000


def test_times_of_day_are_no_pets(tmp_path: Path) -> None:
    """Read as PETs they would be hours late; in the notes they would be lost to the plan."""
    for head in ("Start (UTC)", "UTC", "Start GMT", "End [UTC]"):
        problem = the_only(wrong(text(tmp_path, f"id,crew,{head},dur\nA1,EV1,9:10,20\n")))
        assert_problem(problem, subject=f"column '{head}'", expected="PETs", found="times of day", cure="Subtract PET zero")


@pytest.mark.parametrize(
    ("row", "expected", "found", "cure"),
    [
        ("A1,EV1,1.30,20", 'minutes or "H:MM"', "'1.30', which may be either", "Write 1:30, or 1.3 min"),
        ("A1,EV1,0:10,#N/A", "a value", "an error of the spreadsheet (#N/A)", "Correct the formula"),
        ("A1 #,#REF!,0:10,20", "a value", "an error of the spreadsheet (#REF!)", "Correct the formula"),
    ],
)
def test_a_cell_that_would_be_half_read_is_refused(tmp_path: Path, row: str, expected: str, found: str, cure: str) -> None:
    """1.30 is neither clearly 1:30 nor 1.3 minutes; what the spreadsheet could not compute is no value."""
    problem = the_only(wrong(text(tmp_path, f"id,crew,start,dur\n{row}\n")))
    assert_problem(problem, subject="row 2", expected=expected, found=found, cure=cure)


def test_fractions_of_a_day_in_text_are_refused_too(tmp_path: Path) -> None:
    """A spreadsheet saves times so in CSV where their cells were plain numbers."""
    problem = the_only(wrong(text(tmp_path, "id,crew,dur\nA1,EV1,0.0104\nA2,EV1,0.0625\n")))
    assert_problem(problem, subject="column 'dur'", expected="minutes", found="0.0625", cure="h:mm")


def test_a_length_in_another_unit_is_told_as_it_stands(tmp_path: Path) -> None:
    """It is not taken for a list of three points."""
    assert read(text(tmp_path, "id,crew,dur\nA1,EV1,90 sec\n")).tasks[0]["duration"] == "90 sec"
