"""Plans as TOML, CSV and XLSX: in and out of each without loss, and never half."""

from __future__ import annotations

import csv
import tempfile
from datetime import UTC, datetime, timedelta
from pathlib import Path

import openpyxl
import pandas
import pytest
from hypothesis import HealthCheck, Phase, given, settings

from dashboard.core.base.problems import InputError
from dashboard.core.plan.model import Plan
from dashboard.log.plan_files import read_plan_from, rest_beside, write_plan_to
from dashboard.log.planfile import load_plan
from dashboard.log.plantext import plan_to_toml
from tests.log.any_plan import any_plan
from tests.log.plans import FULL
from tests.problems import assert_problem, the_only


@pytest.fixture
def plan_file(tmp_path: Path) -> Path:
    """A plan file with every table, and comments in all of them."""
    file = tmp_path / "plan.toml"
    file.write_text(FULL.replace("[[task]]", "# about the task\n[[task]]").replace("[[lane]]", "# a lane\n[[lane]]"))
    return file


@given(plan=any_plan())
@settings(max_examples=12, deadline=None, phases=[Phase.explicit, Phase.generate], suppress_health_check=[HealthCheck.too_slow])
def test_any_plan_goes_through_every_format_without_loss(plan: Plan) -> None:
    """TOML to XLSX to CSV to TOML: the same plan, to the last bit of each number and the last sign of each text."""
    with tempfile.TemporaryDirectory() as folder:
        for step in ("plan.toml", "plan.xlsx", "plan.csv"):
            path = Path(folder) / step
            write_plan_to(path, plan)
            assert read_plan_from(path).plan == plan


def test_other_programs_read_what_is_written(plan_file: Path) -> None:
    """openpyxl, pandas and the CSV reader of Python see the tasks under the keys of a task."""
    plan = load_plan(plan_file)
    for ending in (".xlsx", ".csv"):
        write_plan_to(plan_file.with_suffix(ending), plan)
    book = openpyxl.load_workbook(plan_file.with_suffix(".xlsx"))
    assert book.sheetnames == [
        "tasks", "sortie", "lanes", "suits", "worksites", "windows", "contingencies", "alternatives", "checks",
    ]
    assert [cell.value for cell in book["tasks"]["A"]] == ["id", "T070", "T080", "T090", "C010"]
    frame = pandas.read_excel(plan_file.with_suffix(".xlsx"), sheet_name="tasks", dtype=str)
    assert frame.set_index("id").loc["T080", "duration"] == "30/40.5/65"
    table = pandas.read_csv(plan_file.with_suffix(".csv"), dtype=str)
    assert list(table["id"]) == ["T070", "T080", "T090", "C010"] and table["title"][2] == "'=1+1"  # marked: text
    written = plan_file.with_suffix(".csv").read_bytes()
    assert written.count(b"\r\n") == 5  # RFC 4180, section 2, rule 1: each record ends with CR LF
    rows = list(csv.reader(written.decode().splitlines(keepends=True), strict=True))
    assert {len(row) for row in rows} == {len(rows[0])}  # rule 4: the same number of fields throughout


def test_a_byte_order_mark_stands_before_text_that_is_not_ascii(tmp_path: Path) -> None:
    """A spreadsheet shows the text rightly only with the mark; plain ASCII goes without."""
    for title, marked in (("plain", False), ("\u00b5m", True)):
        plan = read_plan_from(written(tmp_path, FULL.replace("Swap, connect; check", title))).plan
        write_plan_to(tmp_path / "plan.csv", plan)
        assert (tmp_path / "plan.csv").read_bytes().startswith(b"\xef\xbb\xbf") == marked
        assert read_plan_from(tmp_path / "plan.csv").plan == plan


def written(folder: Path, text: str) -> Path:
    """A plan file with this text."""
    (folder / "plan.toml").write_text(text, encoding="utf-8")
    return folder / "plan.toml"


def test_what_a_file_cannot_hold_is_named_and_nothing_is_written(tmp_path: Path) -> None:
    """A title with spaces around it would come back without them; a workbook has no control characters."""
    read = read_plan_from(written(tmp_path, FULL.replace("Swap, connect; check", " Swap ")))
    for ending in (".csv", ".xlsx"):
        with pytest.raises(InputError) as refused:
            write_plan_to(tmp_path / f"other{ending}", read.plan)
        assert_problem(the_only(refused.value.problems), subject="task T080, key 'title'", expected="can hold", found="' Swap '",
                       cure="read back as 'Swap'")
    control = read_plan_from(written(tmp_path, FULL.replace("Swap, connect; check", "a\\u0007b")))
    with pytest.raises(InputError) as refused:
        write_plan_to(tmp_path / "other.xlsx", control.plan)
    assert "control character" in refused.value.problems[0].found
    assert [path.name for path in tmp_path.iterdir()] == ["plan.toml"]


