"""What the search says when it runs out of checks: the answer keeps the rules, and its proof claims no more than is proven."""

from __future__ import annotations

import pytest

from dashboard.core.deferral.advise import advise
from dashboard.core.deferral.items import deferral_of
from dashboard.core.deferral.levels import LOSS_SCALE, Selection
from dashboard.core.deferral.search import OutOfChecks, Search
from dashboard.core.deferral.validate import faults
from dashboard.core.record.fold import reconcile
from dashboard.core.schedule.plan_pace import project
from dashboard.core.suits.budget import budgets
from tests.scenario import PET_ZERO, log_of, plan_of, task

LANES = '[sortie]\nid = "t"\nstart = 2031-04-12T09:10:00Z\nlimit = 100\n[[lane]]\nid = "EV1"\nkind = "crew"\n'
ENDING = (
    '[[alternative]]\nid = "ending"\ndefault = "long"\n[alternative.options]\nlong = ["LONG"]\nshort = ["SHORT"]\n'
)


def first_choice(tables):
    """The record, and its first choice with 80 % confidence."""
    record = reconcile(plan_of(LANES + tables), log_of("0:00 clock"), PET_ZERO)
    return record, advise(record, confidence=0.8, draws=200, choices=1).proposals[0]


def without_whole_minutes(monkeypatch):
    """Let every search in whole minutes run out of checks."""
    best = Search.best

    def runs_out(self, *args):
        if self.by_minutes:
            raise OutOfChecks
        return best(self, *args)

    monkeypatch.setattr(Search, "best", runs_out)


@pytest.mark.parametrize("solver_finds", [True, False])
def test_without_checks_a_task_that_required_work_needs_is_not_given_up(monkeypatch, solver_finds):
    """A costs least, but R is required and comes after it: B goes, also without the plan-pace answer to fall back on."""
    monkeypatch.setattr("dashboard.core.deferral.search.MOST_CHECKS", 0)
    if not solver_finds:
        monkeypatch.setattr("dashboard.core.deferral.advise._Adviser._tightened", lambda self, *args: None)
    tables = task("A", "EV1", 0, 40, priority=3) + task("B", "EV1", 40, 50, priority=1)
    record, first = first_choice(tables + task("R", "EV1", 90, 30, required=True, after=["A"]))
    assert first.reached
    assert first.figures.change.given_up() == ("B",)
    assert faults(record, first.figures.change, None) == []
    assert not first.proven


@pytest.mark.parametrize("names", ["AZM", "ZAM", "MZA"])
def test_without_checks_the_latest_of_equals_goes(monkeypatch, names):
    """Three tasks are worth the same and one must go: the one that begins last, whatever it is called."""
    monkeypatch.setattr("dashboard.core.deferral.search.MOST_CHECKS", 0)
    monkeypatch.setattr("dashboard.core.deferral.advise._Adviser._tightened", lambda self, *args: None)
    tables = "".join(task(name, "EV1", 30 * i, 30, priority=3) for i, name in enumerate(names))
    _, first = first_choice(tables + task("R", "EV1", 90, 20, required=True))
    assert first.figures.change.defer == (names[-1],)
    assert not first.proven


def test_with_few_lengths_per_trim_the_least_cost_is_not_called_proven(monkeypatch):
    """T may be cut to 20 min; with two lengths tried, nobody knows that no other length costs less."""
    without_whole_minutes(monkeypatch)
    _, first = first_choice(task("T", "EV1", 0, 60, priority=2, shortest=20) + task("R", "EV1", 60, 60, required=True))
    assert first.reached
    assert not first.proven
    assert "costs less" not in first.why


def test_with_few_lengths_per_trim_a_change_that_gives_up_nothing_is_proven(monkeypatch):
    """Handing T to EV2 loses nothing, so no length of a trim can cost less."""
    without_whole_minutes(monkeypatch)
    tables = task("T", "EV1", 0, 60, priority=2, shortest=20, can_move_to=["EV2"])
    _, first = first_choice('[[lane]]\nid = "EV2"\nkind = "crew"\n' + tables + task("R", "EV1", 60, 60, required=True))
    assert first.figures.change.move == {"T": "EV2"}
    assert first.figures.value_lost == {}
    assert first.proven


