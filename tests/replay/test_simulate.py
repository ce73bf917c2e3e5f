"""Simulated runs: logs that fit, but for what is made not to."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from dashboard.core.state.follow import follow
from dashboard.log.planfile import load_plan
from replay.conditions import TROUBLES, Conditions
from replay.listing import listing
from replay.recording import load_run
from replay.simulate import simulate, write_simulated
from tests.replay.runs import LANTERN, PLAN

LANTERN_PLAN = load_plan(LANTERN / "plan.toml")
PLAN_TEXT = (LANTERN / "plan.toml").read_text(encoding="utf-8")
FITS = {name: 2.0 for name in TROUBLES if name != "forgotten"}


def last_state(run):
    return follow(LANTERN_PLAN, run.events, max(e.received for e in run.events), draws=0)


@pytest.mark.parametrize("troubles", [{}, FITS], ids=["calm", "troubled"])
def test_a_simulated_log_fits_its_plan(troubles: dict[str, float]):
    """No discrepancy, nothing unread, the sortie ended, and nothing of the crew left, whatever troubles it had."""
    for number in range(12):
        state = last_state(simulate(LANTERN_PLAN, Conditions(1.1, troubles=troubles), 7, number))
        assert (state.discrepancies, state.unread, state.ended) == ([], [], True), number
        assert [
            t
            for t, s in state.tasks.items()
            if s.in_plan and not s.get_ahead and s.state not in ("done", "broken off")
        ] == []


def test_troubles_are_in_the_log():
    """Each of them leaves its own events in some of the runs, and late entries come in minutes late."""
    runs = [simulate(LANTERN_PLAN, Conditions(1.1, troubles=FITS), 7, number) for number in range(12)]
    kinds = {e.kind for run in runs for e in run.events}
    assert {"insert", "hold", "resume", "amend", "withdraw", "trim", "reading", "check"} <= kinds
    lags = [
        (e.received - e.at).total_seconds() / 60
        for run in runs
        for e in run.events
        if e.kind in ("start", "done")
    ]
    assert max(lags) > 4
    inserted = [run for run in runs if any(e.kind == "insert" for e in run.events)]
    held = [t for run in inserted for t in last_state(run).tasks.values() if t.origin == "contingency"]
    assert held and all(task.state == "done" for task in held)


def test_what_is_left_out_on_purpose_is_all_that_does_not_fit():
    """A forgotten start makes one discrepancy, at the done that is named in the run."""
    runs = [simulate(LANTERN_PLAN, Conditions(troubles={"forgotten": 2.0}), 7, number) for number in range(8)]
    assert any(run.on_purpose for run in runs)
    for run in runs:
        assert sorted(d.event for d in last_state(run).discrepancies) == sorted(run.on_purpose)


def test_the_same_seed_gives_the_same_bytes(tmp_path: Path):
    """And another seed another run."""
    for name, seed in (("a", 3), ("b", 3), ("c", 4)):
        assert (
            len(
                list(
                    write_simulated(
                        LANTERN_PLAN, PLAN_TEXT, tmp_path / name, 2, seed, Conditions(troubles=FITS)
                    )
                )
            )
            == 2
        )
    bytes_of = {
        name: [path.read_bytes() for path in sorted((tmp_path / name).rglob("*")) if path.is_file()]
        for name in "abc"
    }
    assert bytes_of["a"] == bytes_of["b"]
    assert bytes_of["a"] != bytes_of["c"]


def test_a_simulated_run_says_that_it_is_one(tmp_path: Path):
    """In its header, in the list, and in its first note."""
    list(write_simulated(LANTERN_PLAN, PLAN_TEXT, tmp_path, 1, 1, Conditions()))
    run = load_run(tmp_path / "run-0001")
    assert (run.setting, listing(tmp_path)["setting"].iloc[0]) == ("simulated", "simulated")
    assert "not a record" in run.notes
    assert next(e.text for e in run.events if e.kind == "note") == "A simulated run: none of this happened."


def paces(*lanes_tasks: list[str], **conditions) -> np.ndarray:
    """Mean log ratio of the tasks of each lane: one row for each lane, one column for each run."""
    found = []
    for number in range(150):
        run = simulate(PLAN, Conditions(**conditions), 11, number)
        state = follow(PLAN, run.events, run.events[-1].received, draws=0)
        found.append([
            np.mean([np.log(state.tasks[t].worked_min / PLAN.all_tasks()[t].likely_min) for t in tasks]) for tasks in lanes_tasks
        ])
    return np.array(found).T


def test_pace_spread_and_correlation_are_those_asked_for():
    """Twice the pace is twice the time; lanes wholly correlated go fast or slow together, uncorrelated ones do not."""
    twice, once = paces(["T010", "T020"], pace=2.0, spread=0.0), paces(["T010", "T020"], spread=0.0)
    assert twice.mean() - once.mean() == pytest.approx(np.log(2), abs=0.01)
    together, apart = (paces(["T010", "T020"], ["T030"], spread=0.4, correlation=share) for share in (1.0, 0.0))
    assert np.corrcoef(*together)[0, 1] > 0.7
    assert abs(np.corrcoef(*apart)[0, 1]) < 0.3
    assert together[0].std() == pytest.approx(0.4, abs=0.12)


@pytest.mark.parametrize(
    "wrong",
    [
        {"pace": 0.0},
        {"spread": 2},
        {"correlation": -1},
        {"troubles": {"storm": 1}},
        {"troubles": {"hold": 99}},
    ],
)
def test_conditions_that_make_no_sense_are_refused(wrong: dict):
    """With what would make sense."""
    with pytest.raises(ValueError, match=", not "):
        Conditions(**wrong)
