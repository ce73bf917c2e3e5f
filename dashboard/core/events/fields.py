"""The fields of all kinds of event, for readers and writers of tables: one column per field."""

from __future__ import annotations

import types
from collections.abc import Iterator
from typing import Annotated, Any, Union, get_args, get_origin

from pydantic import BaseModel

from dashboard.core.events.event import Event
from dashboard.core.events.kinds import KINDS

_FIRST = ("id", "at", "kind", "by", "note")
_LAST = ("entered_by", "sortie", "received", "seq")


def _types(annotation: Any) -> Iterator[Any]:
    """The types that a field may have, without None."""
    if get_origin(annotation) in (Union, types.UnionType):
        for part in get_args(annotation):
            yield from _types(part)
    elif get_origin(annotation) is Annotated:
        yield from _types(get_args(annotation)[0])
    elif annotation is not type(None):
        yield annotation


def _is_list(annotation: Any) -> bool:
    return get_origin(annotation) is tuple


def _is_table(annotation: Any) -> bool:
    return get_origin(annotation) is dict or (isinstance(annotation, type) and issubclass(annotation, BaseModel))


_OWN = [
    (name, list(_types(field.annotation)))
    for kind in KINDS.values() for name, field in kind.model_fields.items() if name not in Event.model_fields
]

FIELDS: tuple[str, ...] = (*_FIRST, *dict.fromkeys(name for name, _ in _OWN), *_LAST)
"""Every field of every kind, in the order of the columns of a table."""

LIST_FIELDS: frozenset[str] = frozenset(name for name, kinds in _OWN if any(map(_is_list, kinds)))
"""Fields that hold a list of names in some kind."""

TABLE_FIELDS: frozenset[str] = frozenset(name for name, kinds in _OWN if any(map(_is_table, kinds)))
"""Fields that hold a table in some kind."""
