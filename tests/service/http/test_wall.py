"""The address of the wall view."""

from __future__ import annotations

from collections.abc import Iterator

import httpx
import pytest

from dashboard.log.store import EventStore
from dashboard.service.app import make_app
from dashboard.service.desk import Desk
from dashboard.service.session.live import LiveSession
from tests.live_server import LiveServer
from tests.screens.plans import plain_plan


@pytest.fixture(scope="module")
def client() -> Iterator[httpx.Client]:
    """A server whose board nobody has opened yet."""
    plan = plain_plan()
    app = make_app(Desk(LiveSession(plan, EventStore("sqlite://", plan.sortie.id)))).server
    with LiveServer(app) as live, httpx.Client(base_url=live.url, trust_env=False) as client:
        yield client


def test_the_wall_is_the_page_of_the_board(client: httpx.Client) -> None:
    """With its styles, even as the first page that a server is asked for, and under the same content policy."""
    wall, board = client.get("/wall"), client.get("/")
    assert wall.status_code == 200 and "wall.css" in wall.text
    assert wall.text.partition("<footer>")[0] == board.text.partition("<footer>")[0]
    assert wall.headers["content-security-policy"] == board.headers["content-security-policy"]


def test_a_key_in_the_address_of_the_wall_leads_back_to_the_wall(client: httpx.Client) -> None:
    """Without the key."""
    answer = client.get("/wall?key=abc&theme=light", follow_redirects=False)
    assert (answer.status_code, answer.headers["location"]) == (303, "/wall?theme=light")
