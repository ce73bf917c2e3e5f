"""What the words of a row of a log sheet mean: decisions as the events they are, or named as not taken."""

from __future__ import annotations

import pytest

from dashboard.core.events.kinds import parse_event
from dashboard.log.log_sheet_words import (
    ASKED,
    GOES_ON,
    MANY,
    NO_EVENT,
    NO_PET_ZERO,
    NO_READING,
    NO_TASK,
    UNCLEAR,
    Phrases,
)
from tests.scenario import plan_of, task

CONTINGENCY = '[[contingency]]\nid = "fitting-leak"\ntitle = "Leak at a fitting"\n[[contingency.task]]\n'
ALTERNATIVE = '[[alternative]]\nid = "tray"\ntitle = "Old tray"\ndefault = "inside"\n[alternative.options]\n'
PLAN = plan_of(
    task("T060", "EV1", 0, 30, title="Insert pump")
    + task("T070", "EV2", 0, 30, title="Photo survey", shortest=10)
    + task("T080", "EV2", 30, 30, title="Move to mast, set up")
    + CONTINGENCY + 'id = "C010"\nlanes = ["EV1"]\nduration = 10\n'
    + '[[suit]]\nid = "A"\noxygen = { loaded = 0.55 }\nbattery = { loaded = 430 }\n'
    + ALTERNATIVE + 'inside = ["T070"]\noutside = ["T080"]\n'
)


def read(what: str, text: str = "", matches: dict[str, str] | None = None):
    return Phrases(PLAN, matches or {}).meaning(what, text)


@pytest.mark.parametrize(
    ("what", "fields"),
    [
        ("defer T060", {"kind": "defer", "tasks": ["T060"]}),
        ("deferred Photo survey", {"kind": "defer", "tasks": ["T070"]}),
        ("Photo survey deferred.", {"kind": "defer", "tasks": ["T070"]}),
        ("Defer T060, T070 and T080", {"kind": "defer", "tasks": ["T060", "T070", "T080"]}),
        ("Decision: defer T060", {"kind": "defer", "tasks": ["T060"]}),
        ("Reinstated T060 T070", {"kind": "reinstate", "tasks": ["T060", "T070"]}),
        ("insert Fitting-Leak", {"kind": "insert", "contingency": "fitting-leak"}),
        ("Leak at a fitting inserted", {"kind": "insert", "contingency": "fitting-leak"}),
        ("trim Photo survey to 20 min", {"kind": "trim", "task": "T070", "duration": 20.0}),
        ("T070 trimmed to 0:25", {"kind": "trim", "task": "T070", "duration": 25.0}),
        ("extend T070 to 40 min", {"kind": "extend", "task": "T070", "duration": 40.0}),
        ("Photo survey extended to 0:40", {"kind": "extend", "task": "T070", "duration": 40.0}),
        ("Decided: extend T070 to 40 min", {"kind": "extend", "task": "T070", "duration": 40.0}),
        ("hand over T070 to EV1", {"kind": "move", "task": "T070", "lane": "EV1"}),
        ("Move to mast, set up handed over to EV1", {"kind": "move", "task": "T080", "lane": "EV1"}),
        ("broke-off Photo survey", {"kind": "break_off", "task": "T070"}),
        ("choose outside", {"kind": "choose", "alternative": "tray", "option": "outside"}),
        ("Old tray: inside chosen", {"kind": "choose", "alternative": "tray", "option": "inside"}),
        ("hold EV2", {"kind": "hold", "lane": "EV2"}),
        ("ARM on hold", {"kind": "hold", "lane": "ARM"}),
        ("Hold all", {"kind": "hold", "all": True}),
        ("resume everything", {"kind": "resume", "all": True}),
        ("Insert pump started", {"kind": "start", "task": "T060"}),
        ("T060 commenced", {"kind": "start", "task": "T060"}),
    ],
)
def test_a_decision_or_hold_is_the_event_it_is(what: str, fields: dict):
    """By name or exact title, the verb before or behind; and it is an event that can be read."""
    assert read(what) == (fields, None)
    assert parse_event({"id": "row2", "at": "2031-04-12T09:10:00Z", **fields}).kind == fields["kind"]


