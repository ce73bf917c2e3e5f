"""`tetherline simulate`: runs that nobody made."""

from __future__ import annotations

from pathlib import Path

import pytest

from dashboard.core.base.caution import CAUTION
from tests.command import (
    assert_bad_input,
    one_line,
    tetherline,
)


def test_simulated_runs_can_be_scored_and_learned_from(tmp_path: Path, plan: Path):
    """The whole way: simulate, score with figures, learn, and a new plan that passes its check."""
    runs = tmp_path / "sim"
    made = tetherline(
        "simulate",
        plan,
        "--to",
        runs,
        "--count",
        "3",
        "--seed",
        "4",
        "--trouble",
        "all",
        "--trouble",
        "hold=2",
    )
    assert made.returncode == 0 and "None of it happened" in one_line(made.stdout), made.stderr
    scored = tetherline("score", runs, "--plot", tmp_path / "score.html", "--jobs", "2")
    assert scored.returncode == 0, scored.stderr
    assert "Simulated runs (3)" in scored.stdout and "Recorded runs" not in scored.stdout
    assert one_line(CAUTION) in one_line(scored.stdout)
    assert "Plotly.newPlot" in (tmp_path / "score.html").read_text(encoding="utf-8")
    learned = tetherline("learn", runs, "--plan", plan, "--to", tmp_path / "new.toml")
    assert learned.returncode == 0, learned.stderr
    assert "Leaving one run out at a time (3 runs" in one_line(learned.stdout)
    assert "Factor between settings: not known" in one_line(learned.stdout)
    assert tetherline("check", tmp_path / "new.toml").returncode == 0
    again = tetherline("learn", runs, "--plan", plan, "--to", tmp_path / "new.toml")
    assert_bad_input(again, "a new file")


@pytest.mark.parametrize(
    ("more", "says"),
    [
        (["--trouble", "storm"], "one of contingency"),
        (["--pace", "0"], "a pace from 0.2"),
        (["--trouble", "hold=x"], "a number"),
    ],
)
def test_wrong_options_of_a_simulation_are_bad_input(tmp_path: Path, plan: Path, more: list[str], says: str):
    """With what would make sense."""
    assert_bad_input(tetherline("simulate", plan, "--to", tmp_path / "x", *more), says)
