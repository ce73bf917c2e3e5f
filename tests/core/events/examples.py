"""One example of each kind of event: its fields, what the log says of it, and the names that it uses."""

from __future__ import annotations

from typing import Any, NamedTuple

from dashboard.core.events.event import Event
from dashboard.core.events.kinds import parse_event
from tests.scenario import at


class Example(NamedTuple):
    """Fields beside id, time and kind; words; names with their sort."""

    fields: dict[str, Any]
    words: str
    names: list[tuple[str, str]]


EXAMPLES: dict[str, Example] = {
    "clock": Example({}, "PET zero: suits on battery power", []),
    "start": Example({"task": "A", "lanes": ["EV1"]}, "start A Tray in EV1", [("task", "A"), ("lane", "EV1")]),
    "done": Example({"task": "A"}, "done A Tray", [("task", "A")]),
    "hold": Example({"lane": "EV1", "reason": "glove"}, "hold lane EV1: glove", [("lane", "EV1")]),
    "resume": Example({"task": "all"}, "resume everything", []),
    "break_off": Example({"task": "A"}, "break off A Tray", [("task", "A")]),
    "estimate": Example({"task": "A", "remaining": "0:12"}, "A Tray: 12 min remain by estimate", [("task", "A")]),
    "defer": Example({"tasks": ["A", "B"]}, "defer A Tray, B", [("task", "A"), ("task", "B")]),
    "reinstate": Example({"tasks": ["B"]}, "reinstate B", [("task", "B")]),
    "trim": Example({"task": "A", "duration": 12}, "trim A Tray to 12 min", [("task", "A")]),
    "extend": Example({"task": "A", "duration": 45}, "extend A Tray to 45 min", [("task", "A")]),
    "insert": Example({"contingency": "leak"}, "insert contingency leak", [("contingency", "leak")]),
    "choose": Example(
        {"alternative": "ending", "option": "long"}, "ending: take 'long'", [("alternative", "ending"), ("option", "long")]
    ),
    "add": Example(
        {"task": {"id": "X", "title": "Look", "lanes": ["EV1"], "duration": 9}, "before": "B"},
        "add X Look (9 min, EV1)", [("lane", "EV1"), ("task", "B")],
    ),
    "move": Example(
        {"task": "A", "lane": "EV2", "before": "B"}, "move A Tray to EV2 before B",
        [("task", "A"), ("task", "B"), ("lane", "EV2")],
    ),
    "reading": Example({"suit": "A", "water": 3.1}, "suit A left: water 3.1 kg", [("suit", "A")]),
    "check": Example(
        {"check": "suit-read", "lane": "EV1"}, "check suit-read made, EV1", [("check", "suit-read"), ("lane", "EV1")]
    ),
    "decision": Example(
        {"text": "Late", "defer": ["B"], "trim": {"A": 12}}, "decided: Late (defer B; trim A Tray to 12 min)",
        [("task", "B"), ("task", "A")],
    ),
    "note": Example({"text": "Radio check"}, "Radio check", []),
    "amend": Example({"event": "e1", "changes": {"task": "B"}}, "amend e1: task", []),
    "withdraw": Example({"event": "e1"}, "withdraw e1", []),
    "end": Example({}, "sortie over", []),
}


def example(kind: str, **fields: Any) -> Event:
    """The example of a kind, with other fields where they are given."""
    return parse_event({"id": "e9", "at": at("0:10"), "kind": kind, **EXAMPLES[kind].fields, **fields})
