"""Cells of an event log in CSV, and what they mean as fields of an event.

Lists of names are separated by spaces; tables stand in the cell as JSON.
"""

from __future__ import annotations

import json
from contextlib import suppress
from typing import Any

from dashboard.core.events.fields import LIST_FIELDS, TABLE_FIELDS
from dashboard.core.events.kinds import UnreadableEvent


def event_value(name: str, cell: str) -> Any:
    """The value of a field of an event.

    Raises
    ------
    UnreadableEvent
        When the cell begins as JSON and is none.
    """
    text = cell.strip()
    if name == "chosen":
        with suppress(ValueError, RecursionError):
            return json.loads(text)
        return cell
    if name in TABLE_FIELDS and text[0] == "{" or name in LIST_FIELDS and text[0] == "[":
        try:
            return json.loads(text)
        except (ValueError, RecursionError):
            raise UnreadableEvent(f"{name}: expected JSON in the cell; found '{text[:60]}'") from None
    return text.split() if name in LIST_FIELDS else cell


def event_cell(name: str, value: Any) -> str:
    """The cell for the value of a field; `event_value` reads it back."""
    if name in LIST_FIELDS and isinstance(value, list):
        return " ".join(value)
    if isinstance(value, str) and name != "chosen":
        return value
    return "" if value is None else json.dumps(value, ensure_ascii=False)


