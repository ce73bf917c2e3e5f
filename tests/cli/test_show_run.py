"""Serving a recorded run, or a rehearsal of one."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import pytest

from dashboard.cli.show_run import branch_writer
from dashboard.core.base.problems import InputError
from replay.branch import LEFT_OUT_NAME, branched
from replay.recording import load_run, packaged_scenarios
from tests.command import (
    assert_bad_input,
    state_of,
    tetherline,
)
from tests.serving import Start


def test_a_rehearsal_waits_at_its_beginning(start: Start, sortie: Path):
    """Nobody has opened it yet: its clock stands where the trainee begins."""
    _, url = start("replay", sortie, "--at", "0:20", "--rehearse", sortie / "mine", "--port", "0", "--no-browser")
    first, again = state_of(url), state_of(url)
    assert (first["mode"], first["pet_min"], again["now"]) == ("paused", 20, first["now"])


def test_a_rehearsal_needs_its_moment(library: Path, tmp_path: Path):
    """From when on the trainee decides is not guessed."""
    done = tetherline("replay", library / "good", "--rehearse", tmp_path / "b", "--port", "0", "--no-browser")
    assert_bad_input(done, "--at beside it")


def test_a_branch_is_saved_anew_each_time(tmp_path: Path):
    """With its plan, its log and what was left out; a run that stands there before the first time is not written over."""
    run = load_run(packaged_scenarios()["lantern-2"])
    branch = branched(run, run.pet_zero + timedelta(minutes=245))
    save = branch_writer(tmp_path / "mine", run)
    for _ in range(2):
        save(branch)
        saved = load_run(tmp_path / "mine")
        assert [event.id for event in saved.events] == [event.id for event in branch.run.events]
        assert saved.rehearsal == branch.run.rehearsal
    assert (tmp_path / "mine" / LEFT_OUT_NAME).read_text(encoding="utf-8") == branch.left_out() != ""
    with pytest.raises(InputError, match="a folder without a run"):
        branch_writer(tmp_path / "mine", run)(branch)
