"""The command `tetherline brief`."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from dashboard.core.brief.facts import Brief
from tests.command import PLAN, tetherline


@pytest.fixture
def plan(tmp_path: Path) -> Path:
    path = tmp_path / "plan.toml"
    path.write_text(PLAN)
    return path


def test_json_holds_the_facts(plan):
    """The whole brief in its published shape, with the caution."""
    done = tetherline("brief", plan, "--json")
    assert done.returncode == 0, done.stderr
    facts = Brief.model_validate(json.loads(done.stdout))
    assert [step.task for step in facts.steps] == ["T010", "T030", "T020", "T040"] and facts.caution.startswith("Advisory only")
