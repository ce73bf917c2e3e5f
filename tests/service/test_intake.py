"""Taking events in, with trials: what is acknowledged, what goes into quarantine, and what the answer says an entry did."""

from __future__ import annotations

import json
import threading
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import pytest

from dashboard.core.plan.model import Plan
from dashboard.log.store import EventStore
from dashboard.service.access.keys import Keys
from dashboard.service.desk import Desk
from dashboard.service.http.api import make_api
from dashboard.service.session.live import LiveSession
from dashboard.service.trial import process as trial_process
from dashboard.service.trial.process import TrialProcess
from dashboard.service.trial.sieve import Sieve
from tests.live_server import LiveServer
from tests.service.conftest import Room, StandingClock, at_pet, event, first_version
from tests.service.trial.cycles import brittle_view
from tests.waiting import DEADLINE_S, until

LOG, LEAD = "log-key-1", "lead-key-2"


@pytest.fixture
def desk(plan: Plan, store_url: str, clock: StandingClock, monkeypatch) -> Desk:
    """A desk whose cycle a note can break, and whose events are tried; only processor time ends a trial."""
    monkeypatch.setattr(trial_process, "BUDGET_S", 0.5)
    monkeypatch.setattr(trial_process, "WALL_PER_BUDGET", 1000.0)
    return desk_on(plan, store_url, clock)


def desk_on(plan: Plan, store_url: str, clock: StandingClock) -> Desk:
    session = LiveSession(plan, EventStore(store_url, plan.sortie.id), clock)
    return Desk(session, compute=brittle_view, sieve=Sieve(TrialProcess(plan, brittle_view)))


def told(answer: Any) -> list[dict[str, Any]]:
    return answer.json()["outcomes"]


@pytest.mark.parametrize("text", ["break", "hang", "end the process"])
def test_an_event_that_would_stop_the_room_is_kept_in_quarantine(room: Room, clock: StandingClock, text: str):
    """It is answered as such, shown word for word with the reason, and the state goes on; sent again it is kept once."""
    clock.instant = at_pet(5)
    assert room.send(event("clock", 0), event("start", 1, task="T010")).status_code == 200
    bad = event("note", 2, text=text, id="bad")
    for _ in range(1 if text == "hang" else 2):  # each trial of a hang takes all the processor time that it may take
        answer = room.send(bad)
        assert (answer.status_code, told(answer)[0]["status"]) == (422, "quarantined")
        assert "made without it" in told(answer)[0]["why"]
    state = room.state()
    assert state["tasks"]["T010"]["state"] == "in work" and state["pet_min"] == 5
    (line,) = state["unread"]
    assert json.loads(line["line"])["text"] == text and line["why"] == told(answer)[0]["why"]
    assert told(room.send(event("done", 4, task="T010")))[0]["status"] == "recorded"
    assert room.state()["tasks"]["T010"]["state"] == "done"


def test_the_process_of_the_trials_is_up_before_the_first_entry(desk: Desk):
    """Also where the log is empty, so that nothing was tried yet."""
    process = desk._sieve._trial
    desk.open()
    try:
        until(lambda: process._took_s is not None, "a first trial")
    finally:
        desk.close()


def test_under_load_entries_share_trials(desk: Desk, monkeypatch):
    """What nineteen senders enter during a trial is tried together after it, and each sender has its own answer."""
    desk.open()
    first_version(desk)
    until(lambda: desk._sieve._trial._took_s is not None, "the warm-up")
    trials, others_wait = [], threading.Event()
    run = desk._sieve._trial.run

    def held(*given, **more):
        trials.append(1)
        assert others_wait.wait(DEADLINE_S)
        return run(*given, **more)

    monkeypatch.setattr(desk._sieve._trial, "run", held)
    try:
        with ThreadPoolExecutor(20) as senders:
            note = lambda n: desk.record([{"kind": "note", "text": "x", "id": f"n{n}"}])  # noqa: E731
            sent = [senders.submit(note, 0)]
            until(lambda: trials, "the first trial")
            sent += [senders.submit(note, number) for number in range(1, 20)]
            until(lambda: len(desk._intake._waiting) == 19, "the others waiting")
            others_wait.set()
            answers = [one.result() for one in sent]
    finally:
        others_wait.set()
        desk.close()
    assert [(one["id"], one["status"]) for (one,) in answers] == [(f"n{n}", "recorded") for n in range(20)]
    assert len(trials) == 2


