"""The live push: `/api/live`."""

import json
import socket
from collections.abc import Callable

import pytest
from websockets.exceptions import InvalidStatus

from dashboard.core.plan.model import Plan
from dashboard.core.state.follow import follow
from dashboard.log.store import EventStore
from dashboard.service.compute import View
from dashboard.service.desk import Desk
from dashboard.service.http.live_push import HEARTBEAT_S
from dashboard.service.session.live import LiveSession
from tests.live_server import LiveServer
from tests.service.conftest import NEVER_S, Room, StandingClock, at_pet, event, message, message_where
from tests.service.test_changes import applied
from tests.waiting import DEADLINE_S, until

FIELDS = {
    "boot", "version", "sent", "mode", "ended", "speed", "clock_running", "now", "pet_min", "pet_zero",
    "run", "role", "roles", "replay", "late_ticks", "trouble", "store_trouble", "key_trouble", "visitor", "feeds", "board",
}  # fmt: skip


def test_the_whole_message_comes_on_connect(room: Room):
    """A client that has just connected needs to ask for nothing."""
    with room.live() as client:
        found = message(client)
    assert set(found) == FIELDS
    assert (found["mode"], found["run"], found["replay"]) == ("live", None, None)
    assert found["board"]["html"]["headline-end"]


def test_a_new_event_brings_a_new_version_of_the_same_boot(room: Room):
    """Versions rise; the boot names the process."""
    with room.live() as client:
        first = message(client)
        room.send(event("clock", 0))
        second = message_where(client, lambda found: found["version"] > first["version"])
    assert second["boot"] == first["boot"]


def test_state_and_message_speak_of_the_same_now(room: Room, clock: StandingClock):
    """One `now` a cycle: what the interface answers is what the screens show."""
    clock.instant = at_pet(17)
    room.send(event("clock", 0))
    state = room.state()
    with room.live() as client:
        found = message(client)
    assert found["now"] == state["now"] == "2031-04-12T09:27:00Z"
    assert found["pet_min"] == state["pet_min"] == 17


def test_who_asks_for_changes_gets_the_board_once_and_then_what_changes(room: Room):
    """They make the board that others get whole, and are far shorter; a beat in between changes nothing."""
    with room.live() as whole, room.live(path="/api/live?changes=1") as client:
        board = message(client)["board"]
        room.send(event("clock", 0), event("note", 0, text="Radio check"))
        wanted = message_where(whole, lambda found: "Radio check" in found["board"]["html"]["log-rows"])
        while "Radio check" not in board["html"]["log-rows"]:
            text = client.recv(DEADLINE_S)
            found = json.loads(text)
            assert set(found) == (FIELDS - {"board"}) | {"changes"}
            board = applied(board, found["changes"])
        beat = message_where(client, lambda one: one["changes"] is None)
    assert board["html"]["log-rows"] == wanted["board"]["html"]["log-rows"]
    assert beat["version"] >= found["version"]
    assert len(text) < len(json.dumps(wanted)) / 2


def test_a_quiet_sortie_still_sends(plan: Plan, serve_desk: Callable[[Desk], LiveServer]):
    """The heartbeat: the same version again with no event and no tick, more often than every 5 s."""
    desk = Desk(LiveSession(plan, EventStore("sqlite://"), StandingClock(tick_s=NEVER_S)))
    desk.ask()
    with Room(serve_desk(desk).url).live() as client:
        first = message(client)
        second = message(client)
    assert second["sent"] > first["sent"] and second["version"] == first["version"]
    assert HEARTBEAT_S < 5


def test_two_clients_get_the_same_versions(room: Room, desk: Desk):
    """The message of a version is the same for everyone, but for the instant of sending."""
    with room.live() as one, room.live() as other:
        room.send(event("note", 0, text="Radio check"))
        version = desk.current().version
        seen = [message_where(client, lambda found: found["version"] >= version) for client in (one, other)]
    for found in seen:
        del found["sent"]
    assert seen[0] == seen[1]


def test_a_client_that_never_reads_does_not_hold_the_others_up(
    plan: Plan, clock: StandingClock, serve_desk: Callable[[Desk], LiveServer]
):
    """Two hundred versions of 100 kB later the others have the newest, and nothing has queued up for the idle one."""

    def compute(plan, events, unread, now, mode) -> View:
        return View(follow(plan, events, now, draws=0), {"padding": "x" * 100_000})

    desk = Desk(LiveSession(plan, EventStore("sqlite://"), clock), compute=compute)
    room = Room(serve_desk(desk).url)
    idle = socket.create_connection(("127.0.0.1", int(str(room.http.base_url).rsplit(":", 1)[1].strip("/"))))
    idle.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 1024)
    idle.sendall(
        b"GET /api/live HTTP/1.1\r\nHost: x\r\nUpgrade: websocket\r\nConnection: Upgrade\r\n"
        b"Sec-WebSocket-Key: AAAAAAAAAAAAAAAAAAAAAA==\r\nSec-WebSocket-Version: 13\r\n\r\n"
    )
    with room.live() as client:
        message(client)
        for number in range(200):
            desk.record([event("note", 0, text=str(number))])
            desk.current()
        newest = desk.version
        assert newest >= 200
        assert message_where(client, lambda found: found["version"] >= newest)
    idle.close()


def test_a_client_that_leaves_is_forgotten(room: Room, desk: Desk):
    """No listener is left behind."""
    own = set(desk.listeners)
    with room.live() as client:
        message(client)
        assert len(desk.listeners - own) == 1
    until(lambda: desk.listeners == own, "the listener being forgotten")


def test_what_a_client_says_is_ignored(room: Room):
    """Text, JSON or bytes: the connection goes on or ends, the server stays."""
    with room.live() as client:
        message(client)
        client.send("hello")
        client.send(json.dumps({"kind": "note"}))
        room.send(event("note", 0, text="x"))
        assert message(client)
        client.send(b"\x00\x01")
    assert room.state()["basis"]["events"] == 1


def test_a_page_of_another_site_is_not_let_in(room: Room):
    """The origin must be this very host and port."""
    for origin in ("http://elsewhere.example", "http://127.0.0.1:1", "null"):
        with pytest.raises(InvalidStatus) as refused, room.live(origin=origin):
            pass
        assert refused.value.response.status_code == 403


def test_a_page_of_this_server_is_let_in(room: Room):
    """As every browser sends it."""
    with room.live(origin=str(room.http.base_url).rstrip("/")) as client:
        assert message(client)["version"] >= 1
