"""A library of recorded runs."""

from __future__ import annotations

from pathlib import Path

import pytest

from dashboard.core.base.problems import InputError
from replay.library import find_logs, write_run
from replay.listing import listing
from replay.recording import as_it_was, load_run
from tests.command import LOG, PLAN
from tests.replay.runs import run_of
from tests.scenario import follow_at, log_of, plan_of


def written(folder: Path, **header: str) -> Path:
    write_run(
        folder,
        PLAN,
        load_run_events(),
        {"title": "Pool run 3", "setting": "pool", "date": "2031-03-02", **header},
    )
    return folder


def load_run_events():
    return log_of("0:00 clock\n0:01 start T010\n0:36 done T010\n0:37 start T020")


def test_a_run_is_written_and_read_as_one_folder(tmp_path: Path):
    """Plan, log and header come back as they went in."""
    run = load_run(written(tmp_path / "a", notes="Calm water."))
    assert (run.title, run.setting, run.date, run.notes) == (
        "Pool run 3",
        "pool",
        "2031-03-02",
        "Calm water.",
    )
    assert [e.id for e in run.events] == ["e1", "e2", "e3", "e4"]


def test_a_folder_that_holds_a_run_is_not_written_over(tmp_path: Path):
    """Nothing recorded is lost by a slip in the name of a folder."""
    written(tmp_path / "a")
    with pytest.raises(InputError, match="a folder without a run"):
        written(tmp_path / "a")


def test_the_list_says_how_each_run_went(tmp_path: Path):
    """Setting, date, sortie, events, length to the last event, and the most that a crew lane was behind."""
    written(tmp_path / "pool" / "a")
    row = listing(tmp_path).iloc[0]
    assert (row["name"], row["setting"], row["date"], row["sortie"], row["events"]) == (
        "pool/a",
        "pool",
        "2031-03-02",
        "t",
        4,
    )
    assert row["length_min"] == pytest.approx(37)
    assert row["worst_behind_min"] == pytest.approx(37)  # EV2 has not begun
    assert not row["ended"]


def test_the_list_names_the_broken_run_and_says_why(tmp_path: Path):
    """One run that cannot be read leaves the others listed."""
    written(tmp_path / "a")
    (tmp_path / "b").mkdir()
    (tmp_path / "b" / "log.jsonl").write_text(LOG, encoding="utf-8")
    found = listing(tmp_path).set_index("name")
    assert found.loc["a", "why"] == ""
    assert "plan.toml" in found.loc["b", "why"] and "no such file" in found.loc["b", "why"]


def test_worst_behind_is_withheld_while_pet_zero_is_not_known(tmp_path: Path):
    """No clock event, and the first start 15 h after its brief: 15 h of waiting are not 15 h behind."""
    events = log_of("15:01 start T010\n15:36 done T010\n15:37 start T020\n15:40 end")
    write_run(tmp_path / "a", PLAN, events, {"setting": "pool"})
    row = listing(tmp_path).iloc[0]
    assert row["worst_behind_min"] is None
    assert row["pet_zero_doubt"] == "the first start of the log, T010, is 15 h 01 min after its brief"
    assert row["length_min"] == pytest.approx(39)  # from the first event on


def test_a_broken_header_is_said(tmp_path: Path):
    """And is no reason to lose the run from the list."""
    folder = written(tmp_path / "a")
    (folder / "run.toml").write_text("title = ", encoding="utf-8")
    assert "run.toml:1: line 1" in listing(tmp_path)["why"].iloc[0]


def test_a_folder_without_runs_is_refused(tmp_path: Path):
    """With what was looked for."""
    with pytest.raises(InputError, match="none at or below"):
        find_logs(tmp_path)


def test_as_it_was_counts_events_from_when_they_happened():
    """Entered 20 min late, shown at its time; amended from the beginning; withdrawn never there."""
    run = run_of(
        "0:00 clock\n0:01 start T010\n0:02 start T030\n0:40 start T020\n"
        '0:41 withdraw e4\n0:50 amend e3 changes={"at":"2031-04-12T09:15:00Z"}'
    )
    was = as_it_was(run)
    assert [(e.id, e.received) for e in was.events] == [(e.id, e.at) for e in was.events]
    assert [e.id for e in was.events] == ["e1", "e2", "e3"]
    assert was.events[2].at.minute == 15


def test_as_it_was_ends_in_the_same_state():
    """Replaying by what happened and by what was known agree once everything is known."""
    log = log_of(
        "0:00 clock\n0:01 start T010\n0:30 done T010\n0:31 start T020\n0:32 withdraw e4\n0:33 start T020"
    )
    plan = plan_of(PLAN)
    run = run_of(
        "0:00 clock\n0:01 start T010\n0:30 done T010\n0:31 start T020\n0:32 withdraw e4\n0:33 start T020",
        plan,
    )
    state, was = follow_at(plan, log, "0:50"), follow_at(plan, list(as_it_was(run).events), "0:50")
    assert {t: (s.state, s.start_pet_min) for t, s in was.tasks.items()} == {
        t: (s.state, s.start_pet_min) for t, s in state.tasks.items()
    }
