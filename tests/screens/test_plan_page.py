"""The plan page before the plan file is read."""

from __future__ import annotations

from dashboard.core.plan.model import Task
from dashboard.log.plan_sheet_columns import COLUMNS
from dashboard.screens import ids
from dashboard.screens.plan_page import BUTTONS, KEYS, WIDTHS, column_help, plan_layout
from tests.screens.plans import plain_plan


def test_every_column_of_a_task_sheet_is_on_the_page_with_its_meaning() -> None:
    """The meaning is the description of the field, so that it cannot drift from the schema."""
    assert set(WIDTHS) == set(COLUMNS)
    assert all(column_help(column) for column in WIDTHS)
    assert column_help("shortest") == Task.model_fields["shortest"].description


def test_every_place_that_the_browser_fills_is_there_once() -> None:
    """And those of the lane sheet, which the board's module draws."""
    found = [part.id for part in plan_layout(plain_plan())._traverse() if getattr(part, "id", None)]
    assert sorted(found) == sorted(set(found))
    assert {*ids.Plan, ids.Sheet.REGION, ids.Sheet.GRAPH, ids.Sheet.RAIL, ids.Sheet.OUT, ids.Sheet.BACK} <= set(found)


def test_a_key_that_a_button_names_stands_in_the_list_of_keys() -> None:
    """Both are for the same act."""
    listed = " ".join(key for key, _ in KEYS)
    named = [said.rpartition("(")[2].rstrip(")") for _, _, said in BUTTONS]
    assert named and all(key in listed for key in named)
