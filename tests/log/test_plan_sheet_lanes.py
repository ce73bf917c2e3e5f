"""Who does a task, as sheets say it: in a column by any name, or refused where the words are no names of lanes."""

from __future__ import annotations

from pathlib import Path

import pytest

from dashboard.log.plan_sheet import read_plan_sheet
from tests.log.test_real_sheets import book, read
from tests.problems import assert_problem


@pytest.mark.parametrize("name", ["By", "Who", "Performed by", "Crew", "Responsible"])
def test_a_column_of_lanes_by_any_name_for_who_does_it(tmp_path: Path, name: str) -> None:
    """`By` may also be the writer of a row, so that one holds lanes only where every cell names nothing but lanes."""
    rows = [["ID", name, "Duration"], ["T1", "EV1, EV2", 5], ["T2", "Arm", 5]]
    assert [one.get("lanes") for one in read(book(tmp_path, rows)).tasks] == [["EV1", "EV2"], ["Arm"]]
    rows[2][1] = "Kim"
    assert ("lanes" in read(book(tmp_path, rows)).tasks[0]) is (name not in ("By", "Responsible"))
    known = read_plan_sheet(book(tmp_path, rows), known={"EV1", "EV2", "Kim"})
    assert [one["lanes"] for one in known.tasks] == [["EV1", "EV2"], ["Kim"]]


def test_a_word_for_several_lanes_and_words_that_may_be_one_or_two_are_refused(tmp_path: Path) -> None:
    """They would become lanes of their own; a name that the plan has is taken, with or without a space in the cell."""
    path = book(tmp_path, [["ID", "Crew", "Duration"], ["T1", "Both", 5], ["T2", "Robotic arm", 5], ["T3", "EV1 EV2", 5]])
    both, arm = read_plan_sheet(path).problems
    assert_problem(both, subject="row 2", expected="the names of the lanes", found="'Both'", cure="EV1 EV2")
    assert_problem(arm, subject="row 3", expected="the names of the lanes", found="may be one lane or 2", cure="Robotic-arm")
    known = read_plan_sheet(path, known={"Both", "Robotic", "arm"})
    assert [one["lanes"] for one in known.tasks] == [["Both"], ["Robotic", "arm"], ["EV1", "EV2"]] and known.problems == []
