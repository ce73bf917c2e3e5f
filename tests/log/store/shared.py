"""What every store does, whatever keeps its rows: one class of tests for all of them."""

from __future__ import annotations

import json
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from dashboard.core.base.problems import InputError, Problem
from dashboard.core.base.times import parse_instant
from dashboard.core.events.kinds import parse_event
from dashboard.log.store import EventStore, Quarantined
from dashboard.log.store.backup import digest_of, read
from tests.log.store.kills import kill_while_appending
from tests.problems import the_only

RECEIVED = parse_instant("2031-04-12T09:20:00Z")
LATER = parse_instant("2031-04-12T09:30:00.5Z")
KILLS = 10
KILL_SEED = 31


def note(name: str, text: str = "all well", **more: Any) -> dict[str, Any]:
    """A note as the room sends it."""
    return {"id": name, "at": "2031-04-12T09:15:00Z", "kind": "note", "text": text, **more}


def refused(url: str, sortie: str | None = "lantern-t") -> Problem:
    """The problem with which a store is refused."""
    with pytest.raises(InputError) as wrong:
        EventStore(url, sortie)
    return the_only(wrong.value.problems)


def the_unread(store: EventStore) -> Any:
    """The one thing that was not understood."""
    kept = store.unread()
    assert len(kept) == 1, kept
    return kept[0]


