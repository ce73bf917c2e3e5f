"""The entry form without its page, with the rules as the server sends them."""

from __future__ import annotations

from typing import Any

import pytest

from dashboard.core.events.kinds import parse_event
from dashboard.screens.entry import forms
from dashboard.screens.log import ENTRY
from tests.browser.pure.conftest import Run
from tests.scenario import at

FORMS = forms(ENTRY)
OFFERED = {
    "kept": [["T010", "T010 is required"], ["T020", "T030 comes after T020, and T030 is required"]],
    "required": [["T010", "T010 is required"]],
    "shortest": [["T040", "25"]],
    "options": [["out", "out: T1", "tray"], ["in", "in: T2", "tray"], ["left", "left: T3", "cable"]],
    "end_words": [["", "the sortie is over"]],
    "hold_words": [["all", "everything stops"]],
    "insert_words": [["leak", "contingency leak is inserted"]],
}
# For each kind, what a person fills in; a list where several may be chosen.
FILLED: dict[str, dict[str, Any]] = {
    "start": {"task": "T010"},
    "done": {"task": "T010"},
    "hold": {"subject": "lane:EV1", "reason": "wire loose"},
    "resume": {"subject": "all"},
    "estimate": {"task": "T010", "remaining": "12.5"},
    "note": {"text": "all well"},
    "reading": {"suit": "A", "oxygen": "0.3", "co2": "", "battery": "", "water": "1.2"},
    "check": {"check": "glove", "lane": "EV1"},
    "insert": {"contingency": "leak"},
    "add": {"title": "Look", "lanes": ["EV1"], "duration": "6", "before": ""},
    "move": {"task": "T010", "lane": "EV2", "before": ""},
    "choose": {"alternative": "tray", "option": "in"},
    "defer": {"tasks": ["T010", "T020"]},
    "reinstate": {"tasks": ["T010"]},
    "trim": {"task": "T040", "duration": "30"},
    "extend": {"task": "T040", "duration": "50"},
    "break_off": {"task": "T040"},
    "decision": {"text": "run late", "defer": []},
    "clock": {},
    "end": {},
}
EVENT = "return modules.fields.eventOf(given[0], given[1], given[2], 'A001')"
BROKEN = """
    const [spec, offered, values] = given;
    const found = spec.fields.map((field) => modules.fields.broken(field, (source) => offered[source] || [], values));
    return found.filter((one) => one)"""
ASKED = "return modules.fields.askedOf(given[0], (source) => given[1][source] || [], given[2])"


def broken(run: Run, kind: str, **values: Any) -> list[str]:
    return list(run(BROKEN, FORMS[kind], OFFERED, {**FILLED[kind], **values}))


def test_what_the_form_makes_is_an_event_of_its_kind(run: Run) -> None:
    """Of every kind that can be entered, as the server reads it."""
    assert set(FILLED) == set(ENTRY)
    for kind, values in FILLED.items():
        event = run(EVENT, kind, FORMS[kind], values)
        assert parse_event({**event, "id": "x", "at": at("0:10")}).kind == kind


def test_what_is_left_empty_is_not_in_the_event(run: Run) -> None:
    """Numbers are numbers; a task that is added gets the free name."""
    reading = run(EVENT, "reading", FORMS["reading"], FILLED["reading"])
    assert reading == {"kind": "reading", "suit": "A", "oxygen": 0.3, "water": 1.2}
    task = {"id": "A001", "title": "Look", "lanes": ["EV1"], "duration": 6}
    assert run(EVENT, "add", FORMS["add"], FILLED["add"]) == {"kind": "add", "task": task}
    before = {**FILLED["add"], "before": "T020"}
    assert run(EVENT, "add", FORMS["add"], before) == {"kind": "add", "task": task, "before": "T020"}


@pytest.mark.parametrize(
    ("scope", "fields"),
    [("all", {"all": True}), ("lane:EV1", {"lane": "EV1"}), ("task:T010", {"task": "T010"}), ("task:a:b", {"task": "a:b"})],
)
def test_a_scope_becomes_the_field_that_it_names(run: Run, scope: str, fields: dict[str, Any]) -> None:
    """Everything, a lane, or a task, whatever its name."""
    assert run(EVENT, "resume", FORMS["resume"], {"subject": scope}) == {"kind": "resume", **fields}


