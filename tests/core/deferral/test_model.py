"""The constraint model is held against the forward pass."""

from __future__ import annotations

import pytest

from dashboard.core.base.times import parse_instant
from dashboard.core.deferral.change import with_change
from dashboard.core.deferral.items import deferral_of
from dashboard.core.deferral.solve import solve
from dashboard.core.record.fold import reconcile
from dashboard.core.schedule.plan_pace import project
from tests.core.deferral.plans import START, random_plan, with_holds


@pytest.mark.parametrize("resequence", [False, True], ids=["order kept", "order free"])
@pytest.mark.parametrize("holds", [False, True], ids=["nothing begun", "work on hold"])
def test_the_end_of_the_optimum_is_that_of_the_forward_pass(holds, resequence):
    """On 60 random records: the change that the model finds, placed by the forward pass, ends when the model says.

    With the order free the model's starts give the order.
    """
    compared = changed = 0
    for seed in range(60):
        plan = random_plan(seed, trims=seed % 2 == 0)
        record = with_holds(plan, seed) if holds else reconcile(plan, [], parse_instant(START))
        problem = deferral_of(record, project(record), {}, plan.sortie.limit)
        found = solve(problem, resequence=resequence)
        if found is None:
            continue
        placed = project(with_change(record, found.change))
        assert (placed.end_pet_min or 0.0) == pytest.approx(found.end_pet_min, abs=1e-6), seed
        assert placed.out_of_turn == []
        compared += 1
        changed += found.change.count() > 0
    assert compared > 30
    assert changed > 10
