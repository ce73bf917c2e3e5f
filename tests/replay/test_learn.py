"""Durations learned from recorded runs."""

from __future__ import annotations

import math

import numpy as np
import pytest

from dashboard.cli.learn import LearnResult, learn_parts
from dashboard.core.plan.model import Duration
from dashboard.core.schedule.durations import pert_mean
from dashboard.log.planfile import examine_plan, load_plan
from replay.learn import (
    CrossValidation,
    Learned,
    cross_validated,
    fit,
    learned_table,
    observations,
    real_runs,
    three_points,
)
from replay.learned_plan import moved_starts, with_learned
from tests.pert import pert_variance
from tests.replay.runs import LANTERN, PLAN, run_of, simulated_runs
from tests.scenario import plan_of, task

LOG = """
    0:00 clock
    0:00 start T010
    0:00 start T030
    0:45 done T010
    0:45 start T020
    1:30 done T030
    1:30 done T020
"""
HALF_AS_MUCH_AGAIN = [(f"r{i}", run_of(LOG, setting="pool")) for i in range(12)]


def test_observed_is_what_the_fold_says():
    """Holds do not count, amended times do, what was withdrawn, trimmed or broken off says nothing."""
    log = """
        0:00 clock
        0:00 start T010
        0:10 hold T010
        0:20 resume T010
        0:40 done T010
        0:40 start T020
        1:00 done T020
        1:01 amend e7 changes={"at":"2031-04-12T10:20:00Z"}
        1:02 start T030
        1:03 withdraw e9
        2:00 done T030
    """
    seen = observations([("r", run_of(log, setting="pool"))]).set_index("task")
    assert dict(seen["actual_min"]) == {"T010": 30, "T020": 30}
    assert dict(seen["activity"]) == {"T010": "unstow", "T020": "carry"}


def test_work_shared_with_a_contingency_teaches_nothing():
    """EV1 went on with T010 while it wiped the leak; EV2's task beside it counts."""
    plan = plan_of(
        task("T010", "EV1", 0, 30) + task("T020", "EV2", 0, 30)
        + '[[contingency]]\nid = "leak"\ntrigger = "Leak seen"\nhold = []\n'
        + '[[contingency.task]]\nid = "C010"\ntitle = "Wipe"\nlanes = ["EV1"]\nduration = 10\n'
    )
    log = "0:00 clock\n0:00 start T010\n0:00 start T020\n0:05 insert leak\n{}\n0:40 done T010\n0:40 done T020"
    inside = observations([("r", run_of(log.format("0:10 start C010\n0:20 done C010"), plan))])
    assert set(inside["task"]) == {"T020"}
    after = observations([("r", run_of(log.format("") + "\n0:40 start C010\n0:50 done C010", plan))])
    assert set(after["task"]) == {"T010", "T020", "C010"}


def test_with_few_runs_the_answer_stays_near_the_brief():
    """Always half as long again: one run moves it a little, twelve runs most of the way, never past what was seen."""
    factors = [
        math.exp(fit(observations(HALF_AS_MUCH_AGAIN[:n])).tasks["t", "T010"].log_mean) for n in (1, 3, 12)
    ]
    assert 1.0 < factors[0] < factors[1] < factors[2] < 1.5
    assert factors[0] < 1.3 and factors[2] > 1.35


def test_evidence_stands_beside_what_was_learned():
    """How many tasks, in how many runs, in which settings."""
    table = learned_table(PLAN, fit(observations(HALF_AS_MUCH_AGAIN))).set_index("task")
    assert (table.loc["T010", "n"], table.loc["T010", "runs"], table.loc["T010", "settings"]) == (
        12,
        12,
        "pool",
    )
    assert (table.loc["T040", "from"], table.loc["T010", "from"]) == ("activity", "task")


def test_a_task_like_nothing_that_was_seen_stays_as_briefed():
    """Nothing is learned from nothing."""
    other = plan_of(task("X1", "EV1", 0, [20, 30, 50], activity="painting"))
    assert learned_table(other, fit(observations(HALF_AS_MUCH_AGAIN)))["learned_likely"].isna().all()


def test_the_setting_is_kept_apart_once_there_is_a_flight_run():
    """In flight as briefed, in the pool half as long again: the durations are those of flight, the factor is the pool's."""
    as_briefed = (
        LOG.replace("0:45", "0:30")
        .replace("1:30 done T020", "1:00 done T020")
        .replace("1:30 done T030", "1:00 done T030")
    )
    flights = [(f"f{i}", run_of(as_briefed, setting="flight")) for i in range(12)]
    found = fit(observations([*HALF_AS_MUCH_AGAIN, *flights]))
    assert found.for_setting == "flight"
    assert 1.2 < found.settings["pool"][0] < 1.5
    assert math.exp(found.tasks["t", "T010"].log_mean) < 1.15
    assert fit(observations(HALF_AS_MUCH_AGAIN)).settings == {}


def test_three_points_have_the_mean_and_spread_of_the_log_normal():
    """As a beta-PERT, within 2 % of the mean and 8 % of the standard deviation."""
    for sd in (0.1, 0.2, 0.35):
        low, likely, high = three_points(100.0, Learned(0.0, sd, 0.0, 9, 9, ("pool",)))
        duration = Duration(low=low, likely=likely, high=high)
        assert pert_mean(duration) == pytest.approx(100 * math.exp(sd**2 / 2), rel=0.02)
        assert math.sqrt(pert_variance(duration.low, duration.likely, duration.high)) == pytest.approx(
            100 * math.exp(sd**2 / 2) * math.sqrt(math.exp(sd**2) - 1), rel=0.08
        )