def test_the_proof_does_not_reach_to_options_that_were_not_searched_to_the_end(monkeypatch):
    """The short ending is proven to cost nothing more than B. The long one ran out of checks, so the choice is not proven."""
    best = Search.best

    def runs_out(self, *args):
        if not self.choose:
            raise OutOfChecks
        return best(self, *args)

    tables = (
        task("B", "EV1", 0, 40, priority=3) + task("LONG", "EV1", 40, 90) + task("SHORT", "EV1", 40, 30)
        + task("R", "EV1", 130, 50, required=True) + ENDING
    )
    _, proven = first_choice(tables)
    monkeypatch.setattr(Search, "best", runs_out)
    _, first = first_choice(tables)
    assert first.figures.change == proven.figures.change
    assert first.figures.change.choose == {"ending": "short"}
    assert proven.proven
    assert not first.proven
    assert "other options" in first.proof


def test_options_that_ran_out_of_checks_leave_the_proof_when_they_must_lose_more(monkeypatch):
    """The long ending loses LONG of class 2 at least, as the cuts show; the short one loses B of class 3."""
    best, ran_out = Search.best, []

    def runs_out_once(self, *args):
        found = best(self, *args)
        if not self.choose and not ran_out:
            ran_out.append(self)
            raise OutOfChecks
        return found

    monkeypatch.setattr(Search, "best", runs_out_once)
    tables = (
        task("B", "EV1", 0, 40, priority=3) + task("LONG", "EV1", 40, 90) + task("SHORT", "EV1", 40, 30)
        + task("R", "EV1", 130, 50, required=True) + ENDING
    )
    _, first = first_choice(tables)
    assert ran_out
    assert first.figures.value_lost == {3: 1.0}
    assert first.proven


def test_a_search_ends_without_a_draw_when_the_cuts_show_that_all_that_is_left_is_too_dear():
    """Only without A the crew is in; A is worth 1 of class 1. A second search for a loss of nothing draws no set."""
    tables = task("A", "EV1", 0, 60, priority=1) + task("B", "EV1", 60, 60)
    record = reconcile(plan_of(LANES + tables), log_of("0:00 clock"), PET_ZERO)
    projection = project(record)
    problem = deferral_of(record, projection, budgets(record, projection), 100)

    def is_out(change):
        return "A" in change.defer

    def never(change):
        return False

    search = Search(problem, {}, is_out, never, never, lambda change: 0.0)
    assert search.best().change.given_up() == ("A",)
    search.known.clear()
    search.left = 0
    assert search.best(no_worse_than={1: 0}) is None
    with pytest.raises(OutOfChecks):
        search.best(no_worse_than={1: 2 * LOSS_SCALE})


def test_losses_are_compared_class_by_class_and_a_difference_of_rounding_is_none():
    """Equal in class 1 but for rounding, class 2 decides; a true difference in class 1 decides at once."""
    record = reconcile(plan_of(LANES + "".join(
        task(n, "EV1", 60 * i, 60, priority=p) for i, (n, p) in enumerate((("A", 1), ("B", 2)))
    )), log_of("0:00 clock"), PET_ZERO)
    projection = project(record)
    problem = deferral_of(record, projection, budgets(record, projection), 100)
    search = Search(problem, {}, bool, bool, bool, lambda change: 0.0)
    both = Selection({"A": 1, "B": 1}, {})
    loss = search.tasks["A"].levels[1].loss
    assert search._worse(both, 2, {1: loss - 3, 2: loss // 2})
    assert not search._worse(both, 1, {1: loss - 3, 2: loss // 2})
    assert not search._worse(both, 2, {1: loss + 3, 2: loss - 3})
    assert not search._worse(both, 2, {1: 2 * loss, 2: 0})
    assert search._worse(both, 2, {1: loss // 2, 2: 2 * loss})
