"""One event as one line of JSON, and back."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from dashboard.core.base.times import instant_text
from dashboard.core.events.event import Event
from dashboard.core.events.kinds import UnreadableEvent, parse_event

# When, where and by whose hand it came in, and what the board showed then.
NOT_CONTENT = {"seq", "received", "sortie", "entered_by", "figures"}
DEEPEST = 50  # lists and tables inside one another; an event needs three


def event_of_text(text: str, **added: Any) -> Event:
    """Read one event from its JSON text.

    Parameters
    ----------
    text : str
        One JSON object.
    added : keyword arguments
        Fields that stand when the text does not give them itself.

    Raises
    ------
    UnreadableEvent
        With what was expected and found.
    """
    table = table_of_text(text)
    for key, value in added.items():
        if table.get(key) is None:
            table[key] = value
    return parse_event(table)


def table_of_text(text: str) -> dict[str, Any]:
    """The JSON object in a text, strictly: no key twice, no NaN, nothing that UTF-8 cannot hold.

    Raises
    ------
    UnreadableEvent
        With what was expected and found.
    """
    if "\0" in text:
        raise UnreadableEvent(f"expected text; found a NUL byte at column {text.index(chr(0)) + 1}")
    try:
        value = json.loads(text, object_pairs_hook=_table, parse_constant=_no_constant)
    except UnreadableEvent:
        raise
    except json.JSONDecodeError as wrong:
        complaint = wrong.msg[:1].lower() + wrong.msg[1:]
        raise UnreadableEvent(f"expected one JSON object; found no JSON: {complaint} (column {wrong.colno})") from None
    except RecursionError:
        raise UnreadableEvent("expected one JSON object; found lists or tables nested too deep") from None
    except ValueError as wrong:
        raise UnreadableEvent(f"expected one JSON object; found a value that cannot be read ({wrong})") from None
    if not isinstance(value, dict):
        raise UnreadableEvent(f"expected one JSON object; found {_kind(value)}")
    if _depth_over(value, DEEPEST):
        raise UnreadableEvent("expected one JSON object; found lists or tables nested too deep")
    if "\\u" in text:
        _refuse_lone_surrogates(value)
    return value


def text_of_event(event: Event) -> str:
    """The event as one line of JSON, with what it was given and no more."""
    return event.model_dump_json(exclude_defaults=True, by_alias=True)


def text_of_table(table: Mapping[str, Any]) -> str:
    """A plain mapping as one line of JSON."""
    return json.dumps(table, ensure_ascii=False, default=_instant)


def same_content(one: Event, other: Event) -> bool:
    """Whether two events say the same, whenever and in whatever place they came in."""
    return one.model_dump(exclude=NOT_CONTENT) == other.model_dump(exclude=NOT_CONTENT)


def difference(one: Event, other: Event) -> str:
    """The names of the fields in which two events differ, in words."""
    first, second = (event.model_dump(exclude=NOT_CONTENT) for event in (one, other))
    keys = [key for key in {**first, **second} if first.get(key) != second.get(key)]
    return ", ".join(f"'{key}'" for key in keys)


def _table(pairs: Sequence[tuple[str, Any]]) -> dict[str, Any]:
    table = dict(pairs)
    if len(table) < len(pairs):
        keys = [key for key, _ in pairs]
        twice = next(key for key in keys if keys.count(key) > 1)
        raise UnreadableEvent(f"expected each key once; found '{twice}' twice")
    return table


def _no_constant(word: str) -> Any:
    raise UnreadableEvent(f"expected JSON numbers; found {word}")


def _refuse_lone_surrogates(value: Any) -> None:
    try:
        json.dumps(value, ensure_ascii=False).encode("utf-8")
    except UnicodeEncodeError:
        raise UnreadableEvent("expected text; found half a character (a lone surrogate)") from None


def _depth_over(value: Any, most: int) -> bool:
    if not isinstance(value, dict | list):
        return False
    parts = value.values() if isinstance(value, dict) else value
    return most == 0 or any(_depth_over(part, most - 1) for part in parts if isinstance(part, dict | list))


def _kind(value: Any) -> str:
    return {list: "a list", str: "text", bool: "true or false", type(None): "null"}.get(type(value), "a number")


def _instant(value: Any) -> str:
    if isinstance(value, datetime):
        return instant_text(value)
    raise TypeError(f"no JSON for {type(value).__name__}")