def test_what_the_simulation_put_in_is_found_again():
    """Forty simulated runs at 1.3 times the brief: every factor near that of the draws themselves."""
    seen = observations(simulated_runs(PLAN, 40, pace=1.3, spread=0.05))
    found = fit(seen)
    for name, rows in seen.groupby("task"):
        assert found.tasks["t", name].log_mean == pytest.approx(rows["log_ratio"].mean(), abs=0.05)


def test_leaving_one_run_out_tells_whether_it_pays():
    """It pays where the briefs are wrong, and is not said to where they are right."""
    slow = cross_validated(observations(simulated_runs(PLAN, 20, pace=1.4, spread=0.05)))
    right = cross_validated(observations(simulated_runs(PLAN, 20, pace=0.96, spread=0.05)))
    assert slow.learned_error < 0.7 * slow.briefed_error
    assert slow.learned_crps_min < slow.briefed_crps_min
    assert right.learned_error > 0.85 * right.briefed_error
    assert cross_validated(observations(HALF_AS_MUCH_AGAIN[:1])) is None


@pytest.mark.parametrize(
    ("learned", "says"),
    [
        ((0.1, 2.0), "learned durations beat the briefed ones. Mean"),
        ((0.1, 4.0), "learned durations beat the briefed ones by the log error only. Mean"),
        ((0.3, 2.0), "learned durations beat the briefed ones by the CRPS only. Mean"),
        ((0.3, 4.0), "learned durations do not beat the briefed ones. Mean"),
    ],
)
def test_whether_it_pays_is_said_in_a_sentence(learned: tuple[float, float], says: str):
    """By which of the two measures, and one run is one run."""
    seen = observations(HALF_AS_MUCH_AGAIN[:1])
    found = fit(seen)
    error, crps_min = learned
    checked = CrossValidation(2, 6, error, 0.2, crps_min, 3.0, 1)
    said = learn_parts(LearnResult(PLAN, seen, found, learned_table(PLAN, found), checked, 0, [], []))
    assert any(says in str(part) for part in said)
    assert said[0].startswith("Learned from 3 finished tasks of 1 run. ")


def test_the_run_left_out_teaches_nothing():
    """Two runs, one wild: what is forecast of the wild one is what the other alone gives."""
    wild = [*HALF_AS_MUCH_AGAIN[:1], ("wild", run_of(LOG.replace("0:45 done", "0:05 done"), setting="pool"))]
    seen = observations(wild)
    found = cross_validated(seen)
    alone = fit(seen[seen["run"] == "r0"])
    wild_rows = seen[seen["run"] == "wild"]
    by_other = [abs(r.log_ratio - alone.tasks["t", r.task].log_mean) for r in wild_rows.itertuples()]
    others = fit(seen[seen["run"] == "wild"])
    by_wild = [
        abs(r.log_ratio - others.tasks["t", r.task].log_mean) for r in seen[seen["run"] == "r0"].itertuples()
    ]
    assert found.learned_error == pytest.approx(np.mean([*by_other, *by_wild]))


def test_simulated_runs_do_not_mix_with_recorded_ones():
    """They are learned from only where there is nothing else."""
    simulated = simulated_runs(PLAN, 2)
    assert real_runs([*simulated, *HALF_AS_MUCH_AGAIN[:3]]) == (HALF_AS_MUCH_AGAIN[:3], 2)
    assert real_runs(simulated) == (simulated, 0)


def test_the_new_plan_keeps_its_comments_and_can_be_used(tmp_path):
    """Only durations and starts differ, and the plan passes its check."""
    text = (LANTERN / "plan.toml").read_text(encoding="utf-8")
    plan = load_plan(LANTERN / "plan.toml")
    table = learned_table(plan, fit(observations(simulated_runs(plan, 6, seed=5, pace=1.02))))
    made = with_learned(text, plan, table, "Learned")
    (tmp_path / "new.toml").write_text(made.text, encoding="utf-8")
    new, problems = examine_plan(tmp_path / "new.toml")
    assert new is not None, [p.text() for p in problems]
    old_lines, new_lines = text.splitlines(), made.text.splitlines()[2:]
    differ = [b for a, b in zip(old_lines, new_lines, strict=True) if a != b]
    assert differ and all(line.startswith(("duration = ", "start = ")) for line in differ)
    durations = {t.id: (t.duration.low, t.duration.likely, t.duration.high) for t in new.tasks}
    row = table.set_index("task").loc["T010"]
    assert durations["T010"] == (row["learned_low"], row["learned_likely"], row["learned_high"])


def test_starts_move_back_and_never_forward():
    """What a longer task runs into goes later, through lanes and links; the rest stays."""
    assert moved_starts(PLAN, {"T010": 40.0}) == {"T020": 40, "T040": 70}
    assert moved_starts(PLAN, {"T010": 10.0}) == {}


def test_a_task_learned_under_its_shortest_is_left_as_briefed():
    """And is named with the reason."""
    plan = plan_of(task("T010", "EV1", 0, [20, 30, 50], shortest=29, activity="unstow"))
    quick = [(f"r{i}", run_of(LOG.replace("0:45", "0:20"), setting="pool")) for i in range(9)]
    text = '[[task]]\nid = "T010"\nduration = [20, 30, 50]  # as briefed\n'
    made = with_learned(text, plan, learned_table(plan, fit(observations(quick))), "x")
    assert "shortest of 29 min" in made.kept["T010"]
    assert "[20, 30, 50]  # as briefed" in made.text
