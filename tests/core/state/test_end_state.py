"""The end of the sortie in the state, and why a figure of it is not known."""

from __future__ import annotations

from datetime import timedelta

import pytest

from dashboard.core.record.fold import reconcile
from dashboard.core.state.end_state import briefed_end_pet_min
from dashboard.core.state.follow import state_with_draws
from tests.core.state.made import LOG, PLAN, WORK
from tests.scenario import PET_ZERO, SORTIE, follow_at, lanes, log_of, plan_of, suit, task


def test_without_draws_the_percentiles_are_not_known_and_why_is_said():
    """No number stands in for what was not computed."""
    now = PET_ZERO + timedelta(minutes=40)
    state, expected = state_with_draws(reconcile(PLAN, log_of(LOG), now), now, draws=0)
    assert expected is None
    assert (state.end.p10_pet_min, state.end.p50_pet_min, state.end.p90_pet_min, state.end.in_by_limit) == (None,) * 4
    for name in ("p10_pet_min", "p50_pet_min", "p90_pet_min", "in_by_limit"):
        assert state.not_known[f"end.{name}"].startswith("not drawn")
    assert state.advice.needed is None


def test_the_percentiles_are_those_of_the_draws():
    """What the board shows and what the dialog draws are the same draws."""
    now = PET_ZERO + timedelta(minutes=40)
    state, expected = state_with_draws(reconcile(PLAN, log_of(LOG), now), now, draws=200)
    assert expected is not None and len(expected.end) == 200
    below = [(expected.end <= percentile).mean() for percentile in (state.end.p10_pet_min, state.end.p90_pet_min)]
    assert below == pytest.approx([0.1, 0.9], abs=0.01)
    assert state.end.in_by_limit == (expected.end <= 390).mean()


def test_the_briefed_end_is_that_of_the_crew_by_default():
    """Neither the arm, nor a get-ahead, nor an option that is not the default counts."""
    more = (
        task("T050", "ARM", 0, 300) + task("T060", "EV1", 160, 60) + task("T070", "EV1", None, 200, get_ahead=True)
        + '[[alternative]]\nid = "x"\ndefault = "short"\noptions = { short = ["T040"], long = ["T060"] }\n'
    )  # fmt: skip
    assert briefed_end_pet_min(plan_of(WORK + more)) == 150
    assert briefed_end_pet_min(plan_of(task("T050", "ARM", 0, 300))) is None


def test_a_closed_sortie_has_its_actual_end():
    """The crew's last work, and not the later event that closed it."""
    log = "0:00 clock\n0:00 start T010\n0:30 done T010\n0:00 start T030\n0:55 done T030\n1:10 end"
    end = follow_at(PLAN, log, "1:20").end
    assert (end.actual_pet_min, end.closed_pet_min, end.plan_pace_pet_min) == (55, 70, 55)


def test_a_consumable_that_is_never_used_up_says_so():
    """Instead of a time; and a suit that nobody wears says that."""
    idle = {"loaded": 1.0, "reserve": 0.4, "base": 0, "per_watt": 0}
    plan = plan_of(
        f"[sortie]\n{SORTIE}\n" + lanes({"EV1": "A", "EV2": None}) + suit("A", water=idle) + suit("B", water=idle) + WORK
    )
    said = follow_at(plan, LOG, "0:40").not_known
    assert said["suits.A.consumables.water.reserve_reached_pet_min"] == "never reached: no use is modelled"
    assert said["suits.B.consumables.water.reserve_reached_pet_min"] == "nobody wears this suit"
