"""Scores of recorded runs: what was projected, with what was known then, against what happened."""

from __future__ import annotations

import re
from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta

import numpy as np
import pytest

from dashboard.cli.score import score_parts
from dashboard.core.state.follow import follow
from dashboard.figures.score_plot import error_figure
from replay.library import BrokenRun
from replay.moments import Unscorable, alert_load, score_run, truth_of
from replay.recording import recorded
from replay.score import as_json, groups, score_all, summary
from replay.score_page import page
from tests.replay.runs import PLAN, run_of, simulated_runs
from tests.scenario import SORTIE, lanes, log_of, plan_of, suit, task

LOG = """
    0:00 clock
    0:00 start T010
    0:00 start T030
    0:40 done T010
    0:40 start T020
    1:10 done T030
    1:20 done T020
    1:20 start T040
    3:00 done T040
    3:00 end
"""


def test_the_truth_is_the_log_as_a_whole():
    """End of the crew, finishes of what was done, and whether it was in by the limit."""
    truth = truth_of(run_of(LOG))
    assert truth.end_pet_min == 180
    assert truth.finish_pet_min == {"T010": 40, "T020": 80, "T030": 70, "T040": 180}
    assert truth.in_by_limit is True


def test_each_moment_is_scored_with_what_was_known_then():
    """Errors are projected less actual, of the very percentiles that the board showed."""
    run = run_of(LOG)
    moments = score_run(run, "r").moments
    at_start, later = moments.iloc[0], moments[moments["pet_min"] == 80].iloc[-1]
    state = follow(run.plan, run.known_at(run.marks[0]), run.marks[0])
    assert at_start["error"] == pytest.approx(state.end.p50_pet_min - 180)
    assert (at_start["p10"], at_start["p90"]) == pytest.approx((state.end.p10_pet_min, state.end.p90_pet_min))
    assert at_start["briefed_error"] == pytest.approx(150 - 180)
    assert later["plan_pace_error"] == pytest.approx(80 + 90 - 180)
    assert later["briefed_plus_delay_error"] == pytest.approx(150 + 20 - 180)
    assert later["tasks"] == 1


def test_a_late_entry_changes_what_was_known_and_not_what_happened():
    """The done of T010 came in an hour late: until then it looks an hour worse, and the truth is the same."""
    events = [
        e.model_copy(update={"received": e.at + timedelta(minutes=60 if e.id == "e4" else 0)})
        for e in log_of(LOG)
    ]
    late = recorded(PLAN, events)
    assert truth_of(late)[:2] == truth_of(run_of(LOG))[:2]
    errors = [
        score_run(run, "r").moments.query("pet_min == 80")["plan_pace_error"].iloc[-1]
        for run in (late, run_of(LOG))
    ]
    assert errors[0] == errors[1]  # T040 had begun, and sets the end
    early = [score_run(run, "r").moments.query("pet_min == 70").iloc[0] for run in (late, run_of(LOG))]
    assert early[0]["p50"] != early[1]["p50"]


def test_a_run_that_stops_half_way_is_not_scored_and_says_why():
    """There is no end to score against."""
    with pytest.raises(Unscorable, match="1 crew task still open"):
        truth_of(run_of("\n".join(LOG.strip().splitlines()[:8])))


def test_pet_zero_that_came_late_does_not_shift_the_score():
    """Moments before the clock event was known are left out; PET is counted as known afterwards."""
    events = [
        e.model_copy(update={"received": e.at + timedelta(minutes=20 if e.kind == "clock" else 0)})
        for e in log_of(LOG)
    ]
    moments = score_run(recorded(PLAN, events), "r").moments
    assert moments["pet_min"].min() == 20


def test_moments_after_the_last_change_of_plan_are_told_apart():
    """A projection cannot know what will be given up."""
    run = run_of(LOG.replace("1:20 start T040", "1:15 defer T010\n1:20 start T040"))
    moments = score_run(run, "r").moments
    assert set(moments[moments["settled"].astype(bool)]["pet_min"]) == {75, 80}


@pytest.mark.parametrize(
    ("log", "verdict"),
    [
        (LOG.replace("3:00", "6:50"), "right: in after the limit"),
        (LOG, "none, rightly"),
    ],
)
def test_the_first_warning_is_judged_by_what_came(log: str, verdict: str):
    """In by the limit or not decides, where nothing was given up."""
    assert score_run(run_of(log), "r").warned.verdict == verdict


def test_a_warning_that_was_acted_on_is_not_called_right_or_wrong():
    """What would have been cannot be known."""
    log = LOG.partition("1:20 done T020")[0] + "4:50 done T020\n    5:00 defer T040\n    5:00 end"
    score = score_run(run_of(log), "r")
    assert score.warned.verdict.startswith("acted on")
    assert score.warned.before_giving_up_min > 0