@pytest.mark.parametrize(
    ("kind", "values", "said"),
    [
        ("defer", {"tasks": ["T040", "T010", "T020"]},
         "Cannot be recorded: T010 is required; T030 comes after T020, and T030 is required."),
        ("decision", {"defer": ["T010"]}, "Cannot be recorded: T010 is required."),
        ("trim", {"task": "T010"}, "Cannot be recorded: T010 is required."),
        ("break_off", {"task": "T010"}, "Cannot be recorded: T010 is required."),
        ("trim", {"duration": "24"}, "New length, minutes: expected 25 or more, the shortest that is useful; found 24."),
        ("add", {"duration": "0"}, "Minutes: expected more than 0; found 0."),
    ],
)  # fmt: skip
def test_what_nobody_may_record_is_refused_in_words(run: Run, kind: str, values: dict[str, Any], said: str) -> None:
    """Giving up what is required, and lengths of nothing."""
    assert broken(run, kind, **values) == [said]


@pytest.mark.parametrize(
    ("kind", "values"),
    [("defer", {"tasks": ["T040"]}), ("trim", {"task": "T020"}), ("trim", {"duration": "25"}), ("trim", {"duration": ""}),
     ("add", {"duration": "0.5"}), ("estimate", {"remaining": "0"}), ("decision", {"defer": []})],
)  # fmt: skip
def test_what_may_be_recorded_is_not_refused(run: Run, kind: str, values: dict[str, Any]) -> None:
    """A task that something required comes after may be trimmed; what is not filled in yet breaks no rule."""
    assert broken(run, kind, **values) == []


def test_of_some_fields_one_must_be_filled_in(run: Run) -> None:
    """An amount of a reading; a lane or a place of a move."""
    missing = "return modules.fields.missing(given[0], given[1])"
    nothing = {"suit": "A", "oxygen": "", "co2": "", "battery": "", "water": ""}
    assert run(missing, FORMS["reading"], nothing) == "Suit reading: expected at least one amount; found none."
    assert run(missing, FORMS["reading"], FILLED["reading"]) == ""
    assert "found neither" in run(missing, FORMS["move"], {"task": "T010", "lane": "", "before": ""})
    assert run(missing, FORMS["note"], FILLED["note"]) == ""


@pytest.mark.parametrize(
    ("kind", "values", "words"),
    [("end", {}, "the sortie is over"), ("hold", {"subject": "all"}, "everything stops"), ("hold", {"subject": "lane:EV1"}, None),
     ("insert", {"contingency": "leak"}, "contingency leak is inserted"), ("note", {"text": "x"}, None)],
)  # fmt: skip
def test_what_weighs_is_asked_about(run: Run, kind: str, values: dict[str, Any], words: str | None) -> None:
    """The end, a hold of everything, and what a contingency brings; nothing else."""
    assert run(ASKED, FORMS[kind], OFFERED, values) == words


def test_a_choice_that_hangs_on_another_offers_what_belongs_to_it(run: Run) -> None:
    """Of an alternative its own options."""
    script = "return modules.fields.offersIn(given[0], (source) => given[1][source], given[2]).map((one) => one[0])"
    option = FORMS["choose"]["fields"][1]
    assert run(script, option, OFFERED, {"alternative": "tray"}) == ["out", "in"]
    assert run(script, option, OFFERED, {"alternative": ""}) == []


def test_a_reading_above_what_was_there_is_odd(run: Run) -> None:
    """What was loaded, and the last reading, of the same suit; what falls is ordinary."""
    limits = [["A oxygen", "0.55", "0.4"], ["A water", "2", ""], ["B oxygen", "0.5", "0.1"]]
    odd = "return modules.fields.oddReading(given[0], given[1])"
    assert run(odd, {"suit": "A", "oxygen": 0.3, "water": 1.9}, limits) is None
    said = run(odd, {"suit": "A", "oxygen": 0.45, "water": 2.5}, limits)
    assert said == ("Suit A: oxygen 0.45 is more than the last reading, 0.4; water 2.5 is more than the 2 that was loaded. "
                    "Is this what was read?")  # fmt: skip
