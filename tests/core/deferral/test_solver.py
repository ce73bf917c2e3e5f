"""The change of least cost, by every way of solving."""

from __future__ import annotations

import pytest

from dashboard.core.base.times import parse_instant
from dashboard.core.deferral.solver import Solver
from dashboard.core.deferral.wish import Wish
from dashboard.core.record.fold import reconcile
from tests.core.deferral.cases import LANES, WORK
from tests.scenario import at, log_of, plan_of


def solver(limit: int, basis: str = "plan-pace", wish: Wish | None = None) -> Solver:
    """For 110 min of work and 10 min home, to be in by a limit."""
    plan = plan_of(LANES.replace("limit = 100", f"limit = {limit}") + WORK)
    assert plan.sortie.limit_less_reserve_pet_min == limit
    record = reconcile(plan, log_of("0:00 clock"), parse_instant(at("0:00")))
    draws = 400 if basis == "expected" else 0
    return Solver(record, 0.9, basis, wish or Wish(), draws, 1, 3, None, lambda: False)  # type: ignore[arg-type]


@pytest.mark.parametrize("basis", ["plan-pace", "expected"])
def test_the_least_cost_is_proven_on_both_bases(basis: str) -> None:
    """C alone makes room for the limit."""
    found = solver(95, basis).best([])
    assert found is not None and found.proven
    assert found.figures.change.defer == ("C",)


def test_what_is_kept_of_an_earlier_answer_costs_more() -> None:
    """Something of C must stay: B goes in its place."""
    one = solver(95)
    first, other = one.best([]), one.best([["C"]])
    assert first is not None and other is not None
    assert other.figures.change.defer == ("B",)
    assert one.cost(first.figures) < one.cost(other.figures)


def test_what_a_person_gives_up_counts_as_given_up() -> None:
    """With A asked for, nothing more need go: the whole change is A."""
    one = solver(85, wish=Wish(give_up=frozenset({"A"})))
    found = one.best([])
    assert found is not None and one.whole(found.figures.change).defer == ("A",)


def test_nothing_is_found_where_nothing_is_enough() -> None:
    """The way home alone takes longer than the limit."""
    assert solver(2).best([]) is None
