"""The check of the confidence says the same as the figures of a change, and its quick answers are never too strict."""

from __future__ import annotations

from dashboard.core.base.times import parse_instant
from dashboard.core.deferral.change import closed
from dashboard.core.deferral.confidence import ConfidenceCheck
from dashboard.core.deferral.figures import figures_of
from dashboard.core.events.change import Change
from dashboard.core.record.fold import reconcile
from dashboard.core.schedule.pace import learn_pace
from dashboard.core.schedule.plan_pace import project
from tests.core.deferral.plans import START, drawn, random_plan, uncertain
from tests.scenario import PET_ZERO, log_of, plan_of, task

CONFIDENCE, DRAWS = 0.8, 300


def check_of(record):
    """The check of one record."""
    return ConfidenceCheck(record, project(record), CONFIDENCE, DRAWS, learn_pace(record))


def test_a_change_passes_when_its_figures_reach_the_confidence_and_no_window_is_missed():
    """On 25 random plans, for giving up nothing and each single task: the same answer as by all draws without a quick look."""
    answers = []
    for seed in range(25):
        record = reconcile(uncertain(random_plan(seed, trims=False), seed), [], parse_instant(START))
        check, expected = check_of(record), drawn(CONFIDENCE, DRAWS)
        for change in (Change(), *(closed(record, Change(defer=(t,))) for t in record.runs)):
            answers.append(check.passes(change))
            assert answers[-1] == expected(record, change), (seed, change)
            assert not (answers[-1] and check.late(change)), (seed, change)
            assert not (answers[-1] and check.hopeless(change)), (seed, change)
    assert 10 < sum(answers) < len(answers) - 10


LANES = '[sortie]\nid = "t"\nstart = 2031-04-12T09:10:00Z\nlimit = 100\n'
LANES += "".join(f'[[lane]]\nid = "{n}"\nkind = "crew"\n' for n in ("EV1", "EV2"))


def test_what_a_hand_over_can_save_is_late_but_not_hopeless():
    """Two hours of work in one lane: late as it is, in time with B in the other lane."""
    tables = task("A", "EV1", 0, [50, 60, 70]) + task("B", "EV1", 60, [50, 60, 70], can_move_to=["EV2"])
    check = check_of(reconcile(plan_of(LANES + tables), log_of("0:00 clock"), PET_ZERO))
    assert check.late(Change())
    assert not check.hopeless(Change())
    assert check.passes(Change(move={"B": "EV2"}))


def test_without_draws_the_check_is_made_at_plan_pace():
    """100 min of work fit the limit of 100, with a probability of about one half; 101 do not."""
    for minutes, fits in ((40, True), (41, False)):
        tables = task("A", "EV1", 0, [50, 60, 90]) + task("B", "EV1", 60, minutes)
        record = reconcile(plan_of(LANES + tables), log_of("0:00 clock"), PET_ZERO)
        assert ConfidenceCheck(record, project(record), CONFIDENCE, 0, learn_pace(record)).passes(Change()) is fits
        assert figures_of(record, project(record), Change(), confidence=CONFIDENCE, draws=DRAWS).in_by_limit < CONFIDENCE
