"""The commands over recorded runs, as a person runs them."""

from __future__ import annotations

import json
import re
import shutil
from pathlib import Path

import pytest

from dashboard.core.base.caution import CAUTION
from tests.command import LOG, PLAN, assert_bad_input, tetherline

ENDED = (
    LOG
    + """\
{"id": "e6", "at": "2031-04-12T10:12:00Z", "kind": "done", "task": "T030"}
{"id": "e7", "at": "2031-04-12T10:15:00Z", "kind": "done", "task": "T020"}
{"id": "e8", "at": "2031-04-12T10:16:00Z", "kind": "start", "task": "T040"}
{"id": "e9", "at": "2031-04-12T11:50:00Z", "kind": "done", "task": "T040"}
{"id": "e10", "at": "2031-04-12T11:51:00Z", "kind": "end"}
"""
)


def one_line(text: str) -> str:
    return " ".join(text.split())


@pytest.fixture
def library(tmp_path: Path) -> Path:
    """A pool run that ended, one that stopped half way, and one without its plan."""
    for name, log in (("good", ENDED), ("half", LOG.replace("09:46", "09:45")), ("broken", LOG)):
        folder = tmp_path / "runs" / name
        folder.mkdir(parents=True)
        (folder / "log.jsonl").write_text(log, encoding="utf-8")
        (folder / "run.toml").write_text('setting = "pool"\ndate = "2031-03-02"\n', encoding="utf-8")
        if name != "broken":
            (folder / "plan.toml").write_text(PLAN, encoding="utf-8")
    return tmp_path / "runs"


@pytest.fixture
def plan(tmp_path: Path) -> Path:
    (tmp_path / "plan.toml").write_text(PLAN, encoding="utf-8")
    return tmp_path / "plan.toml"


def test_runs_lists_a_library(library: Path):
    """Good and half runs in the table, the broken one below with the reason."""
    done = tetherline("runs", library)
    assert done.returncode == 0, done.stderr
    assert re.search(r"good +pool +2031-03-02 +t +10 +2 h 41 min +\S+ +yes", done.stdout)
    assert re.search(r"half +pool .* no", done.stdout)
    assert "broken: " in done.stdout and "no such file" in one_line(done.stdout)
    rows = {row["name"]: row for row in json.loads(tetherline("runs", library, "--json").stdout)}
    assert rows["broken"]["events"] is None and rows["good"]["length_min"] == 161


def test_runs_warns_of_a_log_of_another_plan(library: Path):
    """In the words in which following it warns; the figures of such a run say nothing."""
    folder = library / "good"
    strangers = "".join(
        f'{{"id": "x{n}", "at": "2031-04-12T10:00:00Z", "kind": "start", "task": "X{n}"}}\n' for n in range(9)
    )
    (folder / "log.jsonl").write_text(ENDED + strangers, encoding="utf-8")
    warning = tetherline("state", folder / "plan.toml", folder / "log.jsonl").stderr.removeprefix("warning: ").strip()
    assert "9 of which are not in the plan" in warning
    assert f"By another plan, as it seems (1): good: {warning}" in one_line(tetherline("runs", library).stdout)
    rows = {row["name"]: row["strange"] for row in json.loads(tetherline("runs", library, "--json").stdout)}
    assert (rows["good"], rows["half"]) == (warning, "")


def test_runs_of_nothing_is_bad_input(tmp_path: Path):
    """And names what was looked for."""
    assert_bad_input(tetherline("runs", tmp_path / "none"), "no such folder")


@pytest.mark.parametrize("more", [[], ["--json"]])
def test_runs_of_which_none_can_be_read_are_bad_input(library: Path, plan: Path, more: list[str]):
    """A folder with broken runs only, listed with the reason; and a plan, which is no log. Neither is a success."""
    done = tetherline("runs", library / "broken", *more)
    assert_bad_input(done, "expected a recorded run that can be read", "1 log, of which none can be")
    assert "no such file" in one_line(done.stdout) and "Put the plan there" in one_line(done.stdout)
    done = tetherline("runs", plan, *more)
    assert_bad_input(done, "a folder of recorded runs, or one log", "found a plan or a header", "Name the log")
    assert done.stdout == "" and "--plan" not in done.stderr


