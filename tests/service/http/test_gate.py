"""The gate before every route: keys given to the page, and the names a server answers to."""

from __future__ import annotations

import http.client
import itertools
import re
import socket
from collections.abc import Iterator
from urllib.parse import urlsplit

import pytest
from websockets.exceptions import InvalidStatus
from websockets.sync.client import connect

from dashboard.core.base.problems import InputError
from dashboard.service.access.keys import Keys
from dashboard.service.desk import Desk
from dashboard.service.http.api import make_api
from dashboard.service.http.gate import checked_reach, hosts_of
from tests.live_server import LiveServer
from tests.service.conftest import Room, event

LOG, LEAD = "log-key-1", "lead-key-2"


@pytest.fixture
def url(desk: Desk) -> Iterator[str]:
    with LiveServer(make_api(desk, Keys(LOG, LEAD), hosts_of("127.0.0.1"))) as server:
        yield server.url


def test_a_key_given_to_the_page_once_stays_in_a_cookie(url: str):
    """The address is redirected without the key; no script can read the cookie, and it is not the key itself."""
    room = Room(url)
    answer = room.http.get("/", params={"key": LOG, "panel": "log"})
    assert (answer.status_code, answer.headers["location"]) == (303, "/?panel=log")
    cookie = answer.headers["set-cookie"]
    assert "httponly" in cookie.lower() and "samesite" in cookie.lower() and LOG not in cookie
    assert room.send(event("note", 0, text="x")).status_code == 200
    assert room.send(event("defer", 0, tasks=["T010"])).status_code == 403


def test_a_wrong_key_is_said_on_the_page(url: str):
    """And sets no cookie."""
    answer = Room(url).http.get("/", params={"key": "wrong"})
    assert (answer.status_code, "set-cookie" in answer.headers) == (403, False)
    assert "not known here" in answer.text


def answer_to(url: str, host: str | None) -> tuple[int, str]:
    parts = urlsplit(url)
    connection = http.client.HTTPConnection(parts.hostname, parts.port)
    connection.putrequest("GET", "/api/state", skip_host=True)
    if host is not None:
        connection.putheader("Host", host)
    connection.endheaders()
    answer = connection.getresponse()
    return answer.status, answer.read().decode()


@pytest.mark.parametrize(
    ("host", "status"),
    [
        ("127.0.0.1", 200), ("localhost:8050", 200), ("LOCALHOST", 200), ("[::1]:8050", 200),
        ("rebound.example", 421), ("127.0.0.1.rebound.example:80", 421), ("", 400), (None, 400), ("[::1", 400),
    ],
)  # fmt: skip
def test_a_server_of_this_computer_answers_to_its_names_only(url: str, host: str | None, status: int):
    """Another name that points here is refused, with what to do."""
    found, text = answer_to(url, host)
    assert found == status
    assert status == 200 or "Open the address that it printed" in text


def test_the_live_push_too(url: str):
    """A page that was rebound gets no message."""
    there = socket.create_connection(("127.0.0.1", urlsplit(url).port or 0))
    with pytest.raises(InvalidStatus), connect("ws://rebound.example/api/live", sock=there):
        pass


def test_only_a_server_of_this_computer_is_bound_to_names():
    """One that serves others is called what they call it."""
    assert hosts_of("127.0.0.1") == hosts_of("localhost") == {"localhost", "127.0.0.1", "::1"}
    assert "127.0.0.5" in (hosts_of("127.0.0.5") or ())
    assert list(itertools.starmap(hosts_of, [("0.0.0.0",), ("::",), ("board.example",)])) == [None] * 3


def test_a_server_that_others_call_by_names_answers_to_these_alone():
    """And to those of its own computer."""
    assert hosts_of("0.0.0.0", ["Board.Example", "[fe80::1]"]) == {
        "localhost", "127.0.0.1", "::1", "board.example", "fe80::1",
    }  # fmt: skip


@pytest.mark.parametrize("host", ["0.0.0.0", "::", "board.example"])
def test_others_are_not_served_without_keys_or_names(host: str):
    """Everyone who reaches it could decide, and every page that such a person opens; it is said what to do."""
    with pytest.raises(InputError, match="--log-key and --lead-key") as refused:
        checked_reach(host, [], Keys())
    assert refused.value.problems[0].found == "neither"
    assert checked_reach(host, [], Keys(LOG, LEAD)) is None
    assert "board.example" in (checked_reach(host, ["board.example"], Keys()) or ())
    assert checked_reach("127.0.0.1", [], Keys()) == hosts_of("127.0.0.1")


@pytest.mark.parametrize("path", ["//elsewhere.example/", "///elsewhere.example", "/\\elsewhere.example"])
def test_a_key_in_an_address_leads_to_no_other_host(url: str, path: str):
    """An address with two strokes at its beginning is that of another host; the answer leads to this one."""
    with socket.create_connection(("127.0.0.1", urlsplit(url).port or 0)) as there:
        there.sendall(f"GET {path}?key={LOG} HTTP/1.0\r\nHost: localhost\r\n\r\n".encode())
        answer = there.makefile("rb").read().decode()
    if "location:" in answer:
        (location,) = re.findall(r"location: (\S+)", answer)
        assert location.startswith("/") and not re.match(r"/[/\\]", location)
    else:
        assert answer.startswith("HTTP/1.1 400")