class StoreTests:
    """What every store does."""

    @pytest.fixture
    def url(self, tmp_path: Path) -> str:
        """Where the store is."""
        raise NotImplementedError

    @pytest.fixture
    def store(self, url: str) -> Any:
        """An open store without events."""
        store = EventStore(url, "lantern-t")
        yield store
        store.close()

    def test_a_new_store_is_empty(self, store: EventStore) -> None:
        """Nothing recorded, nothing unread."""
        assert (store.events(), store.unread(), store.rows_after(0)) == ([], [], [])

    def test_a_line_that_is_kept_for_a_reason_is_kept_once(self, store: EventStore) -> None:
        """Also when it bears no id: a feed that is read once more hands it over once more."""
        for reason in ("expected JSON (line 2)", "expected JSON (line 2)", "expected JSON (line 3)"):
            assert store.append([Quarantined("no json", reason)], RECEIVED)[0].status == "quarantined"
        assert [(one.line, one.why[-8:]) for one in store.unread()] == [("no json", "(line 2)"), ("no json", "(line 3)")]

    def test_its_clock_is_that_of_this_computer_or_tells_an_instant(self, store: EventStore) -> None:
        """Which here are the same, since its server is on this computer."""
        before, told, after = datetime.now(UTC), store.clock(), datetime.now(UTC)
        assert told is None or before - timedelta(seconds=1) <= told <= after + timedelta(seconds=1)

    def test_an_event_comes_back_with_its_place_and_time_of_entry(self, store: EventStore) -> None:
        """`seq` and `received` are the store's, whatever the sender says of them."""
        outcomes = store.append([note("e1", seq=99, received="2001-01-01T00:00:00Z"), note("e2")], RECEIVED)
        assert [(o.status, o.id, o.seq, o.why) for o in outcomes] == [
            ("recorded", "e1", 1, None), ("recorded", "e2", 2, None),
        ]
        assert [(e.id, e.text, e.seq, e.received) for e in store.events()] == [
            ("e1", "all well", 1, RECEIVED), ("e2", "all well", 2, RECEIVED),
        ]

    def test_text_tables_and_events_are_taken_alike(self, store: EventStore) -> None:
        """The text of a file's line, a table of the HTTP interface, an event of the program."""
        store.append([json.dumps(note("e1")), note("e2"), parse_event(note("e3"))], RECEIVED)
        assert [event.id for event in store.events()] == ["e1", "e2", "e3"]

    def test_the_same_event_again_is_recorded_once(self, store: EventStore) -> None:
        """A sender that got no answer may send again; keys in any order, received later."""
        store.append([note("e1")], RECEIVED)
        again = dict(reversed(note("e1", received="2031-04-12T10:00:00Z").items()))
        assert [(o.status, o.seq) for o in store.append([again, again], LATER)] == [("already recorded", 1)] * 2
        assert [event.received for event in store.events()] == [RECEIVED]
        assert store.unread() == []

    def test_the_same_event_twice_in_one_batch_is_recorded_once(self, store: EventStore) -> None:
        """Also before the first is on disk."""
        assert [o.status for o in store.append([note("e1"), note("e1")], RECEIVED)] == ["recorded", "already recorded"]

    def test_another_event_of_the_same_id_is_a_conflict_and_is_kept(self, store: EventStore) -> None:
        """The first stands; what was refused is among the unread, once however often it is sent."""
        store.append([note("e1")], RECEIVED)
        other = json.dumps(note("e1", "not well"))
        outcomes = [store.append([other], LATER)[0] for _ in range(2)]
        assert [(o.status, o.id, o.seq) for o in outcomes] == [("conflict", "e1", 2)] * 2
        assert [event.text for event in store.events()] == ["all well"]
        kept = the_unread(store)
        assert (kept.line, kept.where) == (other, "seq 2")
        assert kept.why == outcomes[0].why
        assert "differs in 'text' (the first, seq 1, stands)" in kept.why

    @pytest.mark.parametrize(
        ("item", "claimed", "why"),
        [
            ("some words", None, "not JSON"),
            ({"id": "x", "kind": "nite"}, "x", "Did you mean 'note'?"),
            ({"at": "2031-04-12T09:15:00Z", "kind": "clock"}, None, "id: expected a value; found none"),
            (note("x", sortie="lantern-u"), "x", "an event of sortie 'lantern-t'; found one of 'lantern-u'"),
            ('{"id": "x", "oxygen": NaN}', None, "found NaN"),
            ({"id": "x", "oxygen": float("nan")}, None, "found NaN"),
            ("half a character \ud800", None, "not JSON"),
        ],
    )
    def test_what_is_not_understood_is_kept_and_stops_nothing(
        self, store: EventStore, item: Any, claimed: str | None, why: str
    ) -> None:
        """Verbatim, with the reason; the events around it are recorded."""
        first, middle, last = store.append([note("e1"), item, note("e2")], RECEIVED)
        assert (first.status, middle.status, last.status) == ("recorded", "unread", "recorded")
        assert (middle.id, middle.seq) == (claimed, 2)
        assert why in str(middle.why)
        assert [event.id for event in store.events()] == ["e1", "e2"]
        kept = the_unread(store)
        assert (kept.why, kept.where) == (middle.why, "seq 2")
        if isinstance(item, str) and "\ud800" not in item:
            assert kept.line == item

    def test_two_lines_of_the_same_nonsense_are_both_kept(self, store: EventStore) -> None:
        """Without an id nobody can say that they are one."""
        store.append(["some words", "some words"], RECEIVED)
        assert [entry.where for entry in store.unread()] == ["seq 1", "seq 2"]

    def test_what_is_put_into_quarantine_is_kept_verbatim_and_once(self, store: EventStore) -> None:
        """With the reason of the caller; it does not count, its id is free, and sent again it is the same row."""
        held = Quarantined(note("e1"), "it breaks the state")
        outcomes = [*store.append([held, note("e2")], RECEIVED), *store.append([held], LATER)]
        assert [(o.status, o.id, o.seq) for o in outcomes] == [
            ("quarantined", "e1", 1), ("recorded", "e2", 2), ("quarantined", "e1", 1),
        ]
        kept = the_unread(store)
        assert (json.loads(kept.line), kept.why) == (note("e1"), "it breaks the state")
        assert [event.id for event in store.events()] == ["e2"]
        assert store.append([note("e1")], RECEIVED)[0].status == "recorded"

    def test_an_id_that_was_not_understood_is_still_free(self, store: EventStore) -> None:
        """The room corrects the event and sends it again under its id."""
        store.append([{"id": "e1", "kind": "nite"}], RECEIVED)
        assert store.append([note("e1")], RECEIVED)[0].status == "recorded"

    def test_rows_after_a_place_come_raw(self, store: EventStore) -> None:
        """Events as they were given with the store's own fields; the rest as line and reason."""
        store.append([note("e1"), note("e2", by="room"), "some words"], LATER)
        event, other = store.rows_after(1)
        assert event == {**note("e2", by="room"), "seq": 2, "received": "2031-04-12T09:30:00.5Z"}
        assert (other["seq"], other["line"], other["received"]) == (3, "some words", "2031-04-12T09:30:00.5Z")
        assert store.rows_after(3) == []

    def test_a_thousand_appends(self, store: EventStore) -> None:
        """One at a time, as a long sortie would."""
        for number in range(1000):
            assert store.append([note(f"e{number}")], RECEIVED)[0].seq == number + 1
        assert [event.id for event in store.events()] == [f"e{number}" for number in range(1000)]

    def test_appends_from_many_threads_have_places_of_their_own(self, store: EventStore) -> None:
        """Every console at once: nothing lost, no place twice, and readers see whole events."""

        def console(number: int) -> list[int]:
            seqs = []
            for entry in range(25):
                seqs += [outcome.seq for outcome in store.append([note(f"c{number}-{entry}")], RECEIVED)]
                assert all(event.seq for event in store.events())
            return seqs

        with ThreadPoolExecutor(8) as consoles:
            seqs = [seq for found in consoles.map(console, range(8)) for seq in found]
        assert sorted(seqs) == list(range(1, 201))
        assert [event.seq for event in store.events()] == sorted(seqs)
        assert {event.id for event in store.events()} == {f"c{n}-{e}" for n in range(8) for e in range(25)}

    def test_only_what_is_new_is_asked_for(self, store: EventStore) -> None:
        """The events after a place, whatever lies between them."""
        store.append([note("e1"), "some words", note("e2"), note("e3")], RECEIVED)
        assert [event.id for event in store.events_after(1)] == ["e2", "e3"]
        assert [event.id for event in store.events_after(3)] == ["e3"]
        assert store.events_after(4) == []

    def test_every_character_is_kept(self, store: EventStore) -> None:
        """A NUL byte in a line, in an id and in a reason; the characters by which a database may write them."""
        odd = "\0 \x01 \x010 \x011 \\ \\0 \U0001f680 \r\n\t'\""
        items = [odd, note(odd), note("e1", odd), note("e2", kind=odd), note("e1", odd + "!")]
        statuses = [outcome.status for outcome in store.append(items, RECEIVED)]
        assert statuses == ["unread", "recorded", "recorded", "unread", "conflict"]
        before = (store.events(), store.unread())
        assert [(event.id, event.text) for event in store.events()] == [(odd, "all well"), ("e1", odd)]
        assert store.unread()[0].line == odd
        self.read_anew(store)
        assert (store.events(), store.unread()) == before

    def read_anew(self, store: EventStore) -> None:
        """Make a store forget what it has read."""
        store._known = type(store._known)()

    def test_a_new_store_says_that_it_is_new(self, store: EventStore) -> None:
        """So that a wrong address is noticed before the sortie."""
        assert "a new store" in store.opening or "memory" in store.opening

    def test_all_of_it_is_saved_as_lines_and_as_a_store(self, store: EventStore, tmp_path: Path) -> None:
        """Both hold every row with its place and time of entry; a file that is there is not written over."""
        store.append([note("e1"), "some words", note("e2", "\0")], LATER)
        assert store.save_to(tmp_path / "saved.jsonl") == store.save_to(tmp_path / "saved.db") == 3
        again = EventStore(f"sqlite:///{tmp_path / 'saved.db'}", "lantern-t")
        assert (again.events(), again.unread(), again.rows_after(0)) == (
            store.events(), store.unread(), store.rows_after(0)
        )
        again.close()
        head = json.loads((tmp_path / "saved.jsonl").read_text(encoding="utf-8").splitlines()[0])
        assert (head["rows"], head["sortie"], head["sha256"]) == (
            3, "lantern-t", digest_of(read(str(tmp_path / "saved.db")).rows)
        )
        before = (tmp_path / "saved.jsonl").read_bytes()
        with pytest.raises(InputError, match="expected a file that does not exist yet; found an existing one"):
            store.save_to(tmp_path / "saved.jsonl")
        assert (tmp_path / "saved.jsonl").read_bytes() == before
        assert sorted(path.name for path in tmp_path.iterdir() if "saved" in path.name) == ["saved.db", "saved.jsonl"]


