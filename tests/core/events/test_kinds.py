"""The list of the kinds, and what each kind says of itself."""

from __future__ import annotations

import importlib
import pkgutil
from pathlib import Path

import pytest

from dashboard.core import events
from dashboard.core.events.event import Event
from dashboard.core.events.kinds import EVENT_ADAPTER, KINDS, UnreadableEvent, parse_event
from tests.core.events.examples import EXAMPLES, example
from tests.scenario import at

WORK = {"start", "done", "hold", "resume", "break_off", "estimate"}
TESTS = Path(__file__).parent


def kinds_with(attribute: str) -> set[str]:
    return {kind for kind, event in KINDS.items() if getattr(event, attribute)}


def classes_in_the_room() -> set[type[Event]]:
    """Every class of the room that has a kind of its own."""
    modules = [importlib.import_module(f"{events.__name__}.{found.name}") for found in pkgutil.iter_modules(events.__path__)]
    classes = {one for module in modules for one in vars(module).values() if isinstance(one, type) and issubclass(one, Event)}
    return {one for one in classes if one.model_fields["kind"].annotation is not str}


def test_every_kind_stands_in_the_list_under_its_own_name() -> None:
    """A class that was forgotten, or is listed under another name than it takes, is found."""
    assert set(KINDS.values()) == classes_in_the_room()
    assert {kind: type(example(kind)) for kind in EXAMPLES} == dict(KINDS)


def test_every_module_of_the_room_has_its_tests() -> None:
    """A new kind comes with a file of tests that is found from its name."""
    modules = {found.name for found in pkgutil.iter_modules(events.__path__)}
    assert {path.stem.removeprefix("test_") for path in TESTS.glob("test_*.py")} == modules


def test_a_decision_is_what_changes_the_plan_of_record() -> None:
    """Also what the crew changed by itself and the room only records."""
    changes = {"defer", "reinstate", "trim", "extend", "insert", "choose", "add", "move", "break_off", "decision"}
    assert kinds_with("is_decision") == changes


def test_the_lead_enters_what_the_room_decides_and_what_moves_every_figure() -> None:
    """A task that was added or broken off outside is reported by who logs."""
    assert kinds_with("needs_lead") == {
        "defer", "reinstate", "trim", "extend", "insert", "choose", "move", "decision", "clock", "end",
    }  # fmt: skip


def test_work_and_what_makes_figures_of_its_time() -> None:
    """Far off the sortie such events say nothing."""
    assert {kind for kind in KINDS if example(kind).is_work} == WORK
    assert kinds_with("is_timed") == WORK | {"insert", "reading", "check", "end"}
    assert kinds_with("may_be_far_off") == {"clock", "note", "amend", "withdraw"}


def test_where_in_the_work_on_its_task_a_kind_stands() -> None:
    """Decides the order of what is logged for one instant."""
    assert {kind: event.work for kind, event in KINDS.items() if event.work} == {
        "start": "begins", "hold": "within", "resume": "within", "estimate": "within", "done": "ends", "break_off": "ends",
    }  # fmt: skip


def test_what_weighs_says_what_taking_it_back_undoes() -> None:
    """It is asked about before it is withdrawn."""
    assert kinds_with("undoes") == {"clock", "end", "decision", "defer", "insert", "choose"}


@pytest.mark.parametrize("kind", KINDS)
def test_each_kind_has_its_words_and_its_names(kind: str) -> None:
    """In the log, a task goes by its id and title."""
    event = example(kind)
    assert event.in_words(lambda task: f"{task} Tray" if task == "A" else task) == EXAMPLES[kind].words
    assert [(named.sort, named.name) for named in event.names()] == EXAMPLES[kind].names


@pytest.mark.parametrize("kind", KINDS)
def test_the_published_schema_reads_each_kind(kind: str) -> None:
    """The adapter behind the schema gives the same event."""
    event = example(kind)
    assert EVENT_ADAPTER.validate_python(event.model_dump(mode="json", by_alias=True, exclude_none=True)) == event


@pytest.mark.parametrize(
    ("raw", "why"),
    [
        (7, "expected one JSON object per event; found a number"),
        ({"id": "e"}, "expected a known 'kind'; found none"),
        ({"id": "e", "kind": "strat"}, "Did you mean 'start'?"),
        ({"id": "e", "kind": ["start"]}, r"expected a known 'kind'; found '\['start'\]'"),
        ({"id": "e", "kind": "start", "at": at("0:10")}, "task: expected a value; found none"),
        ({"id": "e", "kind": "done", "at": at("0:10"), "task": "A", "tsk": 1}, "tsk: expected no such key"),
        ({"id": "e", "kind": "check", "at": at("0:10"), "check": "", "lane": "EV1"}, "check: expected at least 1 character"),
        ({"id": "e", "kind": "done", "at": "noon", "task": "A"}, "at: expected an instant such as"),
    ],
)
def test_what_is_no_event_is_refused_with_what_was_expected_and_found(raw: object, why: str) -> None:
    """Field by field."""
    with pytest.raises(UnreadableEvent, match=why):
        parse_event(raw)


@pytest.mark.parametrize(
    ("kind", "fields"),
    [
        ("estimate", {"remaining": 10**400}), ("note", {"seq": 10**400}), ("decision", {"chosen": {"x": [1, 10**400]}}),
        ("decision", {"figures": {"events": 10**400}}), ("amend", {"changes": {"duration": 10**400}}),
        ("decision", {"chosen": 1e400}), ("reading", {"water": 1e400}),
    ],
)  # fmt: skip
def test_a_number_that_cannot_be_held_is_refused_wherever_it_stands(kind: str, fields: dict[str, object]) -> None:
    """Said by its length, not written out."""
    with pytest.raises(UnreadableEvent, match="found one of about 401 digits|found inf") as refused:
        example(kind, **fields)
    assert len(str(refused.value)) < 200


def test_the_reason_of_an_unreadable_event_is_no_longer_than_a_person_reads() -> None:
    """Also where the event is: its keys and values stand in the line that is kept."""
    with pytest.raises(UnreadableEvent, match="more characters"):
        parse_event({"kind": "note", "at": at("0:10"), "id": "n", "text": "x", **{f"k{n}": n for n in range(3_000)}})
    with pytest.raises(UnreadableEvent, match="more characters"):
        parse_event({"kind": "x" * 100_000})
