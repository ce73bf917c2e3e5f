"""Headings of task sheets that stand in two or three rows: read in full, or refused with both rows named."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from dashboard.core.base.problems import InputError
from dashboard.log.plan_sheet import PlanSheet, read_plan_sheet
from tests.log.test_real_sheets import book, read
from tests.problems import assert_problem, the_only

HEAD = ["ID", "Title", "Crew", "Start", "Duration"]
ROWS = [["T1", "Swap", "EV1", "0:10", 0.5], ["T2", "Carry", "EV2", "0:40", 1.5]]
BELOW = {"id": "T1", "title": "Swap", "lanes": ["EV1"], "start": "0:10"}


def first_task(folder: Path, *heads: list[Any], merge: tuple[str, ...] = ()) -> dict[str, Any]:
    """The first of two tasks below these headings."""
    sheet = read(book(folder, [*heads, *ROWS], merge))
    assert len(sheet.tasks) == 2 and sheet.table.header_row == len(heads)
    return sheet.tasks[0]


@pytest.mark.parametrize(
    ("heads", "minutes"),
    [
        ([HEAD, [None, None, None, "planned", "planned"]], 0.5),
        ([HEAD, ["task number", "what is done", "who does it", "h:mm after PET 0", "in minutes"]], 0.5),
        ([HEAD, ["name", "text", "names", "h:mm", "decimal hours"]], 30),
        ([HEAD, ["number", "what", "who", "when", "how long (hours)"]], 30),
        ([["ID", "Title", "Crew", "Times", None], [None, None, None, "Start", "Dur"], [None, None, None, "PET", "hours"]], 30),
        ([["Task", None, "People", "When", None], ["No.", "Title", "Performed by", "Start", "Length"],
          [None, None, None, "PET", "h"]], 30),
    ],
)  # fmt: skip
def test_details_units_and_groups_around_the_headings_are_no_tasks(
    tmp_path: Path, heads: list[list[Any]], minutes: float
) -> None:
    """Whatever they say; hours count as such, also in a sentence."""
    assert first_task(tmp_path, *heads) == {**BELOW, "duration": minutes}


def test_lanes_below_a_heading_for_all_of_them(tmp_path: Path) -> None:
    """Each is a column of marks, though its name has a digit."""
    rows = [["ID", "Title", "Crew", None, "Start", "Duration"], [None, None, "EV1", "EV2", "PET", "min"],
            ["T1", "Swap", "x", "x", "0:10", 10], ["T2", "Carry", None, "x", "0:20", 10]]  # fmt: skip
    assert [one["lanes"] for one in read(book(tmp_path, rows, ("C1:D1",))).tasks] == [["EV1", "EV2"], ["EV2"]]


def test_three_points_named_min_likely_and_max(tmp_path: Path) -> None:
    """Below one heading `min` is the shortest time and no unit."""
    rows = [["ID", "Crew", "Duration (min)", None, None], [None, None, "min", "likely", "max"], ["T1", "EV1", 5, 10, 20]]
    assert read(book(tmp_path, rows)).tasks[0]["duration"] == [5, 10, 20]


def test_a_row_that_may_be_a_task_or_headings_is_refused_with_both_rows(tmp_path: Path) -> None:
    """With what to do in either case; a task with one time that can be read is a task."""
    with pytest.raises(InputError) as refused:
        read_plan_sheet(book(tmp_path, [HEAD, ["T1", "Swap", "EV1", "tbd", "soon"], *ROWS]))
    assert_problem(the_only(refused.value.problems), subject="rows 1 and 2", expected="headings in one row",
                   found="'tbd' for Start and 'soon' for Duration", cure="delete row 2")
    sheet: PlanSheet = read_plan_sheet(book(tmp_path, [HEAD, ["T1", "Swap", "EV1", "0:10", "soon"]]))
    assert [one["duration"] for one in sheet.tasks] == ["soon"]


def test_two_columns_of_one_key_below_a_group_are_both_named(tmp_path: Path) -> None:
    """With the options that tell which of them is meant; these options then work."""
    rows = [["ID", "Crew", "Duration", None], [None, None, "Planned", "Last run"], ["T1", "EV1", 5, 10]]
    path = book(tmp_path, rows)
    assert_problem(the_only(read_plan_sheet(path).problems), subject="column 'Duration / Last run'",
                   expected="one column for 'duration'", found="'Duration / Planned'", cure="--leave-out 'Duration / Last run'")
    kept = read(path, columns={"duration": "Duration / Planned"}, leave_out=["Duration / Last run"])
    assert kept.tasks == [{"id": "T1", "lanes": ["EV1"], "duration": 5}]