def test_of_a_batch_only_what_breaks_is_kept_out(room: Room, clock: StandingClock):
    """The others are recorded, and their senders told so."""
    clock.instant = at_pet(5)
    answer = room.send(event("clock", 0), event("note", 1, text="break"), event("start", 1, task="T010"))
    assert (answer.status_code, [one["status"] for one in told(answer)]) == (207, ["recorded", "quarantined", "recorded"])
    assert room.state()["tasks"]["T010"]["state"] == "in work"


def test_what_would_break_the_state_later_is_kept_out_now(room: Room, desk: Desk, clock: StandingClock):
    """An event that is dated ahead is tried at its time too."""
    assert told(room.send(event("note", 30, text="break")))[0]["status"] == "quarantined"
    clock.instant = at_pet(31)
    desk.ask()
    assert room.state()["pet_min"] == 31


def test_what_keeps_the_cycle_busy_only_later_is_put_into_quarantine_then(
    room: Room, desk: Desk, clock: StandingClock, monkeypatch: pytest.MonkeyPatch
):
    """It passed its trial. When the cycle hangs on it later, the desk is freed, and the state goes on without it."""
    monkeypatch.setattr("dashboard.service.desk.LONGEST_CYCLE_S", 0.5)
    room.send(event("clock", 0), event("start", 1, task="T010"))
    assert told(room.send(event("note", 0, text="hang later", id="bad")))[0]["status"] == "recorded"
    clock.instant = at_pet(11)
    desk.ask()
    state = until(lambda: found if (found := room.state())["pet_min"] == 11 else None, "the state of PET 0:11")
    assert [json.loads(line["line"])["id"] for line in state["unread"]] == ["bad"]
    assert state["tasks"]["T010"]["state"] == "in work"


def test_a_log_that_holds_what_breaks_is_followed_all_the_same(plan: Plan, store_url: str, serve_desk):
    """Of an earlier version, or entered by another server: it goes into quarantine at the start, and when it comes in."""
    store = EventStore(store_url, plan.sortie.id)
    bad = event("note", 1, text="break", id="bad")
    store.append([event("clock", 0, id="c"), bad, event("start", 1, task="T010", id="s")], at_pet(1))
    room = Room(serve_desk(desk_on(plan, store_url, StandingClock(5))).url)
    state = room.state()
    assert state["tasks"]["T010"]["state"] == "in work"
    assert [json.loads(line["line"])["id"] for line in state["unread"]] == ["bad"]
    store.append([event("note", 2, text="break", id="worse"), event("done", 4, task="T010", id="d")], at_pet(4))
    room.send(event("note", 5, text="fine"))
    state = room.state()
    assert state["tasks"]["T010"]["state"] == "done"
    assert [json.loads(line["line"])["id"] for line in state["unread"]] == ["bad", "worse"]


@pytest.fixture
def url(desk: Desk) -> Iterator[str]:
    with LiveServer(make_api(desk, Keys(LOG, LEAD))) as server:
        first_version(desk)
        yield server.url


def test_what_is_in_quarantine_grants_nothing(url: str):
    """Its id may become that of a decision: the log key may not cancel that beforehand."""
    log = Room(url)
    log.http.headers["Authorization"] = f"Bearer {LOG}"
    answer = log.send(event("note", 0, text="break", id="X"), event("withdraw", 0, event="X"))
    assert [one["status"] for one in told(answer)] == ["quarantined", "refused"]