def test_the_rest_beside_a_csv_keeps_its_comments(plan_file: Path) -> None:
    """The tasks leave the text, with the comments directly above them; the other tables stay as they were written."""
    read = read_plan_from(plan_file)
    done = write_plan_to(plan_file.with_suffix(".csv"), read.plan, source_text=read.text)
    rest = rest_beside(plan_file.with_suffix(".csv"))
    assert done.files == [plan_file.with_suffix(".csv"), rest]
    text = rest.read_text()
    assert text.count("# a lane") == 3 and "# about the task" not in text and done.comments_gone == 3
    back = read_plan_from(plan_file.with_suffix(".csv"))
    write_plan_to(plan_file.with_name("again.toml"), back.plan, back.text)
    again = plan_file.with_name("again.toml")
    assert load_plan(again) == load_plan(plan_file) and again.read_text().count("# a lane") == 3


def test_a_sheet_of_tasks_alone_needs_the_rest_of_a_plan(plan_file: Path) -> None:
    """It is refused with what to do; with a plan file that has the rest it is read."""
    plan = load_plan(plan_file)
    sheet = plan_file.with_name("tasks.csv")
    write_plan_to(sheet, plan)
    rest_beside(sheet).unlink()
    with pytest.raises(InputError) as refused:
        read_plan_from(sheet)
    assert_problem(the_only(refused.value.problems), subject="tasks.csv", expected="the rest of the plan", found="tasks only",
                   cure="--with PLAN.toml")
    assert read_plan_from(sheet, plan_file).plan == plan


def test_wrong_cells_of_every_sheet_are_named_by_sheet_row_and_column(plan_file: Path) -> None:
    """Nothing is read by halves: one wrong cell refuses the workbook, and each wrong cell is named."""
    book_file = plan_file.with_suffix(".xlsx")
    write_plan_to(book_file, load_plan(plan_file))
    book = openpyxl.load_workbook(book_file)
    book["tasks"]["D3"] = "soon"
    book["lanes"]["B2"] = "crow"
    book["suits"]["B4"] = "helium"
    book["sortie"]["B4"] = "late"
    book["alternatives"]["D3"] = "out side"
    book["checks"]["F2"] = "what is this"
    book.save(book_file)
    with pytest.raises(InputError) as refused:
        read_plan_from(book_file)
    places = {problem.where.removeprefix(f"{book_file}: sheet ") for problem in refused.value.problems}
    assert places == {
        "tasks, row 3, column start", "lanes, row 2", "suits, row 4, column consumable", "sortie, row 4",
        "alternatives, row 3, column option", "checks, row 2, column F",
    }


def test_a_start_that_a_spreadsheet_made_a_date_is_utc(plan_file: Path) -> None:
    """As every instant of a plan; the limit may be a time of the spreadsheet."""
    book_file = plan_file.with_suffix(".xlsx")
    write_plan_to(book_file, load_plan(plan_file))
    book = openpyxl.load_workbook(book_file)
    for row in book["sortie"].iter_rows():
        values = {"start": datetime(2031, 4, 12, 9, 30), "limit": timedelta(hours=6, minutes=30)}
        row[1].value = values.get(row[0].value, row[1].value)
    book.save(book_file)
    sortie = read_plan_from(book_file).plan.sortie
    assert (sortie.start, sortie.limit) == (datetime(2031, 4, 12, 9, 30, tzinfo=UTC), 390)


def test_what_the_check_finds_does_not_stop_a_conversion(plan_file: Path) -> None:
    """A plan in the making is read with its findings: an overlap is for the lead to settle, not for the reader."""
    plan_file.write_text(FULL.replace('start = "1:50"\nduration', 'start = "0:50"\nduration'))
    read = read_plan_from(plan_file)
    assert read.plan.all_tasks()["T080"].start == 50 and read.findings
    write_plan_to(plan_file.with_suffix(".xlsx"), read.plan)
    again = read_plan_from(plan_file.with_suffix(".xlsx"))
    assert again.plan == read.plan and any("row 3, column start" in one.where for one in again.findings)


def test_a_plan_of_every_default_writes_the_same_text_again(plan_file: Path) -> None:
    """A second round changes nothing any more."""
    once = plan_to_toml(load_plan(plan_file))
    plan_file.write_text(once)
    write_plan_to(plan_file, load_plan(plan_file), once)
    assert plan_file.read_text() == once


def test_a_sheet_without_a_task_is_blamed_itself(plan_file: Path) -> None:
    """Not the plan that has the rest."""
    empty = plan_file.with_name("empty.csv")
    empty.write_text("id,title\n")
    with pytest.raises(InputError) as wrong:
        read_plan_from(empty, plan_file)
    assert wrong.value.problems[0].subject == "file empty.csv"
