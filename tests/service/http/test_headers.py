"""What every answer tells a browser it may do."""

from __future__ import annotations

import base64
import hashlib
import re
from html import unescape

import httpx
import pytest

from dashboard.core.plan.model import Plan
from dashboard.service.app import make_app
from dashboard.service.desk import Desk
from dashboard.service.http.headers import ContentPolicy
from tests.live_server import LiveServer
from tests.local import LOCAL
from tests.service.conftest import Room


@pytest.fixture
def board(desk: Desk):
    with LiveServer(make_app(desk).server) as server:
        yield httpx.Client(base_url=server.url, **LOCAL, timeout=60)


def directives(answer: httpx.Response) -> dict[str, list[str]]:
    parts = answer.headers["content-security-policy"].split("; ")
    return {name: words for name, *words in (part.split() for part in parts)}


@pytest.mark.parametrize("path", ["/api/state", "/api/docs", "/api/nope", "/debrief.json", "/"])
def test_every_answer_says_what_a_browser_may_do(board: httpx.Client, path: str):
    """Whatever it is, refusals included: nothing from elsewhere, no frame of another site, no guessing of types."""
    answer = board.get(path)
    found = directives(answer)
    assert found["default-src"] == ["'self'"] and found["frame-ancestors"] == ["'none'"]
    assert found["object-src"] == found["base-uri"] == ["'none'"]
    assert (answer.headers["x-content-type-options"], answer.headers["x-frame-options"]) == ("nosniff", "DENY")


def test_a_script_inside_the_page_is_allowed_by_its_hash_and_no_other(board: httpx.Client):
    """Those of the page are, a handler included; `unsafe-inline` and `unsafe-eval` are not, nor any other place."""
    answer = board.get("/")
    inside = [
        body for attributes, body in re.findall(r"<script([^>]*)>(.*?)</script>", answer.text, re.DOTALL)
        if "application/json" not in attributes and "src=" not in attributes
    ]  # fmt: skip
    inside += [unescape(handler) for handler in re.findall(r'\son\w+="([^"]*)"', answer.text)]
    hashes = {f"'sha256-{base64.b64encode(hashlib.sha256(body.encode()).digest()).decode()}'" for body in inside}
    assert len(hashes) == 2
    assert set(directives(answer)["script-src"]) == {"'self'", "'unsafe-hashes'", *hashes}


def test_a_server_without_pages_of_dash_allows_no_script_inside_a_page(room: Room):
    """The interface alone has none."""
    assert directives(room.http.get("/api/docs"))["script-src"] == ["'self'"]
    assert "script-src 'self';" in ContentPolicy().text()


@pytest.mark.parametrize("path", ["nope/x.js", "dash/nope.js", "dash/dcc/nope.js", "plotly/package_data/nope.js"])
def test_a_component_that_is_not_there_is_404(board: httpx.Client, path: str, plan: Plan):
    """In words, and no stack trace."""
    answer = board.get(f"/_dash-component-suites/{path}")
    assert answer.status_code == 404 and answer.text.startswith("There is nothing at ")
