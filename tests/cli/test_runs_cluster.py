"""Scoring on a cluster: a scheduler and a worker of dask on this computer."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

import distributed
import pytest

from replay.outside import Conditions
from replay.simulate import write_simulated
from tests.command import assert_bad_input, tetherline, tetherline_process
from tests.replay.runs import LANTERN


@pytest.fixture(scope="module")
def address() -> Iterator[str]:
    with distributed.LocalCluster(
        n_workers=1,
        threads_per_worker=1,
        processes=False,
        protocol="tcp://",
        host="127.0.0.1",
        dashboard_address=None,
    ) as cluster:
        yield cluster.scheduler_address


def test_a_cluster_gives_the_same_scores(tmp_path: Path, address: str):
    """As one process does."""
    from dashboard.log.planfile import load_plan

    plan = LANTERN / "plan.toml"
    list(write_simulated(load_plan(plan), plan.read_text(encoding="utf-8"), tmp_path, 1, 1, Conditions()))
    there = tetherline_process("score", tmp_path, "--json", "--executor", address, timeout_s=120)
    assert there.returncode == 0, there.stderr
    assert json.loads(there.stdout) == json.loads(tetherline("score", tmp_path, "--json").stdout)


def test_a_cluster_that_does_not_answer_is_bad_input(tmp_path: Path):
    """With what to do."""
    (tmp_path / "log.jsonl").write_text("", encoding="utf-8")
    done = tetherline("score", tmp_path, "--executor", "tcp://127.0.0.1:9")
    assert_bad_input(done, "a dask scheduler", "dask scheduler")