class KeptStoreTests(StoreTests):
    """What every store does that outlives its program."""

    def execute(self, url: str, *statements: str) -> None:
        """Do something to its database behind its back."""
        raise NotImplementedError

    def test_what_was_recorded_is_there_after_closing(self, url: str) -> None:
        """Events, unread lines and their places; the next event goes on counting."""
        store = EventStore(url, "lantern-t")
        store.append([note("e1"), "some words", note("e2")], RECEIVED)
        before = (store.events(), store.unread(), store.rows_after(0))
        store.close()
        again = EventStore(url, "lantern-t")
        assert (again.events(), again.unread(), again.rows_after(0)) == before
        assert [(o.status, o.seq) for o in again.append([note("e2"), note("e3")], LATER)] == [
            ("already recorded", 3), ("recorded", 4),
        ]
        again.close()

    def test_it_says_what_it_found_when_it_was_opened(self, url: str) -> None:
        """How many events, how many lines that were not understood, and how old the last is."""
        store = EventStore(url, "lantern-t")
        store.append([note("e1"), note("e2"), "some words"], RECEIVED)
        store.append([note("e3")], LATER)
        store.close()
        again = EventStore(url, "lantern-t")
        assert again.opening == "3 events and 1 not understood found in it, the last received 2031-04-12T09:30:00.5Z"
        again.close()

    def test_a_store_without_events_is_not_called_new(self, url: str) -> None:
        """Opened before, nothing recorded."""
        EventStore(url, "lantern-t").close()
        again = EventStore(url, "lantern-t")
        assert again.opening == "no events found in it"
        again.close()

    def test_two_programs_share_one_store(self, url: str) -> None:
        """What one records the other sees, and its ids and places count for both."""
        one, other = EventStore(url, "lantern-t"), EventStore(url, "lantern-t")
        one.append([note("e1"), "some words"], RECEIVED)
        assert [(o.status, o.seq) for o in other.append([note("e1"), note("e2")], RECEIVED)] == [
            ("already recorded", 1), ("recorded", 3),
        ]
        assert [event.id for event in one.events()] == [event.id for event in other.events()] == ["e1", "e2"]
        assert [entry.where for entry in other.unread()] == ["seq 2"]
        one.close()
        other.close()

    def test_many_programs_at_once_lose_nothing(self, url: str) -> None:
        """Four stores on one database, each appending: each reads every place once and in order, and no gap at any time."""
        stores = [EventStore(url, "lantern-t") for _ in range(4)]

        def append(number: int) -> None:
            for entry in range(20):
                stores[number].append([note(f"p{number}-{entry}")], RECEIVED)
                seqs = [event.seq for event in stores[number].events()]
                assert seqs == list(range(1, len(seqs) + 1))

        with ThreadPoolExecutor(4) as programs:
            list(programs.map(append, range(4)))
        for store in stores:
            assert [event.seq for event in store.events()] == list(range(1, 81))
            store.close()

    def test_killed_while_appending_no_acknowledged_event_is_lost(self, url: str) -> None:
        """Killed without warning, ten times: all that was acknowledged is there once, and at most one batch beside it."""
        found = kill_while_appending(url, KILLS, KILL_SEED)
        assert found.acknowledged > 10 * KILLS
        assert (found.lost, found.twice) == ([], [])
        assert 0 <= found.beside <= 3 * KILLS

    def test_a_batch_is_recorded_whole_or_not_at_all(self, url: str) -> None:
        """When the disk fails in the middle of a batch nothing of it counts, its sender is told, and may send it again."""
        store = EventStore(url, "lantern-t")
        self.execute(url, *self.FULL_DISK_AT_E2)
        with pytest.raises(InputError) as wrong:
            store.append([note("e1"), note("e2")], RECEIVED)
        problem = the_only(wrong.value.problems)
        assert "no room left on the disk" in problem.found
        assert problem.cure.startswith("Nothing of this was recorded.")
        assert store.events() == []
        self.execute(url, *self.ROOM_AGAIN)
        assert [o.status for o in store.append([note("e1"), note("e2")], RECEIVED)] == ["recorded"] * 2
        store.close()

    FULL_DISK_AT_E2: tuple[str, ...] = ()
    ROOM_AGAIN: tuple[str, ...] = ()

    def test_a_store_that_was_set_back_takes_no_acknowledgement(self, url: str) -> None:
        """Events that were acknowledged are missing: what is entered is kept in memory and answered so, and it says why."""
        store = EventStore(url, "lantern-t")
        store.append([note("e1"), note("e2")], RECEIVED)
        assert store.trouble is None
        self.execute(url, "CREATE TABLE aside AS SELECT * FROM events WHERE seq = 2", "DELETE FROM events WHERE seq = 2")
        outcomes = store.append([note("e3"), note("e1"), "some words", Quarantined(note("e9"), "it breaks")], LATER)
        assert [(o.status, o.seq) for o in outcomes] == [
            ("in memory only", 3), ("already recorded", 1), ("unread", 4), ("quarantined", 5),
        ]
        assert "not on disk" in str(outcomes[0].why) and "seq 2" in str(outcomes[0].why)
        assert store.append([note("e3")], LATER)[0].status == "in memory only"
        assert [event.id for event in store.events()] == ["e1", "e2", "e3"]
        assert store.trouble is not None and "3 entries since then are in memory only" in store.trouble
        self.execute(url, "INSERT INTO events SELECT * FROM aside")
        assert [(e.id, e.seq, e.received) for e in store.events()] == [
            ("e1", 1, RECEIVED), ("e2", 2, RECEIVED), ("e3", 3, LATER),
        ]
        assert store.trouble is None
        assert [(o.status, o.seq) for o in store.append([note("e3"), note("e4")], LATER)] == [
            ("already recorded", 3), ("recorded", 6),
        ]
        store.close()
        again = EventStore(url, "lantern-t")
        assert [event.id for event in again.events()] == ["e1", "e2", "e3", "e4"]
        assert [entry.why for entry in again.unread()][1:] == ["it breaks"] and again.unread()[0].line == "some words"
        again.close()

    def test_the_store_of_another_sortie_is_refused(self, url: str) -> None:
        """Two sorties are never mixed; the store is left as it is."""
        store = EventStore(url, "lantern-t")
        store.append([note("e1")], RECEIVED)
        store.close()
        problem = refused(url, "lantern-u")
        assert (problem.expected, problem.found) == (
            "the store of sortie 'lantern-u'", "the store of sortie 'lantern-t'"
        )
        assert "Choose the plan of that sortie" in problem.cure
        unjudged = EventStore(url)
        assert [event.id for event in unjudged.events()] == ["e1"]
        unjudged.close()

    def test_another_database_is_refused_and_left_alone(self, url: str) -> None:
        """Its tables are named, none is added."""
        self.execute(url, "CREATE TABLE recipes (name TEXT)")
        for _ in range(2):
            assert refused(url).found == "a database with the tables recipes"