def test_the_answer_says_what_the_entry_did(room: Room, clock: StandingClock):
    """Its discrepancies, what it moved, and how it is taken back: sent as it is, the event no longer counts."""
    clock.instant = at_pet(90)
    room.send(event("clock", 0), *(event("done", 60, task=name) for name in ("T010", "T020", "T030")))
    (outcome,) = told(room.send(event("start", 88, task="T030", id="again")))
    assert outcome["status"] == "recorded"
    assert outcome["did"]["discrepancies"] and "T030" in outcome["did"]["discrepancies"][0]
    assert [said for said in outcome["did"]["moved"] if "end" in said and "later" in said], outcome
    assert outcome["did"]["withdraw"] == {"kind": "withdraw", "event": "again"}
    (back,) = told(room.send(outcome["did"]["withdraw"]))
    assert any("earlier" in said for said in back["did"]["moved"])
    assert room.state()["tasks"]["T030"]["state"] == "done"


@pytest.mark.parametrize(
    "odd",
    [
        event("done", 80, task="T030"), event("withdraw", 80, event="nowhere"), event("trim", 80, task="T010", duration=5),
        event("start", 80, task="T010"),
    ],
    ids=["done without start", "withdraw of nothing", "trim of what cannot be", "start of what is done"],
)  # fmt: skip
def test_what_does_not_fit_is_told_to_its_sender(room: Room, clock: StandingClock, odd: dict):
    """Not only on the board."""
    clock.instant = at_pet(90)
    room.send(event("clock", 0), event("start", 0, task="T010"), event("done", 30, task="T010"))
    (outcome,) = told(room.send(odd))
    assert outcome["status"] == "recorded" and outcome["did"]["discrepancies"]


def test_without_its_store_an_answer_still_says_what_the_entry_did(room: Room, clock: StandingClock, tmp_path: Path):
    """It counts from memory. What names a task that does not exist does not count, and says so."""
    clock.instant = at_pet(90)
    room.send(event("clock", 0, id="c"))
    (tmp_path / "sortie.log.sqlite").unlink()
    done, mistyped = (told(room.send(event("done", 20, task=task)))[0] for task in ("T010", "T01O"))
    assert done["status"] == "in memory only" and done["did"]["discrepancies"]
    assert mistyped["status"] == "unread" and "T01O" in mistyped["why"] and "in memory only" in mistyped["why"]


def test_an_entry_that_moves_nothing_says_so(room: Room, clock: StandingClock):
    """A note has no effect on the figures."""
    clock.instant = at_pet(20)
    room.send(event("clock", 0))
    assert told(room.send(event("note", text="x")))[0]["did"] | {"withdraw": None} == {
        "discrepancies": [], "moved": [], "withdraw": None,
    }  # fmt: skip


def test_an_entry_that_is_not_understood_offers_no_withdrawal(room: Room, clock: StandingClock):
    """It counts for nothing, and what was entered with it is not said to have moved anything together with it."""
    clock.instant = at_pet(90)
    room.send(event("clock", 0))
    started, unread = told(room.send(event("start", 5, task="T010"), event("start", 50, task="T999")))
    assert (unread["status"], unread["did"]) == ("unread", None)
    assert started["did"]["moved"] and not any("entered together" in said for said in started["did"]["moved"])


def test_what_several_moved_stands_with_the_last(room: Room, clock: StandingClock):
    """They are tried together; what each of them moved by itself is not known."""
    clock.instant = at_pet(90)
    room.send(event("clock", 0))
    first, last = told(room.send(event("start", 5, task="T010"), event("start", 50, task="T030")))
    assert first["did"]["moved"] == []
    assert last["did"]["moved"] and all(said.startswith("with 1 more entered together: ") for said in last["did"]["moved"])


def test_entries_of_many_senders_at_once_are_each_answered(room: Room, clock: StandingClock):
    """Those that wait are tried together; each gets its own answers, and a bad one among them hits nobody else."""
    clock.instant = at_pet(5)
    room.send(event("clock", 0))

    def send(n: int) -> list[str]:
        own = Room(str(room.http.base_url))
        second = event("note", 1, text="break" if n == 3 else "y", id=f"m{n}")
        return [one["status"] for one in told(own.send(event("note", 1, text="x", id=f"n{n}"), second))]

    with ThreadPoolExecutor(8) as pool:
        answers = list(pool.map(send, range(8)))
    assert answers == [["recorded", "quarantined" if n == 3 else "recorded"] for n in range(8)]