def test_a_sheet_becomes_a_run_that_can_be_followed(tmp_path: Path, plan: Path):
    """Import, list, state; what did not match is said."""
    sheet = tmp_path / "log.csv"
    sheet.write_text(
        "PET,Who,What,Notes\n0:01,EV1,Start Unstow pump,\n0:36,EV1,Done Unstow pmp,\nlater,EV1,Start T020,\n",
        encoding="utf-8",
    )
    done = tetherline(
        "import-log",
        sheet,
        "--plan",
        plan,
        "--to",
        tmp_path / "run",
        "--setting",
        "pool",
        "--date",
        "2031-03-02",
    )
    assert done.returncode == 0, done.stderr
    report = one_line(done.stdout)
    assert "2 events and 1 note; 1 row not understood" in report
    assert "row 3: 'Unstow pmp': no task of the plan by that name or title. Close: T010 Unstow pump" in report
    assert "--match 'Unstow pmp=T010'" in report
    state = json.loads(tetherline("state", plan, tmp_path / "run" / "log.jsonl", "--json").stdout)
    assert state["tasks"]["T010"]["state"] == "in work"
    assert "later | EV1 | Start T020" in state["unread"][0]["line"]
    again = tetherline("import-log", sheet, "--plan", plan, "--to", tmp_path / "run")
    assert_bad_input(again, "a folder without a run")


@pytest.mark.parametrize(
    ("more", "says"),
    [
        (["--setting", "sea"], "one of pool"),
        (["--times", "met"], "pet or utc"),
        (["--date", "2 March"], "a day such as"),
        (["--columns", "time"], "name=value"),
    ],
)
def test_wrong_options_of_an_import_are_bad_input(tmp_path: Path, plan: Path, more: list[str], says: str):
    """Nothing is written."""
    sheet = tmp_path / "log.csv"
    sheet.write_text("PET,What\n0:01,Start T010\n", encoding="utf-8")
    assert_bad_input(tetherline("import-log", sheet, "--plan", plan, "--to", tmp_path / "run", *more), says)
    assert not (tmp_path / "run").exists()


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
    assert "Setting to flight: not known" in one_line(learned.stdout)
    assert tetherline("check", tmp_path / "new.toml").returncode == 0
    again = tetherline("learn", runs, "--plan", plan, "--to", tmp_path / "new.toml")
    assert_bad_input(again, "a new file")


def test_score_says_which_runs_it_could_not_use(library: Path):
    """A good run is scored; the others are named with the reason."""
    found = json.loads(tetherline("score", library, "--json").stdout)
    assert [row["name"] for row in found["recorded"]["runs"]] == ["good"]
    assert {row["name"]: row["why"] for row in found["not_scored"]}["half"].startswith(
        "the log stops before the crew is in"
    )
    assert len(found["recorded"]["moments"]["good"]) >= 6


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


def test_nothing_to_score_ends_with_2(library: Path):
    """And still says why."""
    done = tetherline("score", library / "half")
    assert done.returncode == 2 and "the log stops" in done.stdout


def test_learn_as_json_has_its_evidence(library: Path, plan: Path):
    """Briefed and learned with how many tasks, runs and settings; whether it pays is not known from one run."""
    done = tetherline("learn", library, "--plan", plan, "--json")
    found = json.loads(done.stdout)
    row = {row["task"]: row for row in found["tasks"]}["T010"]
    assert (row["briefed_likely"], row["n"], row["settings"]) == (30, 2, "pool")
    assert found["left_one_run_out"] is not None and found["caution"] == CAUTION
    assert [b["name"] for b in found["cannot_be_read"]] == ["broken"]


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


def test_a_rehearsal_needs_its_moment(library: Path, tmp_path: Path):
    """From when on the trainee decides is not guessed."""
    done = tetherline("replay", library / "good", "--rehearse", tmp_path / "b", "--port", "0", "--no-browser")
    assert_bad_input(done, "--at beside it")