@pytest.mark.parametrize(
    ("what", "text", "fields"),
    [
        ("decided: carry on, no change", "", {"kind": "decision", "text": "carry on, no change"}),
        ("Decision", "carry on", {"kind": "decision", "text": "carry on"}),
        ("Decided to stay at the mast", "wind calm", {"kind": "decision", "text": "stay at the mast", "note": "wind calm"}),
        ("suit A oxygen 0.3", "", {"kind": "reading", "suit": "A", "oxygen": 0.3}),
        ("Suit A", "oxygen 0.3 kg, battery 210 Wh.", {"kind": "reading", "suit": "A", "oxygen": 0.3, "battery": 210.0}),
        ("Reading: A, battery=210 and oxygen=0", "", {"kind": "reading", "suit": "A", "oxygen": 0.0, "battery": 210.0}),
    ],
)
def test_a_decision_in_words_and_a_reading_are_what_they_say(what: str, text: str, fields: dict):
    """A decision that changes nothing in the plan, and what a suit has left in units of the plan."""
    assert read(what, text) == (fields, None)
    assert parse_event({"id": "row2", "at": "2031-04-12T09:10:00Z", **fields}).kind == fields["kind"]


@pytest.mark.parametrize(
    ("what", "why"),
    [
        ("suit A oxygen 0,3", NO_READING),
        ("suit A oxygen 0.3 bar", NO_READING),
        ("suit A oxygen 30%", NO_READING),
        ("suit A oxygen 300 Wh", NO_READING),
        ("suit A oxygen 0.3 oxygen 0.2", NO_READING),
        ("suit A water 2", NO_READING),
        ("suit Z oxygen 0.3", NO_READING),
        ("oxygen 0.3", NO_READING),
        ("EV1 says oxygen at 0.3", NO_READING),
        ("decided: carry on?", ASKED),
        ("Decision:", UNCLEAR),
        ("decided that T070 is deferred later", UNCLEAR),
        ("Flight decided to carry on", UNCLEAR),
    ],
)
def test_a_decision_or_reading_that_is_not_plain_is_named(what: str, why: str):
    """Other units, a suit or consumable that the plan does not have, half a row: kept word for word, and listed."""
    assert read(what) == ({"kind": "note", "text": what}, (what, why, ()))


@pytest.mark.parametrize(
    ("what", "text", "fields"),
    [
        ("T060 done, all good", "", {"kind": "done", "task": "T060", "note": "all good"}),
        ("T070 done, at tool post", "photos 1-12", {"kind": "done", "task": "T070", "note": "at tool post; photos 1-12"}),
        ("T060 fin", "", {"kind": "done", "task": "T060"}),
        ("skip T070", "", {"kind": "defer", "tasks": ["T070"]}),
        ("Insert pump complete - no issues", "", {"kind": "done", "task": "T060", "note": "no issues"}),
        ("T060 started (EV1 at the mast)", "", {"kind": "start", "task": "T060", "note": "EV1 at the mast"}),
        ("Done", "T060; torque 12 Nm", {"kind": "done", "task": "T060", "note": "torque 12 Nm"}),
        ("hold EV2: tether loose", "", {"kind": "hold", "lane": "EV2", "reason": "tether loose"}),
        ("PET 0", "", {"kind": "clock"}),
        ("PET 0:00 - suits on battery", "at 9:07", {"kind": "clock", "note": "suits on battery; at 9:07"}),
        ("started: Move to mast, set up, slowly", "", {"kind": "start", "task": "T080", "note": "slowly"}),
    ],
)
def test_a_remark_behind_an_event_becomes_its_note(what: str, text: str, fields: dict):
    """Behind a comma, a dash or the like, in the cell or in the column of remarks."""
    assert read(what, text) == (fields, None)
    assert parse_event({"id": "row2", "at": "2031-04-12T09:10:00Z", **fields}).kind == fields["kind"]


