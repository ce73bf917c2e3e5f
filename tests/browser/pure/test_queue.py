"""Events that the server has not taken, kept by the browser in its own store."""

from __future__ import annotations

import pytest

from tests.browser.pure.conftest import Run

QUEUE = """
const queue = new modules.queue.Queue(() => localStorage, "lantern"), note = { id: "e1", kind: "note", text: "all well" };
const taken = async () => ({ status: "recorded" }), silent = async () => null;
const refuses = async () => ({ status: "refused", why: "no" });
const full = { getItem: () => null, setItem: () => { throw new Error("full"); }, removeItem: () => {} };
"""


@pytest.fixture(autouse=True)
def empty(run: Run) -> None:
    """Each test begins with an empty store."""
    run("localStorage.clear()")


def test_a_kept_event_is_sent_as_it_was_and_once(run: Run) -> None:
    """With the id that it had; once the server has answered it is kept no more."""
    script = QUEUE + """
        const posted = [], isKept = queue.keep(note);
        const done = await queue.send(queue.next(), async (event) => { posted.push(event); return taken(); });
        return [isKept, posted, done, queue.next() === undefined]"""
    note = {"id": "e1", "kind": "note", "text": "all well"}
    assert run(script) == [True, [note], {"event": note, "answer": {"status": "recorded"}}, True]


def test_without_an_answer_an_event_stays_kept(run: Run) -> None:
    """Under the same key, however often it is tried."""
    script = QUEUE + """
        queue.keep(note);
        const key = queue.next(), tries = [await queue.send(key, silent), await queue.send(key, silent)];
        return [tries, queue.next() === key]"""
    assert run(script) == [[None, None], True]


def test_what_the_server_has_in_memory_only_stays_kept_until_it_is_on_disk(run: Run) -> None:
    """It would be lost with the server; recorded in the end, it leaves."""
    script = QUEUE + """
        queue.keep(note);
        const key = queue.next(), inMemory = await queue.send(key, async () => ({ status: "in memory only", why: "lost" }));
        const isKept = queue.next() === key, done = await queue.send(key, taken);
        return [inMemory, isKept, done.event.id, queue.next() === undefined]"""
    assert run(script) == [None, True, "e1", True]


def test_what_the_server_refuses_stays_with_the_reason_until_it_is_sent_again(run: Run) -> None:
    """It is not tried again by itself; sent again it is the same event."""
    script = QUEUE + """
        queue.keep(note);
        await queue.send(queue.next(), refuses);
        const [key, ...others] = queue.refusals(), kept = queue.read(key), isTried = queue.next() !== undefined;
        const again = queue.again(key), left = queue.refusals(), done = await queue.send(queue.next(), taken);
        return [kept.why, others, isTried, again.id, left, done.event.id]"""
    assert run(script) == ["no", [], False, "e1", [], "e1"]


def test_a_discarded_event_is_gone(run: Run) -> None:
    """And pressing again for it does nothing."""
    script = QUEUE + """
        queue.keep(note);
        await queue.send(queue.next(), refuses);
        const [key] = queue.refusals();
        queue.drop(key);
        return [queue.refusals(), queue.again(key), localStorage.length]"""
    assert run(script) == [[], None, 0]


def test_another_sortie_at_the_same_address_does_not_get_the_event(run: Run) -> None:
    """Nor does a replay of the same sortie."""
    script = QUEUE + """
        queue.keep(note);
        const others = ["lantern-2", "replay lantern", "other"].map((name) => new modules.queue.Queue(() => localStorage, name));
        return others.map((other) => [other.next() === undefined, other.refusals().length])"""
    assert run(script) == [[True, 0]] * 3


def test_windows_of_one_browser_do_not_overwrite_what_the_others_keep(run: Run) -> None:
    """All is sent, by whichever comes first; what another window has sent meanwhile is not sent twice."""
    script = QUEUE + """
        const other = new modules.queue.Queue(() => localStorage, "lantern");
        queue.keep(note);
        other.keep({ ...note, id: "e2" });
        const first = queue.next(), sent = [await queue.send(first, taken), await other.send(first, taken)];
        sent.push(await other.send(other.next(), taken));
        return sent.map((one) => one && one.event.id)"""
    assert run(script) == ["e1", None, "e2"]


def test_a_store_without_room_says_that_nothing_is_kept(run: Run) -> None:
    """What the server refuses, and cannot be set aside, stays among what is to be sent."""
    script = QUEUE + """
        const isKept = new modules.queue.Queue(() => full, "lantern").keep(note);
        queue.keep(note);
        const key = queue.next();
        queue.storage = () => ({ ...full, getItem: (name) => localStorage.getItem(name) });
        const done = await queue.send(key, refuses);
        return [isKept, done, localStorage.length]"""
    assert run(script) == [False, None, 1]


def test_a_browser_that_forbids_its_store_keeps_nothing_and_nothing_breaks(run: Run) -> None:
    """Keeping says no, and there is nothing to send."""
    script = QUEUE + """
        const none = new modules.queue.Queue(() => { throw new Error("forbidden"); }, "lantern");
        return [none.keep(note), none.next() === undefined, none.refusals()]"""
    assert run(script) == [False, True, []]


def test_an_event_and_its_answer_are_said_in_few_words(run: Run) -> None:
    """The kind and what it is about; the status, with the reason or the hint."""
    called = "return given[0].map(modules.queue.called)"
    events = [{"kind": "start", "task": "T1"}, {"kind": "note", "text": "well"}, {"kind": "hold", "lane": "EV1"}, {"kind": "end"}]
    assert run(called, events) == ["start T1", "note well", "hold EV1", "end"]
    answers = [{"status": "refused", "why": "no key"}, {"status": "recorded", "hint": "late"}, {"status": "recorded"}]
    assert run("return given[0].map(modules.queue.inWords)", answers) == ["refused: no key", "recorded, late", "recorded"]


def test_the_answer_says_what_the_entry_did(run: Run) -> None:
    """Its discrepancies and what it moved, each named; an entry that did nothing is answered with its status alone."""
    script = """
        const words = (did, hint) => modules.queue.inWords({ status: "recorded", why: null, hint: hint || null, did: did });
        const back = { kind: "withdraw", event: "e1" };
        return [
            words(null), words({ discrepancies: [], moved: [], withdraw: back }), words(null, "dated 5 min after now."),
            words({ discrepancies: ["expected T1 done; found none"], moved: ["EV1 is late", "the end moves"], withdraw: back }),
            words({ discrepancies: [], moved: ["the end moves"], withdraw: back }, "dated 5 min after now."),
            modules.queue.inWords({ status: "refused", why: "no key" }),
        ]"""
    assert run(script) == [
        "recorded", "recorded", "recorded, dated 5 min after now.",
        "recorded. Discrepancy: expected T1 done; found none. Moved: EV1 is late; the end moves.",
        "recorded, dated 5 min after now. Moved: the end moves.",
        "refused: no key",
    ]  # fmt: skip


def test_a_withdrawal_is_offered_for_what_did_something(run: Run) -> None:
    """A note is not worth it."""
    script = """
        const back = { kind: "withdraw", event: "e1" };
        const did = (discrepancies) => ({ discrepancies: discrepancies, moved: [], withdraw: back });
        const offers = [null, did([]), did(["x"])];
        return offers.map((did) => modules.queue.offered({ status: "recorded", did: did }))"""
    assert run(script) == [None, None, {"kind": "withdraw", "event": "e1"}]
