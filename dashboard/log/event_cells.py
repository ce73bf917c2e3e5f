"""Converts between the cells of an event log in CSV and the fields of an event.

Names in a list are separated by spaces. A table stands in its cell as JSON.
"""

from __future__ import annotations

import json
from contextlib import suppress
from typing import Any

from dashboard.core.events.fields import LIST_FIELDS, TABLE_FIELDS
from dashboard.core.events.kinds import UnreadableEvent


def event_value(name: str, cell: str) -> Any:
    """Read the value of a field of an event from its cell.

    Parameters
    ----------
    name
        Name of the field.
    cell
        A cell that is not empty.

    Returns
    -------
    Any
        A list of names, a table, or the text of the cell.

    Raises
    ------
    UnreadableEvent
        When the cell begins like JSON but is not JSON.
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
    """Write the value of a field of an event as a cell; `event_value` reads it back.

    Parameters
    ----------
    name
        Name of the field.
    value
        As in the JSON of the event; None when the event does not have the field.

    Returns
    -------
    str
        Empty for None.
    """
    if name in LIST_FIELDS and isinstance(value, list):
        return " ".join(value)
    if isinstance(value, str) and name != "chosen":
        return value
    return "" if value is None else json.dumps(value, ensure_ascii=False)


