"""A plan written back is the same plan, and still one that a person can read."""

from __future__ import annotations

from pathlib import Path

from hypothesis import given
from hypothesis import strategies as st

from dashboard.core.plan.check import build_plan
from dashboard.core.plan.model import Plan
from dashboard.log.planfile import load_plan, read_toml
from dashboard.log.plantext import plan_to_toml
from tests.log.plans import FULL


def read(text: str) -> Plan:
    """The plan in a text."""
    return build_plan(read_toml(text, Path("plan.toml")))


def test_what_is_written_reads_as_the_same_plan() -> None:
    """Every table and key comes back, to the last half minute."""
    assert read(plan_to_toml(read(FULL))) == read(FULL)


def test_what_is_written_reads_like_a_plan(tmp_path: Path) -> None:
    """PET as H:MM, whole numbers whole, defaults left out."""
    (tmp_path / "plan.toml").write_text(FULL)
    text = plan_to_toml(load_plan(tmp_path / "plan.toml"))
    assert 'start = "1:50"\nduration = [30, 40.5, 65]\nshortest = 25.5\n' in text
    assert 'follows = [{task = "T070", lag = 7.5}]' in text
    assert "required = false" not in text and "can_move_to = []" not in text


def test_a_timed_wait_and_a_single_value_are_told_apart() -> None:
    """Three equal values come back as three, one as one."""
    for given_as in ("[20, 20, 20]", "20"):
        plan = read(FULL.replace("duration = [30, 40.5, 65]\nshortest = 25.5", f"duration = {given_as}"))
        changed = plan.all_tasks()["T080"]
        assert changed.duration.exact == (given_as != "20")
        text = plan_to_toml(plan)
        assert f"duration = {given_as}\n" in text and read(text) == plan


@given(st.text(max_size=40), st.floats(0, 400), st.floats(0, 1e3))
def test_any_title_start_and_value_survive(title: str, start: float, value: float) -> None:
    """Quotes, brackets, odd characters and fractions of minutes."""
    plan = read(FULL)
    task = plan.tasks[0].model_copy(update={"title": title, "start": start, "value": value})
    changed = plan.model_copy(update={"tasks": (task,), "alternatives": (), "contingencies": ()})
    assert read(plan_to_toml(changed)) == changed
