"""The plan file over HTTP: who may save, and what the answers say."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import httpx
import pytest

from dashboard.log.planfile import load_plan
from dashboard.log.store import EventStore
from dashboard.service.access.keys import Keys
from dashboard.service.app import make_app
from dashboard.service.desk import Desk
from dashboard.service.session.live import LiveSession
from tests.live_server import LiveServer
from tests.local import LOCAL
from tests.service.answers.test_plan_file import TEXT, edited
from tests.service.conftest import StandingClock
from tests.waiting import DEADLINE_S

LOG, LEAD = "log-key-for-tests", "lead-key-for-tests"


@pytest.fixture(scope="module")
def path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("plan") / "plan.toml"
    place.write_text(TEXT)
    return place


@pytest.fixture(scope="module")
def http(path: Path) -> Iterator[httpx.Client]:
    """The whole application with keys, and a plan file."""
    plan = load_plan(path)
    desk = Desk(LiveSession(plan, EventStore("sqlite://", plan.sortie.id), StandingClock()))
    app = make_app(desk, Keys(LOG, LEAD), plan_file=path)
    with LiveServer(app.server) as live, httpx.Client(base_url=live.url, **LOCAL, timeout=DEADLINE_S) as client:
        yield client


def signed(key: str) -> dict[str, str]:
    return {"Authorization": f"Bearer {key}"}


def to_save(http: httpx.Client, **cells: str) -> dict[str, Any]:
    now = http.get("/api/plan-file").json()
    return {"rows": edited(now["rows"], "T010", **cells), "base": now["rows"], "digest": now["digest"]}


def test_only_who_may_decide_may_save(http: httpx.Client, path: Path) -> None:
    """Others may look and check; the file stays as it is, and the answer says what is needed."""
    wanted = to_save(http, title="Unstow")
    for headers in ({}, signed(LOG)):
        assert "decisions" in http.get("/api/plan-file", headers=headers).json()["why_not"]
        assert http.post("/api/plan-file", json=wanted, headers=headers).status_code == 403
        checked = http.post("/api/plan-file/check", json={"rows": wanted["rows"], "base": wanted["base"]}, headers=headers)
        assert checked.status_code == 200 and checked.json()["changes"]
    assert path.read_text() == TEXT


def test_the_second_of_two_editors_is_answered_with_a_conflict(http: httpx.Client, path: Path) -> None:
    """The first saves; the second gets both differences, and his rows put on the file."""
    mine, theirs = to_save(http, title="Unstow it"), to_save(http, duration="25")
    assert http.post("/api/plan-file", json=theirs, headers=signed(LEAD)).status_code == 200
    answer = http.post("/api/plan-file", json=mine, headers=signed(LEAD))
    assert answer.status_code == 409
    assert (len(answer.json()["their_changes"]), len(answer.json()["your_changes"])) == (1, 1)
    assert load_plan(path).tasks[0].title == "Unstow pump"
    assert (answer.json()["together"][0]["title"], answer.json()["together"][0]["duration"]) == ("Unstow it", "25")


def test_rows_that_make_no_plan_and_pages_of_other_sites_are_refused(http: httpx.Client) -> None:
    """With the problem in words; a body of another shape too."""
    wrong = http.post("/api/plan-file", json=to_save(http, duration="long"), headers=signed(LEAD))
    assert wrong.status_code == 422 and "T010" in wrong.json()["problems"][0]["subject"]
    shape = http.post("/api/plan-file/check", json={"rows": [{"id": 7}], "base": []})
    assert shape.status_code == 422
    other = {**signed(LEAD), "Origin": "http://elsewhere.example"}
    assert http.post("/api/plan-file", json=to_save(http, title="x"), headers=other).status_code == 403


def test_a_plan_of_thousands_of_tasks_is_checked_and_one_without_end_is_refused(http: httpx.Client) -> None:
    """More than a request of events may hold, but not more than a plan file can."""
    rows = http.get("/api/plan-file").json()["rows"]
    many = [{**rows[0], "id": f"T{n}", "remarks": "r" * 3000} for n in range(400)]
    checked = http.post("/api/plan-file/check", json={"rows": many, "base": rows})
    assert checked.status_code == 200, checked.text
    refused = http.post("/api/plan-file/check", json={"rows": many * 9, "base": rows})
    assert refused.status_code == 413 and "Edit the plan file itself" in refused.text


def test_the_plan_page_has_the_grid_and_the_board_does_not_load_it(http: httpx.Client) -> None:
    """Both under the same policy: scripts by file or hash only. What stands behind the address of the page is kept."""
    plan, board = http.get("/plan/"), http.get("/")
    scripts = "/_dash-component-suites/dash_ag_grid/"
    assert scripts in plan.text and scripts not in board.text
    assert "plan/main.js" in plan.text and "plan/main.js" not in board.text
    policy = plan.headers["content-security-policy"]
    assert "unsafe-eval" not in policy and "'unsafe-inline'" not in policy.partition("script-src")[2].partition(";")[0]
    moved = http.get("/plan?theme=light")
    assert (moved.status_code, httpx.URL(moved.headers["location"]).raw_path) == (307, b"/plan/?theme=light")


def test_the_whole_text_is_saved_by_who_may_decide_and_never_over_another_editor(http: httpx.Client, path: Path) -> None:
    """Everyone may check it."""
    now = http.get("/api/plan-file").json()
    wanted = {"text": now["text"] + "# a remark\n", "base": now["text"], "digest": now["digest"]}
    assert http.post("/api/plan-file/text/check", json={"text": wanted["text"], "base": ""}).json()["summary"]
    assert http.post("/api/plan-file/text", json=wanted, headers=signed(LOG)).status_code == 403
    assert http.post("/api/plan-file/text", json=wanted, headers=signed(LEAD)).status_code == 200
    assert path.read_text() == wanted["text"]
    assert http.post("/api/plan-file/text", json=wanted, headers=signed(LEAD)).status_code == 409
    wrong = http.post("/api/plan-file/text", json={**wanted, "text": "[["}, headers=signed(LEAD))
    assert wrong.status_code == 409 and path.read_text() == wanted["text"]
