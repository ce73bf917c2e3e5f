"""Whoever speaks to the server: people by name, wrong keys, and what is recorded of refusals."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any, NamedTuple

import pytest

from dashboard.core.plan.model import Plan
from dashboard.service.access.attempts import MOST_WRONG
from dashboard.service.access.audit import Audit
from dashboard.service.access.followed_key_file import FollowedKeyFile
from dashboard.service.access.key_file import add_key, revoke_keys
from dashboard.service.access.keys import Keys
from dashboard.service.desk import Desk
from dashboard.service.http import visitors
from dashboard.service.http.api import make_api
from dashboard.service.opening import replay_desk
from replay.recording import recorded
from tests.live_server import LiveServer
from tests.scenario import log_of
from tests.service.conftest import Room, event, message, message_where
from tests.waiting import until

LOG_KEY = "log-key-1"


class House(NamedTuple):
    """A server with people, its key file, and the record of its refusals."""

    url: str
    path: Path
    keys: dict[str, str]
    record: Path
    followed: FollowedKeyFile

    def room(self, who: str | None = None) -> Room:
        room = Room(self.url)
        room.http.headers.update(self.shows(who))
        return room

    def shows(self, who: str | None) -> dict[str, str]:
        """The header with a key, by whose it is; any other word stands for itself."""
        return {} if who is None else {"Authorization": f"Bearer {self.keys.get(who, who)}"}

    def refusals(self, count: int) -> list[dict[str, str]]:
        """The lines of the record, once there are so many: they are written a moment after the answer."""
        until(lambda: len(self.record.read_text().splitlines()) >= count, f"{count} refusals in the record")
        return [json.loads(line) for line in self.record.read_text().splitlines()]


@pytest.fixture
def people(tmp_path: Path) -> tuple[Path, dict[str, str]]:
    path = tmp_path / "keys.toml"
    roles = {"Ada Lee": "log", "Bo Carr": "lead", "Cy Dunn": "watch"}
    return path, {name: add_key(path, name, role)[1] for name, role in roles.items()} | {"shared": LOG_KEY}


@pytest.fixture
def house(
    desk: Desk, people: tuple[Path, dict[str, str]], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> Iterator[House]:
    monkeypatch.setattr(visitors, "SLOW_S", 0.0)
    path, keys = people
    record = tmp_path / "refused.jsonl"
    followed = FollowedKeyFile(path)
    with LiveServer(make_api(desk, Keys(LOG_KEY, None, followed), audit=Audit(record))) as server:
        yield House(server.url, path, keys, record, followed)


def rows(house: House) -> list[dict[str, Any]]:
    return house.room().http.get("/api/events").json()


@pytest.mark.parametrize(
    ("who", "given", "by", "entered_by"),
    [
        ("Ada Lee", None, "Ada Lee", None), ("Ada Lee", "Ada Lee", "Ada Lee", None), ("Ada Lee", "EV1", "EV1", "Ada Lee"),
        ("shared", None, "the log key", None), ("shared", "Ada Lee", "Ada Lee", "the log key"),
    ],
)  # fmt: skip
def test_every_entry_carries_who(house: House, who: str, given: str | None, by: str, entered_by: str | None):
    """As `by` where none is given; beside it where another is. No one can enter as somebody else unseen."""
    forged = {"entered_by": "Cy Dunn", **({} if given is None else {"by": given})}
    assert house.room(who).send(event("note", 0, text="x", **forged)).status_code == 200
    (row,) = rows(house)
    assert (row["by"], row.get("entered_by")) == (by, entered_by)


def test_the_log_of_the_board_shows_for_whom_someone_entered(house: House):
    """Beside the words."""
    house.room("Ada Lee").send(event("note", 0, text="x", by="EV1"))
    with house.room().live() as client:
        shown = message_where(client, lambda m: m["board"] and "EV1" in m["board"]["html"]["log-rows"])
    assert "entered with the key of Ada Lee" in shown["board"]["html"]["log-rows"]


@pytest.mark.parametrize("again", ["Ada Lee", "Bo Carr"])
def test_an_event_sent_once_more_is_recorded_once_whoever_sends_it(house: House, again: str):
    """The first sender stays."""
    note = event("note", 0, text="x", id="n")
    house.room("Ada Lee").send(note)
    assert house.room(again).send(note).json()["outcomes"][0]["status"] == "already recorded"
    assert [row["by"] for row in rows(house)] == ["Ada Lee"]


def test_nobody_can_change_by_an_amendment_whose_key_it_was(house: House):
    """It says who entered, not who did it."""
    house.room("Ada Lee").send(event("note", 0, text="x", id="n", by="EV1"))
    answer = house.room("Bo Carr").send(event("amend", 0, event="n", changes={"entered_by": "Cy Dunn"}))
    assert "'entered_by' to stay as it is" in answer.json()["outcomes"][0]["why"]


def test_a_key_that_is_revoked_counts_no_longer_without_a_restart(house: House):
    """On an open board as well, which says why. The record knows whose key it was."""
    with house.room().live(additional_headers=house.shows("Ada Lee")) as client:
        assert message(client)["visitor"]["said"] == "Ada Lee, log"
        revoke_keys(house.path, "Ada Lee")
        found = message_where(client, lambda m: m["role"] == "watch")
    assert found["visitor"]["why"] == "this key was revoked: sign in to enter events"
    assert house.room("Ada Lee").send(event("note", 0, text="x")).status_code == 403
    (line,) = house.refusals(1)
    assert line["who"] == "Ada Lee" and "this key was revoked" in line["why"]


def test_a_key_that_is_added_counts_without_a_restart(house: House):
    """As soon as the server has looked at its file."""
    before = len(house.followed.now.entries)
    house.keys["Di Ek"] = add_key(house.path, "Di Ek", "log")[1]
    until(lambda: len(house.followed.now.entries) > before, "the file being read again")
    assert house.room("Di Ek").send(event("note", 0, text="x")).status_code == 200
    assert rows(house)[0]["by"] == "Di Ek"


def test_a_broken_key_file_is_said_on_every_board_and_the_last_good_one_counts(house: House):
    """Until it is right again."""
    good = house.path.read_text()
    with house.room().live() as client:
        assert message(client)["key_trouble"] is None
        house.path.write_text("[[key]\n")
        found = message_where(client, lambda m: m["key_trouble"])
        assert "keys.toml:1" in found["key_trouble"]
        assert house.room("Ada Lee").send(event("note", 0, text="x")).status_code == 200
        house.path.write_text(good)
        message_where(client, lambda m: not m["key_trouble"])


@pytest.mark.parametrize(
    ("who", "said", "why"),
    [
        (None, "sign in", "you may only watch: sign in to enter events"),
        ("Cy Dunn", "Cy Dunn, watch", "Cy Dunn may only watch"),
        ("Ada Lee", "Ada Lee, log", ""), ("Bo Carr", "Bo Carr, lead", ""),
    ],
)  # fmt: skip
def test_a_board_says_who_is_there_and_why_they_may_not_enter(house: House, who: str | None, said: str, why: str):
    """A person without rights reads everything."""
    with house.room().live(additional_headers=house.shows(who)) as client:
        head = message(client)
    assert (head["visitor"]["said"], head["visitor"]["why"]) == (said, why)
    assert head["roles"]["log"] is (why == "")


def test_after_too_many_wrong_keys_an_address_waits_with_keys_that_people_chose(house: House):
    """Whoever shows a key of the file is let in all the same; reading goes on."""
    for _ in range(MOST_WRONG):
        assert house.room("guess").send(event("note", 0, text="x")).status_code == 403
    waiting = house.room("shared").send(event("note", 0, text="x"))
    assert waiting.status_code == 429 and "Wait " in waiting.json()["problems"][0]["cure"]
    assert house.room("Ada Lee").send(event("note", 0, text="x")).status_code == 200
    assert house.room("guess").http.get("/api/state").status_code == 200
    assert house.room().http.get("/", params={"key": LOG_KEY}).status_code == 429
    lines = house.refusals(2 * MOST_WRONG + 2)
    assert [line["refused"] for line in lines if "too many" in line["why"]] == ["a key at /api/events", "a key at /"]


def test_a_wrong_key_is_answered_slowly(house: House, monkeypatch: pytest.MonkeyPatch):
    """Each of them; a right one is not."""
    slept: list[float] = []

    async def sleep(seconds: float) -> None:
        slept.append(seconds)

    monkeypatch.setattr(visitors, "SLOW_S", 7.5)
    monkeypatch.setattr(visitors, "asyncio", type("", (), {"sleep": staticmethod(sleep)}))
    house.room("guess").send(event("note", 0, text="x"))
    house.room("Ada Lee").send(event("note", 0, text="x"))
    assert slept == [7.5]


def test_each_refusal_is_recorded_with_who_and_why_and_never_the_key(house: House):
    """A wrong key, an event without the right, a page of another site."""
    house.room("guess-4711").send(event("defer", 0, tasks=["T010"], id="d1"))
    house.room("Ada Lee").send(*[event("defer", 0, tasks=["T010"], id=f"d{n}") for n in range(2, 5)])
    house.room().http.post("/api/events", json=event("note", 0, text="x"), headers={"Origin": "http://elsewhere.example"})
    house.room().http.get("/", params={"key": "guess-4712"})
    house.room().http.get("/api/state")
    found = [(line["address"], line["who"], line["refused"]) for line in house.refusals(5)]
    assert found == [
        ("127.0.0.1", "no key", "a key at /api/events"),
        ("127.0.0.1", "no key", "'defer', id d1"),
        ("127.0.0.1", "Ada Lee", "'defer', 3 times, first id d2"),
        ("127.0.0.1", "no key", "POST /api/events"),
        ("127.0.0.1", "no key", "a key at /"),
    ]
    text = house.record.read_text()
    assert "guess-471" not in text and not any(key in text for key in house.keys.values())
    assert "the key is not known here" in house.refusals(5)[1]["why"]


def test_moving_the_clock_of_a_replay_without_the_right_is_recorded(
    plan: Plan, people: tuple[Path, dict[str, str]], tmp_path: Path
):
    """With the name."""
    run = recorded(plan, log_of("0:00 clock\n0:01 start T010\n0:36 done T010"))
    path, keys = people
    record = tmp_path / "refused.jsonl"
    followed = FollowedKeyFile(path)
    with LiveServer(make_api(replay_desk(run, playing=False), Keys(people=followed), audit=Audit(record))) as server:
        house = House(server.url, path, keys, record, followed)
        answers = [house.room(who).http.post("/api/replay", json={"action": "pause"}).status_code for who in keys]
    assert answers == [200, 200, 403, 403]
    assert [(line["who"], line["refused"]) for line in house.refusals(3)] == [
        ("Cy Dunn", "POST /api/replay"), ("no key", "a key at /api/replay"), ("no key", "POST /api/replay"),
    ]  # fmt: skip
