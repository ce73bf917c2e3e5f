"""The changes between two versions of the board, as plain values; `assets/board/pure/changes.js` applies them.

A change is one of

- ``{"new": value}``: the value replaces the one before;
- ``{"keys": {key: change}, "gone": [key]}``: for a mapping, the change of each key, and the keys that are no longer there;
- ``{"items": {place: change}}``: for a list of the same length, the change at each place;
- ``{"rows": [text or [first, count]]}``: for a text with table rows, each part is new rows or a range of the rows before.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

ROW_END = "</tr>"
SHORT_TEXT = 2000

Change = dict[str, Any]


def change_of(before: Any, after: Any) -> Change | None:
    """Find the change that turns `before` into `after`.

    Parameters
    ----------
    before, after
        Plain values: mappings, lists, texts, numbers, true, false and None.

    Returns
    -------
    dict or None
        A change in the form above; None when the values are equal.
    """
    if before == after:
        return None
    if isinstance(before, dict) and isinstance(after, dict):
        return _of_mapping(before, after)
    if isinstance(before, list) and isinstance(after, list) and len(before) == len(after):
        return _of_list(before, after)
    if isinstance(before, str) and isinstance(after, str) and len(after) > SHORT_TEXT and ROW_END in after:
        return {"rows": _of_rows(str.split(before, ROW_END), str.split(after, ROW_END))}
    return {"new": after}


def _of_mapping(before: Mapping[str, Any], after: Mapping[str, Any]) -> Change:
    found = {key: {"new": value} if key not in before else change_of(before[key], value) for key, value in after.items()}
    gone = [key for key in before if key not in after]
    return {"keys": {key: change for key, change in found.items() if change is not None}, "gone": gone}


def _of_list(before: list[Any], after: list[Any]) -> Change:
    """Item by item where most of them are as they were, or where they are mappings, of which a small part changes."""
    pairs = enumerate(zip(before, after, strict=True))
    found = {place: change for place, (old, new) in pairs if (change := change_of(old, new)) is not None}
    is_small = 2 * len(found) <= len(after) or all(isinstance(one, dict) for one in after)
    return {"items": found} if is_small else {"new": after}


def _of_rows(before: list[str], after: list[str]) -> list[str | list[int]]:
    place = {row: number for number, row in enumerate(before)}
    rows: list[str | list[int]] = []
    for row in after:
        known = place.get(row)
        if known is None:
            rows.append(row)
        elif rows and isinstance(last := rows[-1], list) and last[0] + last[1] == known:
            last[1] += 1
        else:
            rows.append([known, 1])
    return rows
