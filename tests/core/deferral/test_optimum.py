"""The optimiser finds the true lexicographic optimum."""

from __future__ import annotations

import pytest

from dashboard.core.base.times import parse_instant
from dashboard.core.deferral.advise import Wish, advise
from dashboard.core.deferral.change import with_change
from dashboard.core.deferral.draws import Draws
from dashboard.core.deferral.validate import faults
from dashboard.core.events.change import Change
from dashboard.core.record.fold import reconcile
from dashboard.core.schedule.expected import expect
from dashboard.core.schedule.pace import learn_pace
from dashboard.core.schedule.plan_pace import project
from tests.core.deferral.plans import (
    START,
    best_by_trying_all,
    best_in_any_order,
    best_to_the_second,
    breathing,
    drawn,
    random_plan,
    rank,
    rank_as_drawn,
    uncertain,
    with_endings,
    with_holds,
    with_sense,
)


@pytest.mark.parametrize("trims", [False, True], ids=["whole", "with trims"])
@pytest.mark.parametrize("block", range(15))
def test_the_optimum_is_that_of_trying_every_subset(trims, block):
    """On 300 random plans the advice has exactly the rank of the best of all subsets, or says there is none."""
    for seed in range(block * 10, block * 10 + 10):
        record = reconcile(random_plan(seed, trims=trims), [], parse_instant(START))
        best = best_by_trying_all(record)
        first = advise(record, basis="plan-pace", on_demand=True, choices=1).proposals[0]
        if best is None:
            assert not first.reached, seed
            continue
        assert first.reached, seed
        assert first.proven, seed
        assert rank(record, first.figures.change, first.figures.end_pet_min) == pytest.approx(best, abs=2e-3), seed
        assert faults(record, first.figures.change, record.plan.sortie.limit) == []


@pytest.mark.parametrize("trims", [False, True], ids=["whole", "with trims"])
@pytest.mark.parametrize("block", range(6))
def test_the_optimum_makes_sense_and_is_that_of_trying_every_subset_that_does(trims, block):
    """On 300 random plans with groups, obliged and serving tasks and legs: the rank of the best subset that makes sense."""
    refused = 0
    for seed in range(block * 25, block * 25 + 25):
        plain = random_plan(seed, trims=trims)
        record = reconcile(with_sense(plain, seed), [], parse_instant(START))
        best = best_by_trying_all(record)
        first = advise(record, basis="plan-pace", on_demand=True, choices=1).proposals[0]
        assert first.reached is (best is not None), seed
        if best is None:
            continue
        assert first.proven, seed
        assert rank(record, first.figures.change, first.figures.end_pet_min) == pytest.approx(best, abs=2e-3), seed
        assert faults(record, first.figures.change, record.plan.sortie.limit) == [], seed
        without = advise(reconcile(plain, [], parse_instant(START)), basis="plan-pace", on_demand=True, choices=1).proposals[0]
        refused += bool(faults(record, without.figures.change, None))
    assert refused > 0


@pytest.mark.parametrize("trims", [False, True], ids=["whole", "with trims"])
@pytest.mark.parametrize("block", range(8))
def test_the_optimum_is_that_of_trying_every_subset_under_every_ending(trims, block):
    """On 320 random plans, most with an alternative: the rank of the best of all subsets under each option."""
    taken, opened = 0, 0
    for seed in range(block * 20, block * 20 + 20):
        record = reconcile(with_endings(random_plan(seed, trims=trims), seed), [], parse_instant(START))
        if not any(record.in_plan(t) for t in record.runs):
            continue
        best = best_by_trying_all(record)
        first = advise(record, basis="plan-pace", on_demand=True, choices=1).proposals[0]
        assert first.reached is (best is not None), seed
        if best is None:
            continue
        taken += bool(first.figures.change.choose)
        opened += bool(first.figures.leaves_open)
        assert first.proven, seed
        assert rank(record, first.figures.change, first.figures.end_pet_min) == pytest.approx(best, abs=2e-3), seed
        assert faults(record, first.figures.change, record.plan.sortie.limit) == []
    assert taken
    assert opened


@pytest.mark.parametrize("block", range(6))
def test_the_optimum_is_that_of_trying_every_subset_when_suits_run_low(block):
    """On 120 random plans whose oxygen or battery binds, trims to the second: the rank of the best of all subsets."""
    bound = 0
    for seed in range(block * 20, block * 20 + 20):
        record = reconcile(breathing(random_plan(seed, trims=True), seed), [], parse_instant(START))
        best = best_to_the_second(record)
        first = advise(record, basis="plan-pace", on_demand=True, choices=1).proposals[0]
        assert first.reached is (best is not None), seed
        if best is None:
            continue
        bound += bool(first.figures.change.given_up()) and min(first.figures.margins_min.values()) < 2
        assert first.proven, seed
        assert rank(record, first.figures.change, first.figures.end_pet_min) == pytest.approx(best, abs=2e-4), seed
        assert faults(record, first.figures.change, record.plan.sortie.limit) == []
    assert bound > 0


