"""The command `tetherline brief`."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from pypdf import PdfReader

from dashboard.core.brief.facts import Brief
from tests.command import LATE_PLAN, PLAN, assert_bad_input, tetherline


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


def test_it_writes_page_paper_cuff_pages_and_facts(plan, tmp_path):
    """Each is what it should be; the facts in the folder are those that --json prints."""
    to = tmp_path / "out"
    done = tetherline("brief", plan, "--to", to)
    assert done.returncode == 0, done.stderr
    assert {path.name for path in to.iterdir()} == {
        "brief.html", "brief.pdf", "cuff.html", "cuff.pdf", "brief.json", "briefed-plan.toml",
    }  # fmt: skip
    assert f"Written to {to}" in done.stdout and "Advisory only" in done.stdout
    assert "page 1 of" in PdfReader(to / "brief.pdf").pages[0].extract_text()
    assert (to / "cuff.html").read_text().startswith("<!doctype html>")
    assert json.loads((to / "brief.json").read_text()) == json.loads(tetherline("brief", plan, "--json").stdout)


def test_it_is_told_in_words(plan):
    """How sure, the steps in their order, and by when what is decided."""
    done = tetherline("brief", plan).stdout
    assert "Limit: PET 5:12, set by suit A oxygen." in done and "likely inside by the limit" in done
    assert done.index("T010 Unstow pump") < done.index("T020 Carry pump") < done.index("T040 Swap tray, 1 h 30 min")
    assert "Turn back: EV1 and EV2" in done


def test_against_the_last_issue(plan, tmp_path):
    """What changed is listed; of the same plan nothing."""
    old = tmp_path / "old.toml"
    old.write_text(PLAN.replace("duration = 90", "duration = 80"))
    assert "task T040 Swap tray: lengthened from 80 min to 90 min" in tetherline("brief", plan, "--against", old).stdout
    assert "Nothing changed since revision" in tetherline("brief", plan, "--against", plan).stdout


def test_the_last_issue_is_the_folder_it_was_written_to(plan, tmp_path):
    """Or a file of it; the new issue may take its place in the same step."""
    to = tmp_path / "out"
    assert_bad_input(tetherline("brief", plan, "--against", tmp_path), "a folder of a brief")
    tetherline("brief", plan, "--to", to)
    plan.write_text(PLAN.replace("duration = 90", "duration = 95"))
    for old in (to / "brief.json", to):
        done = tetherline("brief", plan, "--against", old, "--to", to, "--force")
        assert "task T040 Swap tray: lengthened from 90 min to 95 min" in done.stdout, done.stderr
        (to / "briefed-plan.toml").write_text(PLAN)


def test_what_is_there_is_not_written_over(plan, tmp_path):
    """Without --force nothing changes."""
    to = tmp_path / "out"
    to.mkdir()
    (to / "cuff.pdf").write_text("mine")
    assert_bad_input(tetherline("brief", plan, "--to", to), "no brief there yet", "cuff.pdf", "--force")
    assert (to / "cuff.pdf").read_text() == "mine" and len(list(to.iterdir())) == 1
    assert tetherline("brief", plan, "--to", to, "--force").returncode == 0
    assert (to / "cuff.pdf").read_bytes().startswith(b"%PDF-")


def test_bad_input(plan, tmp_path):
    """A plan that cannot be read, as the brief or as the last issue; one that ends late is briefed with a warning."""
    assert_bad_input(tetherline("brief", tmp_path / "none.toml"), "no such file")
    assert_bad_input(tetherline("brief", plan, "--against", tmp_path / "none.toml"), "no such file")
    late = tmp_path / "late.toml"
    late.write_text(LATE_PLAN)
    done = tetherline("brief", late)
    assert done.returncode == 0 and "warning: " in done.stderr