def test_a_store_that_cannot_be_written_tells_every_sender(desk: Desk, monkeypatch):
    """Also those whose entries another thread has taken along."""
    def full(*_: Any) -> Any:
        raise OSError("no room on the disk")

    monkeypatch.setattr(desk.session, "enter", full)
    with ThreadPoolExecutor(4) as pool:
        jobs = [pool.submit(desk.record, [event("note", 0, text="x")]) for _ in range(4)]
        assert all(isinstance(job.exception(30), OSError) for job in jobs)
    desk.close()


@pytest.mark.parametrize("given", ["0:48", "+0:48", " 0:48:00"])
def test_a_time_may_be_given_as_pet(room: Room, clock: StandingClock, given: str):
    """Its own, and the one that an amendment gives; it is kept as the instant that it is."""
    clock.instant = at_pet(60)
    room.send(event("clock", 6))
    room.send({"kind": "note", "text": "x", "at": given, "id": "n"})
    assert room.http.get("/api/events").json()[-1]["at"] == "2031-04-12T10:04:00Z"
    room.send({"kind": "amend", "event": "n", "changes": {"at": "0:50"}, "id": "a"})
    assert room.http.get("/api/events").json()[-1]["changes"] == {"at": "2031-04-12T10:06:00Z"}


def test_a_pet_that_cannot_be_told_is_refused(room: Room, clock: StandingClock):
    """That of PET zero itself, with what to give; and any while PET zero is in doubt. No key would help."""
    answer = room.send({"kind": "clock", "at": "0:00"})
    (outcome,) = told(answer)
    assert (answer.status_code, outcome["status"], outcome["forbidden"]) == (422, "refused", False)
    assert "expected an instant such as 2031-04-12T09:10:00Z; found a PET. Give the time of day" in outcome["why"]
    clock.instant = at_pet(60 * 24 * 30)
    room.send(event("start", 60 * 24 * 30 - 1, task="T010"))
    (outcome,) = told(room.send({"kind": "note", "text": "x", "at": "0:48"}))
    assert outcome["status"] == "refused" and "PET zero is in doubt" in outcome["why"]


def test_a_decision_entered_late_keeps_the_figures_of_its_own_time_too(room: Room, clock: StandingClock):
    """Those that the board showed then, of what had come in by then; one entered in time has its own figures alone."""
    clock.instant = at_pet(20)
    room.send(event("clock", 0), event("start", 0, task="T010"))
    then = room.state()
    clock.instant = at_pet(40)
    room.send(event("done", 39, task="T010"))
    room.send(event("decision", 20, text="Drop the tray", defer=["T040"], id="late"), event("decision", 40, text="y", id="now"))
    rows = {row["id"]: row for row in room.http.get("/api/events").json()}
    figures = rows["late"]["figures"]
    assert (figures["pet_min"], figures["events"]) == (40, 3)
    assert (figures["then"]["pet_min"], figures["then"]["events"]) == (20, 2)
    assert figures["then"]["end_p50_pet_min"] == then["end"]["p50_pet_min"]
    assert "then" not in rows["now"]["figures"]


def test_a_clock_that_was_withdrawn_no_longer_says_what_is_far_off(room: Room, clock: StandingClock):
    """A start beside the right clock gets no hint of hundreds of days."""
    clock.instant = at_pet(5)
    room.send(event("clock", 300 * 24 * 60, id="wrong"))
    room.send(event("withdraw", 1, event="wrong"))
    room.send(event("clock", 0, id="right"))
    (told_of_start,) = told(room.send(event("start", 4, task="T010")))
    assert (told_of_start["status"], told_of_start["hint"]) == ("recorded", None)
