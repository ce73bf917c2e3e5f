"""The data of the entry form for each kind of event: its fields, what is refused, and what is asked before sending.

The rules are in the class of each kind (`dashboard.core.events.entry`). ``assets/board/entry.js`` applies them and has no
rules of its own. A source is a key of `offers.choices_of`, so that the rules follow the current state.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from dashboard.core.events.entry import Form, FormField

AT_PET = "When, PET H:MM (empty: now)"
AT_UTC = "When, UTC HH:MM or HH:MM:SS of today, or a whole instant like 2031-04-12T09:10:00Z (empty: now)"

# Sources of fields into which a value is typed.
NUMBERS = ("minutes", "number")
WRITTEN = (*NUMBERS, "text")

_SOURCE = re.compile(r"(many\??:)?([a-z_]+)(?:@([a-z]+))?(\?)?")


def forms(entry: Mapping[str, Form]) -> dict[str, dict[str, Any]]:
    """The form of each kind of event, as the browser reads it.

    Parameters
    ----------
    entry : mapping of str to Form
        By kind.

    Returns
    -------
    dict of str to dict
        By kind.
    """
    return {kind: _form(kind, form) for kind, form in entry.items()}


def _form(kind: str, form: Form) -> dict[str, Any]:
    return {
        "fields": [_field(kind, one) for one in form.fields],
        "any_of": None if form.any_of is None else {"names": list(form.any_of.fields), "words": form.any_of.words},
        "ask": None if form.asked is None else {"field": form.asked.field, "from": form.asked.source},
        "at": AT_UTC if form.by_utc else AT_PET,
    }


def _field(kind: str, field: FormField) -> dict[str, Any]:
    """One field, with the parts of its source."""
    found = _SOURCE.fullmatch(field.source)
    if found is None:
        raise ValueError(f"field {field.name} of {kind}: expected a source, found '{field.source}'")
    many, source, on, optional = found.groups()
    least = field.least
    return {
        "name": field.name,
        "label": field.label,
        "from": source,
        "on": on,
        "is_many": many is not None,
        "is_choice": source not in WRITTEN,
        "is_number": source in NUMBERS,
        "is_optional": optional is not None or many == "many?:",
        "refused": field.refused,
        "above": field.above,
        "least": None if least is None else {"from": least.source, "on": least.on, "said": least.said},
    }
