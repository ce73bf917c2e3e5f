"""`tetherline bear`: what a plan can bear, in words, as JSON, and as files."""

from __future__ import annotations

import json
from pathlib import Path
from xml.etree import ElementTree

import pytest

from dashboard.core.outlook.bear_model import Bears
from tests.command import PLAN, assert_bad_input, one_line, tetherline
from tests.core.outlook.plans import SOUND


@pytest.fixture
def plan(tmp_path: Path) -> Path:
    path = tmp_path / "plan.toml"
    path.write_text(SOUND.replace('limit = "7:00"', 'limit = "2:46"'), encoding="utf-8")
    return path


def test_it_says_it_in_words_and_writes_a_page(plan: Path, tmp_path: Path):
    """Every table, the caution, progress on standard error; the page holds the picture."""
    done = tetherline("bear", plan, "--to", tmp_path / "bear.html")
    assert done.returncode == 0, done.stderr
    for heading in ("How late each task may start", "What lost time costs", "The delays that hurt most", "Turn back"):
        assert heading in done.stdout
    assert "not certified for flight use" in one_line(done.stdout).lower() and "working out late starts" in done.stderr
    page = (tmp_path / "bear.html").read_text(encoding="utf-8")
    assert "<svg" in page and "What lost time costs" in page and "Not certified" in page


def test_json_is_the_whole_object(plan: Path):
    """With the chance that `check` gives."""
    bears = Bears.model_validate_json(tetherline("bear", plan, "--json").stdout)
    assert bears.in_by_limit == json.loads(tetherline("check", plan, "--json").stdout)["in_by_limit"]


def test_a_picture_and_a_pdf(plan: Path, tmp_path: Path):
    """By the ending of the file."""
    for name in ("bear.svg", "bear.pdf"):
        assert tetherline("bear", plan, "--to", tmp_path / name).returncode == 0
    assert ElementTree.fromstring((tmp_path / "bear.svg").read_text(encoding="utf-8")).tag.endswith("svg")
    assert (tmp_path / "bear.pdf").read_bytes().startswith(b"%PDF")


def test_a_file_that_cannot_be_written_is_refused_first(plan: Path, tmp_path: Path):
    """A wrong ending, a file that is there, a folder that is not; and a plan that cannot be followed."""
    assert_bad_input(tetherline("bear", plan, "--to", tmp_path / "bear.doc"), ".html, .pdf, .svg")
    assert_bad_input(tetherline("bear", plan, "--to", plan.with_name("x") / "bear.svg"), "no such folder")
    (tmp_path / "there.svg").write_text("mine", encoding="utf-8")
    assert_bad_input(tetherline("bear", plan, "--to", tmp_path / "there.svg"), "an existing file")
    plan.write_text(PLAN.replace('["EV1"]', '["EV9"]'), encoding="utf-8")
    assert_bad_input(tetherline("bear", plan), "EV9")
