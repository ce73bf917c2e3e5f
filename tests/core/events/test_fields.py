"""The fields of all kinds, as columns of a table."""

from __future__ import annotations

from dashboard.core.events.fields import FIELDS, LIST_FIELDS, TABLE_FIELDS
from dashboard.core.events.kinds import KINDS


def test_every_field_is_a_column_once() -> None:
    """First what every event has, last what the store adds."""
    assert set(FIELDS) == {name for event in KINDS.values() for name in event.model_fields}
    assert len(FIELDS) == len(set(FIELDS))
    assert FIELDS[:5] == ("id", "at", "kind", "by", "note") and FIELDS[-3:] == ("sortie", "received", "seq")


def test_lists_and_tables_are_told_from_plain_cells() -> None:
    """A cell of such a column may hold JSON."""
    assert {"lanes", "tasks", "defer"} == LIST_FIELDS
    assert {"task", "trim", "changes", "figures"} == TABLE_FIELDS
