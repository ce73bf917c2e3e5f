"""The page /runs: plans, runs and rehearsals of a folder, each to be opened, and two to be set side by side."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from dashboard.log.store import EventStore
from dashboard.service.app import make_app
from dashboard.service.desk import Desk
from dashboard.service.session.live import LiveSession
from replay.recording import load_run, packaged_scenarios
from tests.command import ENDED, LOG, PLAN
from tests.live_server import LiveServer
from tests.service.conftest import Room
from tests.waiting import until


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    root = tmp_path_factory.mktemp("runs")
    for name, log in (("good", ENDED), ("half <b>", LOG)):
        (root / name).mkdir()
        (root / name / "log.jsonl").write_text(log, encoding="utf-8")
        (root / name / "plan.toml").write_text(PLAN, encoding="utf-8")
    return root


@pytest.fixture(scope="module")
def listed(folder: Path) -> Iterator[Room]:
    yield from _room(folder)


def _room(runs: Path | None) -> Iterator[Room]:
    plan = load_run(packaged_scenarios()["lantern-2"]).plan
    desk = Desk(LiveSession(plan, EventStore("sqlite://", plan.sortie.id)))
    with LiveServer(make_app(desk, runs=runs).server) as server:
        yield Room(server.url)


def page_of(room: Room) -> str:
    return until(lambda: answer.text if (answer := room.http.get("/runs")).status_code == 200 else "", "the list of runs")


def test_the_list_leads_to_each_run_and_escapes_its_name(listed: Room):
    """With how each went; what a name holds is text, never markup."""
    page = page_of(listed)
    assert "Runs (2)" in page and "Sorties (1)" in page and "2 h 41 min" in page
    assert "half &lt;b&gt;" in page and "half <b>" not in page
    assert re.findall(r"<th[^>]*></th>", page) == []
    assert "/runs/debrief?run=half%20%3Cb%3E" in page
    opened = listed.http.get("/runs/debrief", params={"run": "half <b>"})
    assert opened.status_code == 200 and "Debrief so far" in opened.text


def test_the_list_leads_to_the_brief_of_each_plan(listed: Room):
    """Also of a sortie that was not run yet."""
    assert "/runs/brief?plan=half%20%3Cb%3E%2Fplan.toml" in page_of(listed)
    opened = listed.http.get("/runs/brief", params={"plan": "half <b>/plan.toml"})
    assert opened.status_code == 200 and "Step by step" in opened.text and 'href="/runs"' in opened.text


def test_two_runs_are_set_side_by_side_or_one_beside_its_brief(listed: Room):
    """As the form of the page asks for them."""
    both = listed.http.get("/runs/compare", params={"first": "good", "second": "half <b>"})
    assert both.status_code == 200 and "half &lt;b&gt; (not ended: projected) beside good" in both.text
    brief = listed.http.get("/runs/compare", params={"first": "good", "second": ""})
    assert "good beside the brief" in brief.text


def test_a_new_run_is_listed_without_a_restart(listed: Room, folder: Path):
    """A file that changed is read again."""
    page_of(listed)
    (folder / "third").mkdir()
    (folder / "third" / "plan.toml").write_text(PLAN, encoding="utf-8")
    (folder / "third" / "log.jsonl").write_text(ENDED.replace('"e1"', '"x1"').replace("11:50", "11:49"), encoding="utf-8")
    until(lambda: "Runs (3)" in page_of(listed), "the third run in the list")


@pytest.mark.parametrize(
    "path",
    [
        "/runs/brief?plan=../plan.toml", "/runs/brief", "/runs/debrief?run=../good", "/runs/debrief",
        "/runs/compare?first=good&second=none",
    ],
)  # fmt: skip
def test_only_runs_of_the_folder_are_opened(listed: Room, path: str):
    """No path leads out of it."""
    answer = listed.http.get(path)
    assert answer.status_code == 404 and "The page /runs lists" in answer.text


def test_without_a_folder_the_page_says_how_to_name_one():
    """And nothing can be opened."""
    for room in _room(None):
        assert "--runs FOLDER" in room.http.get("/runs").text
        assert room.http.get("/runs/debrief?run=good").status_code == 404
