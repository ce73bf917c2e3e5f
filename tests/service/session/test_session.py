"""What holds of every session: a live sortie, the replay of a recorded run, and a rehearsal on one."""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, timedelta
from typing import Any

import pytest

from dashboard.core.base.problems import InputError
from dashboard.core.events.ahead_of_now import dated_ahead
from dashboard.core.plan.model import Plan
from dashboard.log.eventtext import text_of_event
from dashboard.log.store import EventStore
from dashboard.service.session.control import ReplayControl
from dashboard.service.session.live import LiveSession
from dashboard.service.session.rehearsal import RehearsalSession
from dashboard.service.session.replay import ReplaySession
from dashboard.service.session.session import Session
from replay.recording import RecordedRun, recorded
from tests.scenario import log_of
from tests.service.conftest import StandingClock, at_pet, event

LOG = "0:00 clock\n0:01 start T010\n0:02 start T030\n0:36 done T010"
LATER = "\n1:01 done T030"
NOW = at_pet(40)


class EverySession:
    """The tests; each kind of session says how it is made, with the events of `LOG` known at PET 0:40."""

    @pytest.fixture
    def session(self, plan: Plan) -> Iterator[Session]:
        made = self.made(plan)
        yield made
        made.close()

    def made(self, plan: Plan) -> Session:
        raise NotImplementedError

    def enter(self, session: Session, *items: dict[str, Any]) -> list[str]:
        return [outcome.status for outcome in session.enter(items, session.clock.now())]

    def test_it_knows_its_plan_its_time_and_its_mode(self, session: Session, plan: Plan):
        """The time is aware, in UTC; the mode is a word of the screens."""
        assert session.plan == plan
        assert session.clock.now() == NOW and session.clock.now().utcoffset() == timedelta(0)
        assert session.clock.mode() == ("live" if session.run is None else "paused")

    def test_it_knows_what_the_room_has(self, session: Session):
        """In the order of `seq`, each with when it came in, and nothing of later."""
        known = session.known_at(NOW)
        assert [one.id for one in known.events] == ["e1", "e2", "e3", "e4"] and known.unread == []
        assert all(one.received is not None and one.received <= NOW for one in known.events)

    def test_what_is_entered_is_known_at_once_and_counts_last(self, session: Session):
        """With a `seq` above all that the room had."""
        assert self.enter(session, event("note", 40, id="mine", text="x")) == ["recorded"]
        *before, mine = session.known_at(NOW).events
        assert mine.id == "mine" and mine.seq > max(one.seq for one in before)
        assert mine.received.astimezone(UTC) == NOW

    def test_the_same_event_is_kept_once_and_another_of_its_id_as_unread(self, session: Session):
        """Also where the room had it before; nothing is lost."""
        same = session.known_at(NOW).events[1]
        assert [one.status for one in session.enter([text_of_event(same)], NOW)] == ["already recorded"]
        assert self.enter(session, event("note", 40, id="e2", text="x")) == ["conflict"]
        known = session.known_at(NOW)
        assert [one.id for one in known.events] == ["e1", "e2", "e3", "e4"]
        assert ["'e2'" in line.why for line in known.unread] == [True]

    def test_what_cannot_be_understood_is_kept_word_for_word(self, session: Session):
        """Among the unread and in the rows, with the reason."""
        assert self.enter(session, event("dance", 40, id="d")) == ["unread"]
        (line,) = session.known_at(NOW).unread
        assert '"dance"' in line.line and line.why
        rows = [row for row in session.rows_after(0, NOW) if "line" in row]
        assert [(row["line"], row["why"]) for row in rows] == [(line.line, line.why)]

    def test_whoever_asks_with_the_last_cursor_misses_nothing(self, session: Session):
        """Rows come in the order of `cursor`, each once."""
        first = session.rows_after(0, NOW)
        assert [row["id"] for row in first] == ["e1", "e2", "e3", "e4"]
        cursors = [row["cursor"] for row in first]
        assert cursors == sorted(set(cursors)) and session.rows_after(cursors[-1], NOW) == []
        self.enter(session, event("note", 40, id="mine", text="x"))
        assert [row["id"] for row in session.rows_after(cursors[-1], NOW)] == ["mine"]

    def test_an_ordinary_event_of_now_is_not_barred(self, session: Session):
        """Whatever the session: what happens now may be entered."""
        assert session.barred(event("hold", 40, task="T030"), NOW) is None

    def test_entries_from_many_threads_are_all_kept(self, session: Session):
        """Each once, each with a `seq` of its own."""
        with ThreadPoolExecutor(6) as pool:
            list(pool.map(lambda n: self.enter(session, event("note", 40, id=f"n{n}", text="x")), range(30)))
        entered = [one for one in session.known_at(NOW).events if one.kind == "note"]
        assert {one.id for one in entered} == {f"n{n}" for n in range(30)}
        assert len({one.seq for one in entered}) == 30

    def test_only_a_recorded_run_has_an_end_words_a_bar_and_a_clock_to_control(self, session: Session):
        """Live there is none of them, and the control is refused in words."""
        live = session.run is None
        found = [session.run_ends, session.run_words(), session.replay_bar(NOW)]
        assert [one is None for one in found] == [live] * 3
        assert (session.whole_run() == []) is live
        wanted = ReplayControl(action="seek", at_pet_min=20)
        if live:
            with pytest.raises(InputError, match="a live sortie"):
                session.control(wanted)
        else:
            session.control(wanted)
            assert session.clock.now() == at_pet(20)


class TestLive(EverySession):
    def made(self, plan: Plan) -> Session:
        store = EventStore("sqlite://", plan.sortie.id)
        for one in log_of(LOG):
            store.append([one], one.at)
        return LiveSession(plan, store, StandingClock(40))

    def test_what_was_logged_before_the_clock_was_set_back_was_received_by_now(self, session: Session):
        """So that it can be told from what is not there yet, and its time said to lie ahead."""
        known = session.known_at(at_pet(10)).events
        assert [one.received <= at_pet(10) for one in known] == [True] * 4
        assert [one.id for one in dated_ahead(known, at_pet(10))] == ["e4"]


def run_of(plan: Plan) -> RecordedRun:
    return recorded(plan, log_of(LOG + LATER), header={"title": "Pool run 3", "setting": "pool"})


class TestReplay(EverySession):
    def made(self, plan: Plan) -> Session:
        return ReplaySession(run_of(plan), at=NOW, playing=False)


class TestRehearsal(EverySession):
    def made(self, plan: Plan) -> Session:
        return RehearsalSession(run_of(plan), at_pet(38), lambda branch: None, at=NOW)

    def test_what_would_change_the_time_before_it_is_barred(self, session: Session):
        """With the moment at which it begins."""
        assert "begins at PET 0:38" in (session.barred(event("hold", 37, task="T030"), NOW) or "")

    def test_it_is_named_a_rehearsal(self, session: Session):
        """Of its run, from its moment."""
        assert session.rehearsal == "Rehearsal of Pool run 3 from PET 0:38, not a recorded run"
