"""The page /brief of the server, its papers, and the step that the presenter shows."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from io import BytesIO

import httpx
import pytest
from pypdf import PdfReader

from dashboard.core.base.caution import CAUTION
from dashboard.core.brief.look_ahead import brief
from dashboard.core.plan.model import Plan
from dashboard.service.access.keys import Keys
from dashboard.service.http.api import make_api
from tests.live_server import LiveServer
from tests.service.conftest import Room, message, message_where

LOG_KEY, WATCHING = "log-key-1", "sign in at /sign-in"


@pytest.fixture
def keyed(desk) -> Iterator[Room]:
    """The same server with a key."""
    with LiveServer(make_api(desk, Keys(LOG_KEY))) as server:
        yield Room(server.url)


def present(room: Room, step: int | None, **more) -> httpx.Response:
    return room.http.post("/api/brief/step", json={"step": step, **more})


def test_the_page_holds_every_step_and_shows_the_first(room: Room, plan: Plan):
    """With the caution and the revision; its script is a module of this server, and it leads to its papers."""
    page = room.http.get("/brief").text
    shown = re.findall(r'<article class="step" data-step="(\d+)" data-pet="([\d.]+)"( hidden)?', page)
    assert shown == [("1", "0.0", ""), ("2", "0.0", " hidden"), ("3", "30.0", " hidden"), ("4", "60.0", " hidden")]
    for wanted in (CAUTION, brief(plan, draws=0).revision, "T040 Swap tray", 'href="/brief.pdf"', 'href="/brief/cuff.pdf"'):
        assert wanted in page
    (script,) = re.findall(r'<script type="module" src="([^"]+)"', page)
    assert room.http.get(script).headers["content-type"].startswith("text/javascript")


def test_the_papers_and_the_facts(room: Room, plan: Plan):
    """Named after the sortie and the revision; the facts are those of `tetherline brief --json`."""
    facts = room.http.get("/brief.json").json()
    assert facts == json.loads(brief(plan).model_dump_json())
    for path, name in (("/brief.pdf", "brief"), ("/brief/cuff.pdf", "cuff")):
        paper = room.http.get(path)
        assert paper.headers["content-disposition"] == f'attachment; filename="{name}-t-{facts["revision"]}.pdf"'
        assert "Sortie t" in PdfReader(BytesIO(paper.content)).pages[0].extract_text()


def test_what_one_shows_all_see(room: Room):
    """Whoever follows along is told at once, and so is whoever comes later; presenting ends as it began."""
    with room.live("/api/brief/live") as early:
        assert message(early)["step"] is None
        assert present(room, 3, in_time=True).json()["step"] == 3
        found = message_where(early, lambda told: told["step"] == 3)
        assert found["in_time"] is True and found == room.http.get("/api/brief/step").json()
        with room.live("/api/brief/live") as late:
            assert message(late)["step"] == 3
            present(room, None)
            assert message_where(late, lambda told: told["step"] is None)["in_time"] is False


@pytest.mark.parametrize(
    ("body", "says"),
    [({"step": 5}, "a step from 1 to 4"), ({"step": 0}, "step"), ({}, "step"), ({"step": 1, "by": "x"}, "by"),
     ([{"step": 1}], "object")],
)  # fmt: skip
def test_a_wrong_step_is_refused(room: Room, body, says):
    """With what was expected; what is presented stays."""
    present(room, 2)
    answer = room.http.post("/api/brief/step", json=body)
    assert answer.status_code == 422 and says in answer.text
    assert room.http.get("/api/brief/step").json()["step"] == 2


def test_presenting_needs_the_log_key(keyed: Room):
    """Without it everyone may read and follow along, and the page says how to sign in."""
    refused = present(keyed, 1)
    assert refused.status_code == 403 and refused.json()["problems"][0]["expected"] == "the log key"
    page = keyed.http.get("/brief").text
    button = re.search(r'<button id="brief-present"[^>]*>', page)[0]
    assert " disabled" in button and WATCHING in button
    head = {"Authorization": f"Bearer {LOG_KEY}"}
    assert keyed.http.post("/api/brief/step", json={"step": 1}, headers=head).status_code == 200
    allowed = re.search(r'<button id="brief-present"[^>]*>', keyed.http.get("/brief", headers=head).text)[0]
    assert " disabled" not in allowed
    with keyed.live("/api/brief/live") as follower:
        assert message(follower)["step"] == 1


def test_a_page_of_another_site_can_neither_present_nor_follow(room: Room):
    """As for every other entry."""
    other = room.http.post("/api/brief/step", json={"step": 1}, headers={"Origin": "http://elsewhere.example"})
    assert other.status_code == 403
    with pytest.raises(Exception, match="403|1008"), room.live("/api/brief/live", origin="http://elsewhere.example") as client:
        client.recv(timeout=10)
