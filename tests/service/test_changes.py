"""What changed of the board: applied to the board before, it gives the board after, and it is short."""

from __future__ import annotations

import json
from typing import Any

import orjson
from hypothesis import given
from hypothesis import strategies as st

from dashboard.service.changes import ROW_END, SHORT_TEXT, change_of

VALUES = st.recursive(
    st.none() | st.booleans() | st.integers(-9, 9) | st.text("ab<", max_size=3),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text("abc", min_size=1, max_size=1), inner, max_size=3),
    max_leaves=12,
)


def applied(before: Any, change: Any) -> Any:
    """What `assets/board/pure/changes.js` does."""
    if change is None:
        return before
    if "new" in change:
        return change["new"]
    if "rows" in change:
        rows = before.split(ROW_END)
        parts = [[one] if isinstance(one, str) else rows[one[0] : one[0] + one[1]] for one in change["rows"]]
        return ROW_END.join(row for part in parts for row in part)
    if "items" in change:
        return [applied(one, change["items"].get(str(place))) for place, one in enumerate(before)]
    after = {key: value for key, value in before.items() if key not in change["gone"]}
    return {**after, **{key: applied(before.get(key), one) for key, one in change["keys"].items()}}


def sent(change: Any) -> Any:
    """A change after its way through a message."""
    return json.loads(orjson.dumps(change, option=orjson.OPT_NON_STR_KEYS))


@given(VALUES, VALUES)
def test_it_makes_what_is_after_of_what_was_before(before: Any, after: Any):
    """Whatever they are; nothing at all where they are equal."""
    change = change_of(before, after)
    assert (change is None) is (before == after)
    assert applied(before, sent(change)) == after


def rows(first: int, last: int) -> str:
    return "<table>" + "".join(f"<tr>{'row':>90} {number}{ROW_END}" for number in range(last, first, -1)) + "</table>"


def test_of_a_table_only_new_rows_are_told():
    """A new one on top, and the last one gone."""
    before, after = {"log": rows(0, 50), "same": 1}, {"log": rows(1, 51), "same": 1}
    assert len(after["log"]) > SHORT_TEXT
    change = change_of(before, after)
    assert change is not None and applied(before, sent(change)) == after
    assert len(orjson.dumps(change)) < 400


def test_of_a_list_only_new_items_are_told():
    """Two of sixty labels."""
    before = [{"text": f"label {n}", "at": n} for n in range(60)]
    after = [{**one, "at": 99} if one["at"] in (3, 40) else one for one in before]
    assert change_of(before, after) == {
        "items": {place: {"keys": {"at": {"new": 99}}, "gone": []} for place in (3, 40)}
    }
