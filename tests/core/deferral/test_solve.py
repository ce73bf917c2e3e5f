"""The strict order of the solver, on cases worked out by hand."""

from __future__ import annotations

from dashboard.core.base.times import parse_instant
from dashboard.core.deferral.items import deferral_of
from dashboard.core.deferral.solve import Solution, solve
from dashboard.core.events.change import Change
from dashboard.core.record.fold import reconcile
from dashboard.core.schedule.plan_pace import project
from tests.core.deferral.cases import LANES
from tests.scenario import at, log_of, plan_of, task

END = task("END", "EV1", 90, 30, required=True)
# With END they last 130 min: 30 of them have to go.
MANY = (
    task("HIGH", "EV1", 0, 30, priority=1, value=0.1) + task("LOW1", "EV1", 30, 30, priority=3, value=5.0)
    + task("LOW2", "EV1", 60, 40, priority=3, value=5.0) + END
)


def solved(tables: str, **more) -> Solution | None:
    record = reconcile(plan_of(LANES + tables), log_of("0:00 clock"), parse_instant(at("0:00")))
    return solve(deferral_of(record, project(record), {}, 100), **more)


def given(found: Solution | None) -> tuple[str, ...]:
    assert found is not None and found.proven
    return found.change.given_up()


def test_a_higher_class_counts_before_any_value_of_a_lower_one() -> None:
    """HIGH is worth a fiftieth of LOW2, and stays: of two that cost the same, LOW2 goes, since the end is then earlier."""
    found = solved(MANY)
    assert given(found) == ("LOW2",)
    assert found is not None and found.end_pet_min == 90


def test_of_equal_value_the_fewest_changes_are_made() -> None:
    """BOTH is worth as much as P and Q together, and one change is fewer than two, although P and Q end earlier."""
    tables = (
        task("P", "EV1", 0, 20, value=1.0) + task("Q", "EV1", 20, 20, value=1.0) + task("BOTH", "EV1", 40, 35, value=2.0)
        + END.replace("duration = 30", "duration = 58")
    )
    assert given(solved(tables)) == ("BOTH",)
    less = tables.replace("value = 2.0", "value = 2.1")
    assert given(solved(less)) == ("P", "Q")


def test_the_whole_of_a_class_counts_before_the_changes() -> None:
    """Two tasks of class 3 go rather than one of class 1."""
    tables = (
        task("HIGH", "EV1", 0, 30, priority=1) + task("L1", "EV1", 30, 15, priority=3) + task("L2", "EV1", 45, 15, priority=3)
        + END.replace("duration = 30", "duration = 70")
    )
    assert given(solved(tables)) == ("L1", "L2")


def test_nothing_is_found_when_nothing_keeps_the_limit() -> None:
    """END alone is too long. Without the limit the earliest way in is to defer all the rest."""
    long = MANY.replace("duration = 30\nstart = 90", "duration = 101\nstart = 90")
    assert solved(long) is None
    assert given(solved(long, limit=False)) == ("HIGH", "LOW1", "LOW2")


def test_what_is_to_be_kept_and_what_was_refused_is_not_given_again() -> None:
    """Without LOW2 and then without LOW1 as an answer, HIGH goes."""
    assert given(solved(MANY, keep_one_of=[["LOW2"]])) == ("LOW1",)
    assert given(solved(MANY, failed=[Change(defer=("LOW2",))])) == ("LOW1",)
    assert given(solved(MANY, keep_one_of=[["LOW1"], ["LOW2"]])) == ("HIGH",)


def test_a_hint_does_not_change_the_optimum() -> None:
    """Even a poor one."""
    assert given(solved(MANY, hint=Change(defer=("HIGH", "LOW1")))) == ("LOW2",)
