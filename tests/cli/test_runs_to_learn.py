"""The runs of a folder that durations are learned from."""

from __future__ import annotations

from pathlib import Path

import pytest

from dashboard.cli.runs_to_learn import runs_to_learn
from dashboard.core.base.problems import InputError
from tests.replay.runs import LANTERN


def test_finished_tasks_are_read():
    """From the run that comes with the program."""
    told = runs_to_learn(LANTERN)
    assert len(told.seen) > 20 and told.broken == [] and told.simulated_left_out == 0


def test_a_folder_without_a_finished_task_is_refused(tmp_path: Path):
    """In words."""
    (tmp_path / "plan.toml").write_text((LANTERN / "plan.toml").read_text(encoding="utf-8"), encoding="utf-8")
    (tmp_path / "log.jsonl").write_text('{"id": "e1", "at": "2031-04-12T09:10:00Z", "kind": "clock"}\n', encoding="utf-8")
    with pytest.raises(InputError, match="finished tasks with a known start"):
        runs_to_learn(tmp_path)
