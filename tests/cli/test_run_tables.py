"""Runs that do not count, or count for little, are named in every table."""

from __future__ import annotations

import json
import re
import shutil
from pathlib import Path

from pandas import DataFrame

from dashboard.cli.run_tables import table_of
from tests.command import (
    ENDED,
    one_line,
    tetherline,
)


def test_runs_warns_of_a_log_of_another_plan(library: Path):
    """In the words in which following it warns; the figures of such a run say nothing."""
    folder = library / "good"
    strangers = "".join(
        f'{{"id": "x{n}", "at": "2031-04-12T10:00:00Z", "kind": "start", "task": "X{n}"}}\n' for n in range(9)
    )
    (folder / "log.jsonl").write_text(ENDED + strangers, encoding="utf-8")
    warning = tetherline("state", folder / "plan.toml", folder / "log.jsonl").stderr.removeprefix("warning: ").strip()
    assert "9 of which are not in the plan" in warning
    assert f"Probably of another plan (1): good: {warning}" in one_line(tetherline("runs", library).stdout)
    rows = {row["name"]: row["strange"] for row in json.loads(tetherline("runs", library, "--json").stdout)}
    assert (rows["good"], rows["half"]) == (warning, "")


def test_what_would_count_twice_is_named_and_left_out(library: Path, plan: Path):
    """A rehearsal and a copy: marked in the list, left out of scores and learning in a line, and in the JSON."""
    for name, header in (("mine", 'setting = "pool"\nparent = "Pool run"\n'), ("twice", 'setting = "pool"\n')):
        shutil.copytree(library / "good", library / name)
        (library / name / "run.toml").write_text(header, encoding="utf-8")
    lines = "1 rehearsal left out: mine (of 'Pool run'). 1 copy left out: twice (the same log as good)."
    listed = {row["name"]: row["mark"] for row in json.loads(tetherline("runs", library, "--json").stdout)}
    assert {name for name, mark in listed.items() if mark} == {"mine", "twice"}
    shown = tetherline("runs", library).stdout
    assert re.search(r"mine .* yes +rehearsal", shown) and re.search(r"twice .* yes +copy", shown)
    assert "twice: copy, the same log as good" in one_line(shown)
    for command in (["learn", library, "--plan", plan], ["score", library]):
        assert lines in one_line(tetherline(*command).stdout)
        found = json.loads(tetherline(*command, "--json").stdout)
        assert [one["name"] for one in found["left_out"]] == ["mine", "twice"]
    assert [row["name"] for row in found["recorded"]["runs"]] == ["good"]


def test_a_table_has_heads_in_words_and_values_as_people_write_them():
    """Lengths in hours and minutes, shares in per cent, yes and no; what is not known stays empty or is said."""
    frame = DataFrame([
        {"name": "r1", "length_min": 161.0, "ended": True, "held": 0.8, "worst_behind_min": None, "end_pet_min": 160.2, "n": 3.5},
        {"name": "r2", "length_min": None, "ended": False, "held": None, "worst_behind_min": 12.0, "end_pet_min": None, "n": 2.0},
    ])  # fmt: skip
    table = table_of(frame, "Runs")
    assert [column.header for column in table.columns] == ["Run", "Length", "Ended", "held", "Worst behind, min", "end pet", "n"]
    first, second = zip(*(column.cells for column in table.columns), strict=True)
    assert first == ("r1", "2 h 41 min", "yes", "80 %", "not known", "2:41", "3.50")
    assert second == ("r2", "", "no", "", "12", "", "2")