@pytest.mark.parametrize("block", range(4))
def test_the_optimum_with_the_order_free_is_that_of_trying_every_order(block):
    """On 24 random plans with suits that run low: the rank of the best of all subsets in all orders."""
    for seed in range(block * 10, block * 10 + 10):
        plan = breathing(random_plan(seed, trims=False), seed)
        if len(plan.tasks) > 5:
            continue
        record = reconcile(plan, [], parse_instant(START))
        best = best_in_any_order(record)
        wish = Wish(resequence=True)
        first = advise(record, basis="plan-pace", on_demand=True, choices=1, wish=wish).proposals[0]
        assert first.reached is (best is not None), seed
        if best is None:
            continue
        assert first.proven, seed
        assert rank(record, first.figures.change, first.figures.end_pet_min) == pytest.approx(best, abs=2e-4), seed
        assert faults(record, first.figures.change, record.plan.sortie.limit) == []


@pytest.mark.parametrize("block", range(10))
def test_the_optimum_is_that_of_trying_every_subset_when_work_on_hold_may_be_broken_off(block):
    """On 150 random records with work on hold behind other tasks: the rank of the best of all subsets."""
    broken_off = 0
    for seed in range(block * 15, block * 15 + 15):
        record = with_holds(random_plan(seed, trims=False), seed)
        best = best_by_trying_all(record)
        first = advise(record, basis="plan-pace", on_demand=True, choices=1).proposals[0]
        assert first.reached is (best is not None), seed
        if best is None:
            continue
        broken_off += bool(first.figures.change.break_off)
        assert first.proven, seed
        assert rank(record, first.figures.change, first.figures.end_pet_min) == pytest.approx(best, abs=2e-3), seed
        assert faults(record, first.figures.change, record.plan.sortie.limit) == []
    assert broken_off > 0


@pytest.mark.parametrize("block", range(6))
def test_with_confidence_it_is_the_least_cost_of_every_subset_drawn(block):
    """On 120 random plans with windows the advice has the rank of the best of all subsets, each tried by the same draws.

    Of sets of equal cost it is the one whose first task starts latest, then the second, and so on; then the earliest end counts.
    """
    found_one = 0
    for seed in range(block * 20, block * 20 + 20):
        trims = seed % 4 == 0
        plan = uncertain(random_plan(seed, trims=trims), seed)
        plan = with_endings(plan, seed) if seed % 3 == 0 else with_sense(plan, seed) if seed % 3 == 1 else plan
        if trims and sum(t.shortest is not None for t in plan.tasks) > 2:
            continue
        record = reconcile(plan, [], parse_instant(START))
        confidence = (0.8, 0.9)[seed % 2]
        ranked = rank_as_drawn(400)
        best = best_by_trying_all(record, drawn(confidence, 400), ranked)
        first = advise(record, confidence=confidence, on_demand=True, draws=400, choices=1).proposals[0]
        assert first.reached is (best is not None), seed
        if best is None:
            continue
        found_one += bool(first.figures.change.given_up())
        assert first.proven, seed
        own = ranked(record, first.figures.change, first.figures.end_pet_min)
        assert own[:-2] == pytest.approx(best[:-2], abs=2e-3), seed
        assert own[-2] == pytest.approx(best[-2], abs=2e-3), seed
        assert own[-1] == pytest.approx(best[-1], abs=2e-3), seed
        assert faults(record, first.figures.change, None) == []
    assert found_one > 3


def test_the_draws_of_many_changes_are_those_of_the_projection():
    """What is kept between two draws alters nothing: the ends are those of `expect`, to the last bit."""
    compared = 0
    for seed in range(60):
        record = reconcile(uncertain(random_plan(seed, trims=True), seed), [], parse_instant(START))
        projection, pace = project(record), learn_pace(record)
        draws = Draws.of(record, projection, 200, pace, projection.slots)
        if draws is None:
            continue
        cuttable = {t: float(run.task.shortest) for t, run in record.runs.items() if run.task.shortest is not None}
        leaves = [t for t in record.runs if not any(t in run.task.after for run in record.runs.values())]
        for change in (Change(), Change(trim=cuttable), Change(defer=tuple(t for t in leaves[:1] if t not in cuttable))):
            changed = with_change(record, change)
            expected = expect(changed, project(changed), draws=200, pace=pace, paced_at=projection.slots)
            ours = draws.end(change)
            assert (expected is None) == (ours is None), seed
            if expected is not None:
                assert (expected.end == ours).all(), seed
                compared += 1
    assert compared > 100


def test_the_validator_sees_what_is_wrong():
    """It is no rubber stamp: a required task given up, a follower left behind, and an end past the limit are named."""
    for seed in range(200):
        plan = random_plan(seed, trims=False)
        record = reconcile(plan, [], parse_instant(START))
        required = [t.id for t in plan.tasks if t.required]
        parents = {needed for t in plan.tasks for needed in t.after}
        if required and parents:
            break
    assert "required" in [rule.code for rule in faults(record, Change(defer=(required[0],)), 1e6)]
    assert "past the limit" in [rule.code for rule in faults(record, Change(), 1.0)]
