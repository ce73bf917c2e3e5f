"""Signing in and out."""

from __future__ import annotations

import re
from collections.abc import Iterator
from html.parser import HTMLParser
from pathlib import Path

import httpx
import pytest

from dashboard.service.access.attempts import MOST_WRONG
from dashboard.service.access.followed_key_file import FollowedKeyFile
from dashboard.service.access.key_file import add_key, revoke_keys
from dashboard.service.access.keys import SIGNED_IN_S, Keys
from dashboard.service.desk import Desk
from dashboard.service.http import visitors
from dashboard.service.http.api import make_api
from tests.live_server import LiveServer
from tests.service.conftest import Room, event


@pytest.fixture(autouse=True)
def quick(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(visitors, "SLOW_S", 0.0)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "keys.toml"


@pytest.fixture
def key(path: Path) -> str:
    return add_key(path, "Ada <Lee>", "log")[1]


@pytest.fixture
def room(desk: Desk, path: Path, key: str) -> Iterator[Room]:
    with LiveServer(make_api(desk, Keys("log-key-1", None, FollowedKeyFile(path)))) as server:
        yield Room(server.url)


def sign_in(room: Room, key: str) -> httpx.Response:
    return room.http.post("/sign-in", data={"key": key})


def test_a_key_signs_in_and_the_cookie_counts(room: Room, key: str):
    """No script reads it, no other site sends it, it runs out, and the key is not in it."""
    answer = sign_in(room, f" {key}\n")
    assert (answer.status_code, answer.headers["location"], answer.headers["cache-control"]) == (303, "/", "no-store")
    cookie = answer.headers["set-cookie"]
    assert {"HttpOnly", "SameSite=strict", f"Max-Age={SIGNED_IN_S}", "Path=/"} <= set(cookie.split("; "))
    assert "Secure" not in cookie and key.partition(".")[2] not in cookie
    assert room.send(event("note", 0, text="x")).status_code == 200
    assert room.send(event("defer", 0, tasks=["T010"])).status_code == 403
    assert room.http.get("/api/events").json()[0]["by"] == "Ada <Lee>"


def test_the_page_says_who_is_signed_in_and_signs_out(room: Room, key: str):
    """The name is text, whatever it is."""
    assert "Sign out" not in room.http.get("/sign-in").text
    sign_in(room, key)
    page = room.http.get("/sign-in").text
    assert page.count("<main>") == page.count("</main>") == 1
    assert "signed in as Ada &lt;Lee&gt; (log) until UTC" in page and 'name="key"' not in page
    answer = room.http.post("/sign-out")
    assert (answer.status_code, answer.headers["location"]) == (303, "/sign-in")
    assert room.send(event("note", 0, text="x")).status_code == 403
    assert "Sign out" not in room.http.get("/sign-in").text


def test_a_copied_cookie_no_longer_counts_after_signing_out(room: Room, key: str):
    """Whoever copied it has no more than a visitor without a key; another sign-in with the same key goes on."""
    sign_in(room, key)
    copied, other = Room(str(room.http.base_url)), Room(str(room.http.base_url))
    copied.http.cookies.update(room.http.cookies)
    sign_in(other, key)
    assert copied.send(event("note", 0, text="x")).status_code == 200
    room.http.post("/sign-out")
    answer = copied.send(event("note", 1, text="y"))
    assert answer.status_code == 403 and "this sign-in was signed out" in answer.text.lower()
    assert other.send(event("note", 2, text="z")).status_code == 200


@pytest.mark.parametrize("wrong", ["wrong", "k00000000.wrong", "é‮", "x" * 3000])
def test_a_wrong_key_is_said_and_sets_no_cookie(room: Room, wrong: str):
    """The form stays, and does not repeat it."""
    answer = sign_in(room, wrong)
    assert (answer.status_code, "set-cookie" in answer.headers) == (403, False)
    assert "The key is not known here." in answer.text and 'name="key"' in answer.text and f'"{wrong}"' not in answer.text


def test_a_revoked_key_does_not_sign_in(desk: Desk, path: Path, key: str):
    """It is said."""
    revoke_keys(path, "Ada <Lee>")
    with LiveServer(make_api(desk, Keys(people=FollowedKeyFile(path)))) as server:
        answer = sign_in(Room(server.url), key)
    assert answer.status_code == 403 and "This key was revoked." in answer.text and "set-cookie" not in answer.headers


def test_after_too_many_wrong_keys_the_page_says_how_long_to_wait(room: Room, key: str):
    """A key of the file signs in all the same, and who is signed in stays so."""
    for _ in range(MOST_WRONG):
        sign_in(room, "wrong")
    answer = sign_in(room, "log-key-1")
    assert answer.status_code == 429 and re.search(r"Wait \d+ s", answer.text)
    assert sign_in(room, key).status_code == 303
    assert room.send(event("note", 0, text="x")).status_code == 200


@pytest.mark.parametrize("address", ["/sign-in", "/sign-out"])
def test_a_page_of_another_site_signs_nobody_in_or_out(room: Room, key: str, address: str):
    """Nor does it learn anything."""
    answer = room.http.post(address, data={"key": key}, headers={"Origin": "http://elsewhere.example"})
    assert (answer.status_code, "set-cookie" in answer.headers) == (403, False)


@pytest.mark.parametrize(
    ("body", "status"), [(b"", 422), (b"key=", 422), (b"key=a&key=b", 422), (b"\xff\x00", 422), (b"key=" + b"a" * 5000, 413)]
)
def test_what_is_not_that_form_is_refused(room: Room, body: bytes, status: int):
    """With a problem, as everywhere."""
    answer = room.http.post("/sign-in", content=body)
    assert answer.status_code == status and answer.json()["problems"][0]["subject"] == "sign-in"


def test_without_keys_there_is_nothing_to_sign_in_with(desk: Desk):
    """The page says that everyone is lead."""
    with LiveServer(make_api(desk)) as server:
        room = Room(server.url)
        assert "has no keys" in room.http.get("/sign-in").text
        assert sign_in(room, "x").status_code == 403


class Parts(HTMLParser):
    """The elements of a page."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.found: list[tuple[str, dict[str, str | None]]] = []
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.found.append((tag, dict(attrs)))


def test_the_page_runs_nothing_and_loads_nothing(room: Room):
    """It works under the strictest policy; the browser's store of passwords knows the field."""
    parts = Parts(room.http.get("/sign-in").text).found
    assert not [tag for tag, _ in parts if tag in ("script", "link", "img", "iframe", "object")]
    assert not [name for _, given in parts for name in given if name.startswith("on") or name in ("src", "style")]
    (field,) = (given for tag, given in parts if tag == "input")
    assert (field["type"], field["autocomplete"]) == ("password", "current-password")