def test_alert_load_counts_what_comes_up():
    """Mean and most in ten minutes, and an alert that comes up a third time within a minute."""
    seen = [(0.0, []), (1.0, ["a"]), (1.2, []), (1.4, ["a"]), (1.6, []), (1.8, ["a", "b"]), (40.0, ["a"])]
    load = alert_load(seen)
    assert (load.came_up, load.most_in_10_min, load.toggles) == (4, 4, 1)
    assert load.mean_per_10_min == pytest.approx(1.0)
    assert alert_load([(0.0, ["a"]), (5.0, ["a"])]).mean_per_10_min is None


def test_every_run_weighs_the_same():
    """A long log does not drown a short one."""
    scores = [
        score_run(run, name) for name, run in (("a", run_of(LOG)), ("b", run_of(LOG.replace("3:00", "3:40"))))
    ]
    table = summary(scores)
    whole = table.stages.set_index("stage").loc["whole sortie"]
    assert whole["mae_min"] == pytest.approx(np.mean([s.moments["error"].abs().mean() for s in scores]))
    assert whole["moments"] == sum(len(s.moments) for s in scores)
    assert set(table.forecasts["forecast"]) == {
        "expected",
        "plan pace",
        "briefed end",
        "briefed end plus current delay",
    }


def test_any_executor_gives_the_same_scores_in_the_same_order():
    """One after another, and several at once."""
    runs = simulated_runs(PLAN, 4)
    told: list[str] = []
    plain = as_json(score_all(runs, draws=200, scored=told.append))
    with ThreadPoolExecutor(2) as pool:
        assert as_json(score_all(runs, pool, draws=200)) == plain
    assert told == ["r0", "r1", "r2", "r3"]


def test_simulated_runs_are_kept_apart_and_broken_ones_named():
    """Never one table over both."""
    runs = [
        *simulated_runs(PLAN, 1),
        ("real", run_of(LOG, setting="pool")),
        ("bad", BrokenRun("bad", "no plan")),
    ]
    scores = score_all(runs, draws=200)
    assert {name: [s.name for s in group] for name, group in groups(scores).items()} == {
        "recorded": ["real"],
        "simulated": ["r0"],
    }
    assert as_json(scores)["not_scored"] == [{"name": "bad", "why": "no plan"}]


def test_the_page_needs_no_other_host():
    """The browser's library is inside; nothing is loaded, and nothing can be sent away."""
    text = page(score_all([("<b>", run_of(LOG, setting="pool"))], draws=200))
    own = re.sub(r"<script>.*?</script>", "", text, count=1, flags=re.DOTALL)
    assert "<script" in own and not re.search(r"(src|href)\s*=", own)
    assert '"showSendToCloud": false' in own
    assert "<b>" not in own
    assert "Not certified for flight use" in own


def test_the_axis_of_the_page_is_pet_as_everywhere():
    """H:MM at round minutes, for a run of 3 h."""
    figure = error_figure({"r": [(0.0, 1.0), (180.0, 2.0)]})
    axis = figure["layout"]["xaxis"]
    assert figure["data"][0]["customdata"] == ["0:00", "3:00"]  # on hovering
    assert axis["title"]["text"] == "PET"
    assert axis["ticktext"] == ["0:00", "0:30", "1:00", "1:30", "2:00", "2:30", "3:00"]
    assert axis["tickvals"] == [0, 30, 60, 90, 120, 150, 180]


def test_an_outcome_that_is_not_known_is_said_in_place_of_an_empty_diagram():
    """No reading says whether the suits kept their reserve: neither diagram nor table, but why."""
    wearing = lanes({"EV1": "A", "EV2": None}) + suit("A", oxygen={"loaded": 0.55, "reserve": 0.09})
    plan = plan_of(f"[sortie]\n{SORTIE}{wearing}{task('T010', 'EV1', 0, 30)}")
    unknown = score_all([("r", run_of("0:00 clock\n0:00 start T010\n0:30 done T010\n0:30 end", plan))], draws=200)
    assert unknown[0].in_by_limit is None
    why = "in no run do the readings show whether every suit kept its reserve"
    known = score_all([("r", run_of(LOG))], draws=200)
    assert [text.count('<div id="f') for text in (page(unknown), page(known))] == [2, 3]
    assert [why in text for text in (page(unknown), page(known))] == [True, False]
    assert any(why in str(part) for part in score_parts(unknown))


def test_what_the_board_says_is_what_holds_when_the_model_is_true():
    """Simulated at the model's own spread, P10 to P90 of the end holds about four times in five (60 to 95 %)."""
    scores = score_all(simulated_runs(PLAN, 18, spread=0.1, correlation=0.7), draws=400)
    held = summary(scores).stages.set_index("stage").loc["whole sortie", "held"]
    assert 0.6 < held < 0.95
