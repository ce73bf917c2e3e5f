"""`tetherline learn`: durations from recorded runs."""

from __future__ import annotations

import json
from pathlib import Path

from dashboard.core.base.caution import CAUTION
from tests.command import (
    tetherline,
)


def test_learn_as_json_has_its_evidence(library: Path, plan: Path):
    """Briefed and learned with how many tasks, runs and settings; whether it pays is not known from one run."""
    done = tetherline("learn", library, "--plan", plan, "--json")
    found = json.loads(done.stdout)
    row = {row["task"]: row for row in found["tasks"]}["T010"]
    assert (row["briefed_likely"], row["n"], row["settings"]) == (30, 2, "pool")
    assert found["left_one_run_out"] is not None and found["caution"] == CAUTION
    assert [b["name"] for b in found["cannot_be_read"]] == ["broken"]
