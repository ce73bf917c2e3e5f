"""The command `tetherline debrief`."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.command import LOG, PLAN, assert_bad_input, one_line, tetherline

FILES = {"debrief.html", "debrief.pdf", "debrief.json", "tables.xlsx", "carry-over.toml", "tables"}
MORE = '{"id": "e6", "at": "2031-04-12T09:50:00Z", "kind": "defer", "tasks": ["T040"]}\n'
END = '{"id": "e7", "at": "2031-04-12T10:20:00Z", "kind": "end"}\n'


@pytest.fixture
def plan(tmp_path: Path) -> Path:
    path = tmp_path / "plan.toml"
    path.write_text(PLAN)
    return path


@pytest.fixture
def log(tmp_path: Path) -> Path:
    path = tmp_path / "log.jsonl"
    path.write_text(LOG + MORE + END)
    return path


def test_it_writes_everything_and_the_carry_over_passes_check(plan, log, tmp_path):
    """Page, paper, tables, facts and carry-over; the last is a plan that `check` accepts; progress goes to stderr."""
    to = tmp_path / "out"
    done = tetherline("debrief", plan, log, "--to", to)
    assert done.returncode == 0, done.stderr
    assert {path.name for path in to.iterdir()} == FILES
    assert "computing projections" in done.stderr and "making paper" in done.stderr
    assert "Where the minutes went" in done.stdout and "Advisory only" in done.stdout and "T040" in done.stdout
    checked = tetherline("check", to / "carry-over.toml")
    assert checked.returncode == 0, checked.stdout


@pytest.mark.parametrize(
    ("change", "says", "code"),
    [
        (('suit = "B"\n', ""), "The carry-over, as a plan, can be used: as briefed ", 0),
        (("duration = 90", "duration = 600"), "The carry-over, as a plan, is not ready to be used: as briefed ", 2),
    ],
    ids=["cautions", "errors"],
)
def test_what_is_said_of_the_carry_over_agrees_with_its_check(plan, log, tmp_path, change, says, code):
    """Cautions alone do not make it unusable, errors do; the findings are the same."""
    plan.write_text(PLAN.replace(*change, 1))
    done = tetherline("debrief", plan, log, "--to", tmp_path / "out")
    checked = tetherline("check", tmp_path / "out" / "carry-over.toml")
    assert checked.returncode == code
    assert says in done.stdout
    findings = [line for line in checked.stdout.splitlines() if line.startswith(("error: ", "caution: ", "note: "))]
    assert findings and all(" ".join(line.split()) in one_line(done.stdout) for line in findings)


def test_what_is_there_is_not_written_over(plan, log, tmp_path):
    """Without --force nothing changes; with it the debrief is made anew."""
    to = tmp_path / "out"
    to.mkdir()
    (to / "debrief.html").write_text("mine")
    assert_bad_input(tetherline("debrief", plan, log, "--to", to), "debrief.html", "--force")
    assert (to / "debrief.html").read_text() == "mine" and {path.name for path in to.iterdir()} == {"debrief.html"}
    assert tetherline("debrief", plan, log, "--to", to, "--force").returncode == 0
    assert (to / "debrief.html").read_text().startswith("<!doctype html>")


def test_a_carry_over_of_before_does_not_outlive_its_debrief(plan, log, tmp_path):
    """When nothing is left any more, --force takes the old file away and says so."""
    to = tmp_path / "out"
    tetherline("debrief", plan, log, "--to", to)
    done = tetherline("debrief", plan, log, "--to", to, "--force", "--at", "0:30")
    assert done.returncode == 0 and "Nothing is left" in done.stdout
    assert not (to / "carry-over.toml").exists()


def test_a_place_that_cannot_be_written_to(plan, log, tmp_path):
    """A file where the folder should be is refused before anything is followed."""
    (tmp_path / "file").write_text("x")
    assert_bad_input(tetherline("debrief", plan, log, "--to", tmp_path / "file"), "a file")
    assert_bad_input(tetherline("debrief", plan, log, "--to", tmp_path / "file" / "below"), "cannot be written")


def test_json_holds_the_facts(plan, log):
    """The ledger of each lane adds up in what is printed, too."""
    done = tetherline("debrief", plan, log, "--json")
    assert done.returncode == 0, done.stderr
    facts = json.loads(done.stdout)
    assert not facts["so_far"] and facts["caution"].startswith("Advisory only")
    for lane in facts["lanes"].values():
        assert sum(line["minutes"] for line in lane["ledger"]) == pytest.approx(lane["difference_min"])


def test_a_sortie_that_has_not_ended(plan, log):
    """Debriefed so far, and said so."""
    done = tetherline("debrief", plan, log, "--at", "0:35")
    assert done.returncode == 0 and "Debrief so far" in done.stdout and "Projected end" in done.stdout


def test_bad_input(plan, log, tmp_path):
    """A missing log and a time outside the sortie are refused in one line each."""
    assert_bad_input(tetherline("debrief", plan, tmp_path / "none.jsonl"), "no such file")
    assert_bad_input(tetherline("debrief", plan, log, "--at", "99:00"), "--at")


def test_the_debrief_of_a_rehearsal_says_so(plan, log, tmp_path):
    """As the header beside the log has it: on the screen, in every file, and as a field of the facts."""
    said = "Rehearsal of Pool run from PET 0:30, not a recorded run"
    assert said not in tetherline("debrief", plan, log).stdout
    log.with_name("run.toml").write_text('parent = "Pool run"\nfrom = "2031-04-12T09:40:00Z"\n')
    to = tmp_path / "out"
    done = tetherline("debrief", plan, log, "--to", to)
    assert done.returncode == 0 and f"{said}.\n" in done.stdout, done.stderr
    assert json.loads((to / "debrief.json").read_text())["rehearsal"] == said
    texts = [to / "debrief.html", to / "carry-over.toml", *(to / "tables").iterdir()]
    assert all(said in path.read_text() for path in texts)


def test_only_the_header_of_a_recorded_run_is_asked_whether_it_is_a_rehearsal(plan, log):
    """A plan of the same name beside a log is no header."""
    run = log.with_name("run-1.jsonl")
    log.rename(run)
    assert tetherline("debrief", plan.rename(plan.with_name("run-1.toml")), run).returncode == 0
