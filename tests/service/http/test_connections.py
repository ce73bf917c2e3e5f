"""Half requests: they neither last nor add up, and whoever leaves in the middle leaves no stack trace."""

from __future__ import annotations

import socket
import threading
from collections.abc import Callable, Iterator
from http.client import HTTPResponse

import httpx
import pytest
import uvicorn

from dashboard.service.desk import Desk
from dashboard.service.http.api import make_api
from dashboard.service.http.connections import guarded_protocol
from tests.local import LOCAL
from tests.waiting import until

HALF_HEAD = b"POST /api/events HTTP/1.1\r\nHost: localhost\r\n"
HALF_BODY = HALF_HEAD + b"Content-Type: application/json\r\nContent-Length: 1000\r\n\r\n{"
WHOLE = b"GET /api/plan HTTP/1.1\r\nHost: localhost\r\n\r\n"
MOST = 4


@pytest.fixture
def servers() -> list[uvicorn.Server]:
    """The servers that a test started, in their order."""
    return []


@pytest.fixture
def serve_within(desk: Desk, servers: list[uvicorn.Server]) -> Iterator[Callable[[float], int]]:
    """Serve with so many seconds for a request, at most `MOST` unfinished ones; gives the port."""
    threads: list[threading.Thread] = []

    def start(seconds: float) -> int:
        listening = socket.socket()
        listening.bind(("127.0.0.1", 0))
        config = uvicorn.Config(
            make_api(desk), log_level="warning", lifespan="on", http=guarded_protocol(seconds, MOST),
            timeout_graceful_shutdown=1,
        )
        server = uvicorn.Server(config)
        thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]}, daemon=True)
        thread.start()
        servers.append(server)
        threads.append(thread)
        until(lambda: server.started, "the server starts")
        return listening.getsockname()[1]

    yield start
    for server, thread in zip(servers, threads, strict=True):
        server.should_exit = True
        thread.join(10)


def opened(port: int, begin: bytes) -> socket.socket:
    made = socket.create_connection(("127.0.0.1", port), timeout=30)
    made.sendall(begin)
    return made


def status(connection: socket.socket) -> int:
    """The status of the next answer on a connection, which is read to its end."""
    answer = HTTPResponse(connection)
    answer.begin()
    answer.read()
    return answer.status


@pytest.mark.parametrize("begin", [b"", b"GET", HALF_HEAD, HALF_BODY], ids=["nothing", "a word", "half a head", "half a body"])
def test_a_request_that_does_not_come_to_its_end_is_given_up(serve_within, begin: bytes):
    """Within the time for a whole request, body included."""
    with opened(serve_within(0.3), begin) as slow:
        while slow.recv(1000):
            pass  # whatever it answers, it ends the connection


def test_headers_without_end_are_given_up(serve_within):
    """They would be kept in memory until they are complete."""
    with opened(serve_within(60.0), HALF_HEAD) as endless:
        try:
            for _ in range(1000):
                endless.sendall(b"X-Long: " + b"a" * 16_000 + b"\r\n")
        except OSError:
            pass  # it ended the connection
        else:
            pytest.fail("16 MB of headers were taken")


def test_one_more_unfinished_request_of_an_address_ends_its_oldest(serve_within):
    """Who asks properly is served, however many half requests the same address has open."""
    port = serve_within(60.0)
    slow = [opened(port, HALF_HEAD) for _ in range(3 * MOST)]
    with httpx.Client(base_url=f"http://127.0.0.1:{port}", **LOCAL, timeout=60) as client:
        for _ in range(3):
            assert client.get("/api/plan").status_code == 200
    assert [bool(one.recv(1000)) for one in slow[:MOST]] == [True] * MOST
    for one in slow:
        one.close()


def test_a_connection_may_be_used_again_after_a_pause(serve_within):
    """The time counts from the beginning of a request, not of the connection: the pause is longer than a request may take."""
    port = serve_within(2.0)
    with opened(port, WHOLE) as kept:
        assert status(kept) == 200
        with opened(port, HALF_HEAD) as slow:
            while slow.recv(1000):
                pass  # its time began later, and is over now
        kept.sendall(WHOLE)
        assert status(kept) == 200


def test_whoever_leaves_in_the_middle_of_a_body_leaves_no_stack_trace(
    serve_within, servers: list[uvicorn.Server], caplog: pytest.LogCaptureFixture
):
    """The server goes on, and its log stays clean."""
    port = serve_within(60.0)
    state = servers[0].server_state
    for _ in range(5):
        opened(port, HALF_BODY).close()
    with httpx.Client(base_url=f"http://127.0.0.1:{port}", **LOCAL, timeout=60) as client:
        assert client.get("/api/events").json() == []
    until(lambda: not (state.connections or state.tasks), "the server is done with all connections")
    assert [record.getMessage() for record in caplog.records if record.levelname == "ERROR"] == []
