"""`tetherline score`: what the board said of recorded runs, and what came of it."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

import distributed
import pytest

from tests.command import (
    assert_bad_input,
    tetherline,
    tetherline_process,
)
from tests.waiting import DEADLINE_S


def test_score_says_which_runs_it_could_not_use(library: Path):
    """A good run is scored; the others are named with the reason."""
    found = json.loads(tetherline("score", library, "--json").stdout)
    assert [row["name"] for row in found["recorded"]["runs"]] == ["good"]
    assert {row["name"]: row["why"] for row in found["not_scored"]}["half"].startswith(
        "the log stops before the crew is in"
    )
    assert len(found["recorded"]["moments"]["good"]) >= 6


def test_nothing_to_score_ends_with_2(library: Path):
    """And still says why."""
    done = tetherline("score", library / "half")
    assert done.returncode == 2 and "the log stops" in done.stdout


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


def test_a_cluster_gives_the_same_scores(library: Path, address: str):
    """As one process does."""
    there = tetherline_process("score", library, "--json", "--executor", address, timeout_s=2 * DEADLINE_S)
    assert there.returncode == 0, there.stderr
    assert json.loads(there.stdout) == json.loads(tetherline("score", library, "--json").stdout)


def test_a_cluster_that_does_not_answer_is_bad_input(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    """With what to do. It is waited for less long here than by the command: nothing listens at that port."""
    client = distributed.Client
    monkeypatch.setattr(distributed, "Client", lambda address, timeout: client(address, timeout="0.5s"))
    (tmp_path / "log.jsonl").write_text("", encoding="utf-8")
    done = tetherline("score", tmp_path, "--executor", "tcp://127.0.0.1:9")
    assert_bad_input(done, "a dask scheduler", "dask scheduler")
