"""Reads one event from a line of JSON, and writes it as one."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from dashboard.core.base.times import instant_text
from dashboard.core.base.wording import kind_of_value
from dashboard.core.events.event import Event
from dashboard.core.events.kinds import UnreadableEvent, parse_event

# These fields tell when, where and from whom an event came in, and what the board showed at that time.
NOT_CONTENT = {"seq", "received", "sortie", "entered_by", "figures"}
DEEPEST = 50  # levels of lists and tables inside one another; an event needs three


def event_of_text(text: str, **added: Any) -> Event:
    """Read one event from its JSON text.

    Parameters
    ----------
    text
        One JSON object.
    **added
        Values for fields that the text does not give.

    Returns
    -------
    Event
        An instance of the class of its kind.

    Raises
    ------
    UnreadableEvent
        When the text is not an event; its message says what was expected and found.
    """
    table = table_of_text(text)
    for key, value in added.items():
        if table.get(key) is None:
            table[key] = value
    return parse_event(table)


def table_of_text(text: str) -> dict[str, Any]:
    """Read the JSON object in a text strictly: no key twice, no NaN, no text that UTF-8 cannot hold, no deep nesting.

    Parameters
    ----------
    text
        One JSON object.

    Returns
    -------
    dict
        The object.

    Raises
    ------
    UnreadableEvent
        When the text is anything else; its message says what was expected and found.
    """
    if "\0" in text:
        raise UnreadableEvent(f"expected text; found a NUL byte at column {text.index(chr(0)) + 1}")
    try:
        value = json.loads(text, object_pairs_hook=_table, parse_constant=_no_constant)
    except UnreadableEvent:
        raise
    except json.JSONDecodeError as wrong:
        complaint = wrong.msg[:1].lower() + wrong.msg[1:]
        found = f"text that is not JSON: {complaint} (column {wrong.colno})"
        raise UnreadableEvent(f"expected one JSON object; found {found}") from None
    except RecursionError:
        raise UnreadableEvent("expected one JSON object; found lists or tables nested too deep") from None
    except ValueError as wrong:
        raise UnreadableEvent(f"expected one JSON object; found a value that cannot be read ({wrong})") from None
    if not isinstance(value, dict):
        raise UnreadableEvent(f"expected one JSON object; found {kind_of_value(value)}")
    if _depth_over(value, DEEPEST):
        raise UnreadableEvent("expected one JSON object; found lists or tables nested too deep")
    if "\\u" in text:
        _refuse_lone_surrogates(value)
    return value


def text_of_event(event: Event) -> str:
    """Write an event as one line of JSON.

    Parameters
    ----------
    event
        Any event.

    Returns
    -------
    str
        Only the fields that the event was given; defaults are left out. No line break.
    """
    return event.model_dump_json(exclude_defaults=True, by_alias=True)


def text_of_table(table: Mapping[str, Any]) -> str:
    """Write a mapping as one line of JSON.

    Parameters
    ----------
    table
        Plain values and instants.

    Returns
    -------
    str
        Instants are written as RFC 3339 text in UTC.
    """
    return json.dumps(table, ensure_ascii=False, default=_instant)


def same_content(one: Event, other: Event) -> bool:
    """Tell whether two events say the same.

    Parameters
    ----------
    one, other
        Two events, usually with the same id.

    Returns
    -------
    bool
        True when they differ at most in the fields `NOT_CONTENT`.
    """
    return one.model_dump(exclude=NOT_CONTENT) == other.model_dump(exclude=NOT_CONTENT)


def difference(one: Event, other: Event) -> str:
    """Name the fields in which two events differ.

    Parameters
    ----------
    one, other
        Two events, usually with the same id.

    Returns
    -------
    str
        Names in quotes, separated by commas; the fields `NOT_CONTENT` are not compared.
    """
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


def _instant(value: Any) -> str:
    if isinstance(value, datetime):
        return instant_text(value)
    raise TypeError(f"no JSON for {type(value).__name__}")
