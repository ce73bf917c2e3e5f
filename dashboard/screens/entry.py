"""What the entry form is told of each kind of event: its fields, and what is refused or asked about before it is sent.

The tables of this file are the rules; ``assets/board/entry.js`` applies them and has none of its own. A source is a key of
`offers.choices_of`, so that a rule is always that of the moment.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from dashboard.core.events.entry import Form, FormField
from dashboard.core.plan.model import CONSUMABLES

AT_PET = "When, PET H:MM (empty: now)"
AT_UTC = "When, UTC HH:MM or HH:MM:SS of today, or a whole instant like 2031-04-12T09:10:00Z (empty: now)"

# Sources of fields that are filled in, not chosen.
NUMBERS = ("minutes", "number")
WRITTEN = (*NUMBERS, "text")

# Kind and field -> the source of the values that nobody may record there, with why.
REFUSED = {
    ("defer", "tasks"): "kept",
    ("decision", "defer"): "kept",
    ("trim", "task"): "required",
    ("break_off", "task"): "required",
}
# Kind and field -> a number that it must be above.
ABOVE = {("add", "duration"): 0}
# Kind and field -> the source of the least value, the field that it hangs on, and what that value is.
LEAST = {("trim", "duration"): {"from": "shortest", "on": "task", "said": "the shortest that is useful"}}
# Kind -> fields of which one must be filled in, and the words where none is.
ANY_OF = {
    "reading": (CONSUMABLES, "Suit reading: expected at least one amount; found none."),
    "move": (("lane", "before"), "Hand over or reorder: expected a lane or what it goes before; found neither."),
}
# Kind -> the field whose value decides, and the source of what is then asked, as the words after the time.
ASKED: dict[str, tuple[str | None, str]] = {
    "end": (None, "end_words"),
    "hold": ("subject", "hold_words"),
    "insert": ("contingency", "insert_words"),
}
_SOURCE = re.compile(r"(many\??:)?([a-z_]+)(?:@([a-z]+))?(\?)?")


def forms(entry: Mapping[str, Form]) -> dict[str, dict[str, Any]]:
    """The form of each kind of event, as the browser reads it.

    Parameters
    ----------
    entry : mapping
        Kind -> its form.
    """
    return {kind: _form(kind, form) for kind, form in entry.items()}


def _form(kind: str, form: Form) -> dict[str, Any]:
    names, words = ANY_OF.get(kind, (None, ""))
    field, source = ASKED.get(kind, (None, None))
    return {
        "fields": [_field(kind, one) for one in form.fields],
        "any_of": None if names is None else {"names": list(names), "words": words},
        "ask": None if source is None else {"field": field, "from": source},
        "at": AT_UTC if kind == "clock" else AT_PET,
    }


def _field(kind: str, field: FormField) -> dict[str, Any]:
    """A field, with its source taken apart."""
    name, label, text = field
    found = _SOURCE.fullmatch(text)
    if found is None:
        raise ValueError(f"field {name} of {kind}: expected a source, found '{text}'")
    many, source, on, optional = found.groups()
    return {
        "name": name,
        "label": label,
        "from": source,
        "on": on,
        "is_many": many is not None,
        "is_choice": source not in WRITTEN,
        "is_number": source in NUMBERS,
        "is_optional": optional is not None or many == "many?:",
        "refused": REFUSED.get((kind, name)),
        "above": ABOVE.get((kind, name)),
        "least": LEAST.get((kind, name)),
    }
