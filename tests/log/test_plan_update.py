"""The text of a plan file changes only where the plan does, and keeps its comments."""

from __future__ import annotations

import difflib
from typing import Any

import pytest
from hypothesis import HealthCheck, Phase, given, settings

from dashboard.core.plan.model import Plan
from dashboard.log.plan_update import changed_plan_text, comment_lines, without_tasks
from dashboard.log.plantext import plan_to_toml
from tests.log.any_plan import any_plan
from tests.log.plans import FULL
from tests.log.test_plantext import read

TEXT = (
    FULL.replace('limit = "7:00"', 'limit = "7:00"   # set by the airlock')
    .replace('[[task]]\nid = "T070"', '# --- work ---\n\n# the first one\n[[task]]\nid = "T070"')
    .replace("loaded = 0.55", "loaded = 0.55   # kg, weighed")
)


def changed(plan: Plan, text: str = TEXT) -> list[str]:
    """The lines that change, each with its sign; the new text reads as the plan."""
    made = changed_plan_text(text, plan)
    assert made is not None and read(made.text) == plan
    lines = list(difflib.ndiff(text.splitlines(), made.text.splitlines()))
    return [line for line in lines if line[0] in "+-" and line[2:].strip()]


def with_task(plan: Plan, at: int, **values: Any) -> Plan:
    """The plan with other values in one task."""
    tasks = list(plan.tasks)
    tasks[at] = tasks[at].model_copy(update=values)
    return plan.model_copy(update={"tasks": tuple(tasks)})


def test_a_plan_that_did_not_change_keeps_its_text() -> None:
    """To the last sign, with the line ends of another system too."""
    for text in (TEXT, TEXT.replace("\n", "\r\n")):
        made = changed_plan_text(text, read(TEXT))
        assert made is not None and (made.text, made.comments_gone) == (text, 0)


def test_only_the_key_that_changed_is_written_again() -> None:
    """The comment behind it stays; a key that is gone goes, a new one comes."""
    plan = read(TEXT)
    assert changed(with_task(plan, 0, start=50.0)) == ['- start = "0:40"', '+ start = "0:50"']
    assert changed(with_task(plan, 0, required=False, priority=4)) == ["- required = true", "+ priority = 4"]
    limit = plan.model_copy(update={"sortie": plan.sortie.model_copy(update={"limit": 400.0})})
    assert changed(limit) == ['- limit = "7:00"   # set by the airlock', '+ limit = "6:40"   # set by the airlock']
    oxygen = plan.suits[0].oxygen
    assert oxygen is not None
    suit = plan.suits[0].model_copy(update={"oxygen": oxygen.model_copy(update={"loaded": 0.6})})
    assert changed(plan.model_copy(update={"suits": (suit, plan.suits[1])})) == [
        "- loaded = 0.55   # kg, weighed", "+ loaded = 0.6   # kg, weighed",
    ]


def test_a_step_of_a_contingency_changes_alone() -> None:
    """The contingency around it keeps its text; a further step is a table of its own."""
    plan = read(TEXT)
    leak = plan.contingencies[0]
    step = leak.tasks[0].model_copy(update={"title": "Look"})
    more = step.model_copy(update={"id": "C020"})
    lines = changed(plan.model_copy(update={"contingencies": (leak.model_copy(update={"tasks": (step, more)}),)}))
    assert lines[:2] == ['+ title = "Look"', "+ [[contingency.task]]"] and '+ id = "C020"' in lines


def test_a_task_that_goes_takes_its_own_comment_and_leaves_that_of_its_section() -> None:
    """A comment with a blank line below it speaks of what follows, whichever task that is."""
    plan = read(TEXT.replace('after = ["T070"]\nfollows = [{ task = "T070", lag = 7.5 }]\n', ""))
    made = changed_plan_text(TEXT, plan.model_copy(update={"tasks": plan.tasks[1:2]}))
    assert made is not None and made.comments_gone == 1
    assert "# the first one" not in made.text and '# --- work ---\n\n[[task]]\nid = "T080"' in made.text


def test_tasks_in_another_order_take_their_texts_along() -> None:
    """And a new task stands where the plan has it."""
    plan = read(TEXT)
    first, second, third = plan.tasks
    new = third.model_copy(update={"id": "T095"})
    made = changed_plan_text(TEXT, plan.model_copy(update={"tasks": (third, new, second, first)}))
    assert made is not None and made.comments_gone == 0
    assert [line for line in made.text.split("\n") if line.startswith('id = "T')] == [
        'id = "T090"', 'id = "T095"', 'id = "T080"', 'id = "T070"',
    ]
    assert "# the first one\n[[task]]\nid = \"T070\"" in made.text


@pytest.mark.parametrize("text", ["", "not toml at all =", "[sortie]\nid = 3\n", 'sortie.id = "x"\n'])
def test_a_text_that_is_no_plan_is_not_changed(text: str) -> None:
    """The caller writes the plan anew, and says so."""
    assert changed_plan_text(text, read(TEXT)) is None


def test_a_plan_with_its_tasks_in_one_list_is_not_changed_piece_by_piece() -> None:
    """None is given, not a text with half of it."""
    head, _, _ = FULL.partition("[[task]]")
    text = 'task = [{ id = "T070", lanes = ["EV1"], start = 0, duration = 5 }]\n' + head
    assert changed_plan_text(text, read(TEXT)) is None


def test_comments_are_counted_and_signs_in_texts_are_not() -> None:
    """A whole line, and the end of a line."""
    assert comment_lines('# one\nid = "a # b"  # two\nkey = \'#\'\n  # three\n') == 3


def test_the_rest_of_a_plan_has_no_task_left() -> None:
    """Nor one of a contingency; its own comments stay."""
    rest = without_tasks(TEXT)
    assert rest is not None and "T090" not in rest and "C010" not in rest
    assert "# set by the airlock" in rest and "# the first one" not in rest and "[[alternative]]" in rest


@given(one=any_plan(), other=any_plan())
@settings(max_examples=20, deadline=None, phases=[Phase.explicit, Phase.generate], suppress_health_check=[HealthCheck.too_slow])
def test_any_plan_can_become_any_other(one: Plan, other: Plan) -> None:
    """The text that comes out reads as the other plan."""
    made = changed_plan_text(plan_to_toml(one), other)
    assert made is not None and Plan.model_validate(read_tables(made.text)) == other


def read_tables(text: str) -> dict[str, Any]:
    """The tables of a text."""
    import tomllib

    return tomllib.loads(text)
