"""A plan started from answers, or from the tasks of a sheet."""

from __future__ import annotations

from pathlib import Path

import pytest

from dashboard.core.base.problems import InputError
from dashboard.log.new_plan import Answers, plan_of_answers, plan_of_sheet, typed_task, with_answers
from dashboard.log.plan_sheet import HowToRead
from tests.problems import assert_problem, the_only

ANSWERS = Answers("next", "", "2031-05-01T08:00:00Z", "6:30")


@pytest.mark.parametrize(
    ("text", "task"),
    [
        ("Carry bags; EV1 EV2; 20/25/40", {"title": "Carry bags", "lanes": ["EV1", "EV2"], "duration": [20, 25, 40]}),
        ("Carry bags;EV1, EV2;1h30; mast", {"title": "Carry bags", "lanes": ["EV1", "EV2"], "duration": 90, "worksite": "mast"}),
    ],
)
def test_a_task_is_typed_in_one_line(text: str, task: dict):
    """Title, lanes and minutes, as in a sheet; a worksite may follow."""
    assert typed_task(text, 3) == {"id": "T030", **task}


@pytest.mark.parametrize("text", ["Carry bags", "Carry; EV1", "Carry; EV1; soon", "Carry; EV1; 40/30/20", ";EV1;3", ""])
def test_a_task_in_another_form_is_refused(text: str):
    """With the form, or with what the duration should be."""
    with pytest.raises(ValueError, match="'TITLE; LANES; MINUTES'|minutes such as"):
        typed_task(text, 1)


def test_lanes_are_known_by_their_names_unless_somebody_says_what_they_are(tmp_path: Path):
    """EV1 is crew, what has arm in it an arm; names that are given leave the others as other."""
    sheet = tmp_path / "tasks.csv"
    sheet.write_text("id,lanes,start,duration,contingency\nT1,EV1 Robotarm Ground,0:00,30,\nC1,EV1,,5,leak\n")
    by_name = plan_of_sheet(sheet, ANSWERS, HowToRead()).plan
    assert [(lane.id, lane.kind) for lane in by_name.lanes] == [("EV1", "crew"), ("Robotarm", "arm"), ("Ground", "other")]
    assert by_name.contingencies[0].tasks[0].id == "C1"
    given = plan_of_sheet(sheet, ANSWERS._replace(crew=["Ground"], arms=["EV1"]), HowToRead()).plan
    assert [(lane.id, lane.kind) for lane in given.lanes] == [("Ground", "crew"), ("EV1", "arm"), ("Robotarm", "arm")]


def test_answers_that_cannot_be_used_are_refused_by_their_key():
    """Nothing of the plan is made."""
    with pytest.raises(InputError) as refused:
        plan_of_answers(ANSWERS._replace(limit="30:00"))
    problem = the_only(refused.value.problems)
    assert_problem(problem, subject="table [sortie], key 'limit'", expected="at most 1440", found="30:00",
                   cure="up to 24 hours")


def test_answers_change_only_what_they_say():
    """An empty answer leaves the plan as it is."""
    plan = plan_of_answers(ANSWERS)
    assert with_answers(plan, Answers("", "", "", "")) == plan
    assert with_answers(plan, Answers("", "New", "", "")).sortie == plan.sortie.model_copy(update={"title": "New"})


def test_a_sheet_without_starts_gives_them_by_the_order_of_its_rows(tmp_path: Path):
    """The report says so. A sheet with a column of starts keeps what it says, and a get-ahead has none."""
    sheet = tmp_path / "tasks.csv"
    sheet.write_text("title,lanes,duration,get_ahead\nOut,EV1 EV2,10/15/20,\nArm,ARM,5,\nIn,EV1,30,\nMore,EV1,5,yes\n")
    read = plan_of_sheet(sheet, ANSWERS, HowToRead())
    assert [task.start for task in read.plan.tasks] == [0, 0, 15, None]
    assert {one.code for one in read.findings} == {"no-suit"}
    assert any("No column holds starts" in one for one in read.sheet.remarks)
    sheet.write_text("title,lanes,start,duration\nOut,EV1 EV2,,10/15/20\nIn,EV1,0:40,30\n")
    read = plan_of_sheet(sheet, ANSWERS, HowToRead())
    assert [task.start for task in read.plan.tasks] == [None, 40] and "no-start" in [one.code for one in read.findings]