@pytest.mark.parametrize(
    ("what", "why"),
    [
        ("T060 done, T070 next", f"names T060 and T070, but {NO_EVENT}"),
        ("T060 done, not torqued", f"names T060, but {NO_EVENT}"),
        ("T060 done, started photos", f"names T060, but {NO_EVENT}"),
        ("T060 start, delayed to 1:20", f"names T060, but {NO_EVENT}"),
        ("T060 done all good", f"names T060, but {NO_EVENT}"),
        ("Leak at a fitting seen", f"names fitting-leak, but {NO_EVENT}"),
        ("EV1 at the mast", f"names EV1, but {NO_EVENT}"),
        ("T060 in work", f"names T060, but {GOES_ON}"),
        ("Photo survey still going", f"names T070, but {GOES_ON}"),
        ("EV1 working on T060", f"names T060 and EV1, but {GOES_ON}"),
        ("T060 not under way", f"names T060, but {NO_EVENT}"),
        ("T060 done, B7 too", f"names T060, but {NO_EVENT}"),
        ("T060 begun, or not?", "names T060, but is a question"),
        ("PET 0 was at 9:07", NO_PET_ZERO),
        ("defer T060, T999", NO_TASK),
        ("T999 done, fine", NO_TASK),
        ("B5 done, all good", NO_TASK),
        ("all calm near T999", "names T999, which the plan does not have"),
        ("EV3 asks for water", "names EV3, which the plan does not have"),
    ],
)
def test_a_row_that_names_something_and_is_not_applied_is_listed(what: str, why: str):
    """With why: another name, a word of doubt or another verb beside the event, or no event at all."""
    meaning = read(what)
    assert meaning.fields == {"kind": "note", "text": what}
    assert meaning.not_taken is not None and meaning.not_taken.why == why


def test_another_task_is_never_offered_for_a_name_with_another_number():
    """T061 is no slip for T060; T60 and TO60 are."""
    assert [read(f"{said} done").not_taken.near for said in ("T061", "T60", "TO60", "t-060")] == [
        (), ("T060",), ("T060",), ("T060",),
    ]


def test_what_is_said_beside_it_is_kept():
    """As the reason of a hold, else as a note; what completes the words is taken with them."""
    assert read("defer T060", "late").fields == {"kind": "defer", "tasks": ["T060"], "note": "late"}
    assert read("hold EV2", "tether").fields == {"kind": "hold", "lane": "EV2", "reason": "tether"}
    assert read("Defer", "T060").fields == {"kind": "defer", "tasks": ["T060"]}
    assert read("Trim T070", "to 20 min").fields == {"kind": "trim", "task": "T070", "duration": 20.0}


@pytest.mark.parametrize(
    ("what", "words", "why", "near"),
    [
        ("insert leak", "leak", "no contingency of the plan has that name or title", ("fitting-leak",)),
        ("defer survey", "survey", NO_TASK, ("T070",)),
        ("defer T060 and T999", "T060 and T999", NO_TASK, ()),
        ("defer T060 if it gets late", "T060 if it gets late", NO_TASK, ()),
        ("trim T070", "T070", "no new length is given, such as 'to 20 min'", ("T070",)),
        ("extend T070", "T070", "no new length is given, such as 'to 20 min'", ("T070",)),
        ("trim T070 to the bone", "T070", "no new length is given, such as 'to 20 min'", ("T070",)),
        ("hand over T070 to EV9", "T070", "no lane of the plan is given to hand it to, such as 'to EV2'", ("T070",)),
        ("hold EV2 and EV1", "EV2 and EV1", "no task or lane of the plan has that name or title", ()),
        ("choose roof", "roof", "not exactly one alternative has an option of that name", ()),
        ("defer T060?", "defer T060?", ASKED, ()),
        ("Room wants to defer T060", "Room wants to defer T060", UNCLEAR, ()),
        ("T070 handed to EV1 over the loop", "T070 handed to EV1 over the loop", UNCLEAR, ()),
    ],
)
def test_what_is_not_plain_stays_a_note_and_is_named(what: str, words: str, why: str, near: tuple):
    """Nothing is guessed, and nothing passed over: the words, why not, and what comes close."""
    meaning = read(what)
    assert meaning.fields == {"kind": "note", "text": what}
    assert meaning.not_taken == (words, why, near)


def test_two_readings_that_both_fit_are_neither():
    """A title that begins with the word for something else."""
    plan = plan_of(task("T010", "EV1", 0, 30, title="Pump done") + task("T020", "EV1", 30, 30, title="Start pump"))
    assert Phrases(plan, {}).meaning("Start pump done", "").not_taken == ("Start pump done", MANY, ())


def test_words_can_be_said_to_mean_a_contingency():
    """As they can a task."""
    assert read("insert leak", matches={"leak": "fitting-leak"}).fields == {"kind": "insert", "contingency": "fitting-leak"}


def test_a_plain_note_is_nothing_to_look_at():
    """Neither a verb, nor a decision, nor a reading."""
    assert read("Radio check", "loud and clear") == ({"kind": "note", "text": "Radio check", "note": "loud and clear"}, None)
