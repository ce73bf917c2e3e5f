"""The tasks of a plan file as rows of texts, and back."""

from __future__ import annotations

import tomllib

from hypothesis import HealthCheck, Phase, given, settings

from dashboard.core.plan.model import Plan
from dashboard.log.plan_rows import rows_of, tables_of, without_rows
from dashboard.log.plantext import plan_to_toml
from tests.log.any_plan import any_plan
from tests.scenario import LANES, SORTIE, task

CONTINGENCY = '[[contingency]]\nid = "leak"\nhold = ["T010"]\n[[contingency.task]]\nid = "C010"\nlanes = ["EV1"]\nduration = 10\n'
TABLES = tomllib.loads(
    f"[sortie]\n{SORTIE}\n{LANES}\n"
    + task("T010", "EV1 EV2", "0:00", [20, 30, 50], title="Swap tray")
    + task("T020", "EV1", "0:30", 40, after=["T010"], follows=[{"task": "T010", "lag": 5}])
    + CONTINGENCY
)


@settings(max_examples=25, deadline=None, phases=[Phase.explicit, Phase.generate], suppress_health_check=[HealthCheck.too_slow])
@given(any_plan())
def test_rows_read_back_as_the_same_plan(plan: Plan) -> None:
    """Every table, every key, odd names and texts."""
    tables = tomllib.loads(plan_to_toml(plan))
    read = tables_of(rows_of(tables), tables)
    assert not read.problems
    assert Plan.model_validate(read.tables) == plan


def test_a_row_holds_the_texts_of_a_task_sheet() -> None:
    """Lists with spaces, three points with strokes, a lag with a plus; an absent key is empty; a step names its contingency."""
    first, second, step = rows_of(TABLES)
    assert (first["lanes"], first["start"], first["duration"], first["after"]) == ("EV1 EV2", "0:00", "20/30/50", "")
    assert (second["after"], second["follows"]) == ("T010", "T010+5")
    assert (first["contingency"], step["id"], step["contingency"]) == ("", "C010", "leak")


def test_a_place_in_the_tables_leads_back_to_its_row() -> None:
    """For tasks of the plan and for steps, in whatever order the rows stand."""
    rows = rows_of(TABLES)
    read = tables_of([rows[2], rows[0], rows[1]], TABLES)
    assert read.places == {("contingency", 0, "task", 0): 0, ("task", 0): 1, ("task", 1): 2}
    assert [one["id"] for one in read.tables["task"]] == ["T010", "T020"]


def test_a_contingency_that_does_not_exist_is_a_problem_of_its_cell() -> None:
    """And it names the near one."""
    rows = rows_of(TABLES)
    (wrong,) = tables_of([{**rows[2], "contingency": "leek"}], TABLES).problems
    assert (wrong.row, wrong.column) == (0, "contingency")
    assert "'leek'" in wrong.problem.text() and "leak" in wrong.problem.cure


def test_rows_that_go_take_the_links_to_them_along() -> None:
    """Links to tasks that stay, stay."""
    rows = [*rows_of(TABLES)[:2], {"id": "T030", "after": "T010 T020", "follows": "T010+5 T020+2"}]
    second, third = without_rows(rows, {0})
    assert (second["after"], second["follows"]) == ("", "")
    assert (third["after"], third["follows"]) == ("T020", "T020+2")
