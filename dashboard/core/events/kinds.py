"""The kinds of event, and reading one from a plain mapping.

A new kind is one new module of this room with its class, its line in `KINDS`, and its tests. What a class may say of
itself stands in `dashboard.core.events.event`.

A field that does not fit its event makes the event unreadable; whether it fits the sortie's state is judged later, when
the event is applied.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from functools import reduce
from math import isfinite, log10
from operator import or_
from typing import Annotated, Any

from pydantic import Field, TypeAdapter, ValidationError

from dashboard.core.base.problems import did_you_mean
from dashboard.core.base.wording import kind_of_value, shortened
from dashboard.core.events.add import Add
from dashboard.core.events.answers import Amend, Withdraw
from dashboard.core.events.break_off import BreakOff
from dashboard.core.events.check import CheckMade
from dashboard.core.events.choose import Choose
from dashboard.core.events.clock import ClockSet
from dashboard.core.events.decision import Decision
from dashboard.core.events.defer import Defer, Reinstate
from dashboard.core.events.done import Done
from dashboard.core.events.end import End
from dashboard.core.events.estimate import Estimate
from dashboard.core.events.event import Event
from dashboard.core.events.extend import Extend
from dashboard.core.events.hold import Hold, Resume
from dashboard.core.events.insert import Insert
from dashboard.core.events.move import Move
from dashboard.core.events.note import Note
from dashboard.core.events.reading import Reading
from dashboard.core.events.start import Start
from dashboard.core.events.trim import Trim

KINDS: Mapping[str, type[Event]] = {
    "clock": ClockSet,  # PET zero
    "start": Start,  # work begins
    "done": Done,  # work is complete
    "hold": Hold,  # a task, a lane or everything stops
    "resume": Resume,  # and goes on
    "break_off": BreakOff,  # work ends early
    "estimate": Estimate,  # so many minutes remain
    "defer": Defer,  # tasks leave this sortie
    "reinstate": Reinstate,  # and come back
    "trim": Trim,  # a task is cut short
    "extend": Extend,  # or let run longer
    "insert": Insert,  # a contingency happens
    "choose": Choose,  # an ending is taken
    "add": Add,  # an unplanned task
    "move": Move,  # another lane, or another place in the order
    "reading": Reading,  # what a suit has left
    "check": CheckMade,  # a recurring call was made
    "decision": Decision,  # what was decided, and on which figures
    "note": Note,  # words alone
    "amend": Amend,  # an earlier event is put right
    "withdraw": Withdraw,  # or taken back
    "end": End,  # the sortie is over
}

LONGEST_INTEGER_BITS = 60
LONGEST_REASON = 1000
_SUBJECT = re.compile(r"^\w+ should (?:be|have) ")  # "Input should be a number": the field is named already
_ANY_KIND: Any = reduce(or_, KINDS.values())
EVENT_ADAPTER: TypeAdapter[Event] = TypeAdapter(Annotated[_ANY_KIND, Field(discriminator="kind")])


class UnreadableEvent(ValueError):
    """An event that cannot be understood; the text says why, in words, at most `LONGEST_REASON` characters and a few."""

    def __init__(self, why: str) -> None:
        super().__init__(shortened(why, LONGEST_REASON))


def parse_event(raw: object) -> Event:
    """Read one event from a plain mapping (as JSON gives it).

    Parameters
    ----------
    raw
        The fields of the event by name; anything else than a mapping is refused.

    Returns
    -------
    Event
        Of the class that `KINDS` gives for its kind.

    Raises
    ------
    UnreadableEvent
        When it is no mapping, its kind is not known, or a field does not fit. The text says what was expected and found.
    """
    if not isinstance(raw, Mapping):
        raise UnreadableEvent(f"expected one JSON object per event; found {kind_of_value(raw)}")
    _refuse_what_cannot_be_written(raw)
    kind = raw.get("kind")
    if not isinstance(kind, str) or kind not in KINDS:
        found = "none" if kind is None else f"'{kind}'"
        raise UnreadableEvent(f"expected a known 'kind'; found {found}. {did_you_mean(str(kind), KINDS)}")
    try:
        return KINDS[kind].model_validate(dict(raw))
    except ValidationError as wrong:
        raise UnreadableEvent(_describe_validation(wrong)) from None


def _refuse_what_cannot_be_written(raw: Mapping[Any, Any]) -> None:
    """Refuse numbers that no reader of the log or of the state could take, wherever in an event they stand.

    Raises
    ------
    UnreadableEvent
    """
    waiting: list[Any] = [raw]
    while waiting:
        value = waiting.pop()
        if isinstance(value, Mapping):
            waiting.extend(value.values())
        elif isinstance(value, list | tuple):
            waiting.extend(value)
        elif isinstance(value, int) and value.bit_length() > LONGEST_INTEGER_BITS:
            digits = int(value.bit_length() * log10(2)) + 1
            raise UnreadableEvent(f"expected whole numbers of at most 18 digits; found one of about {digits} digits")
        elif isinstance(value, float) and not isfinite(value):
            raise UnreadableEvent(f"expected finite numbers; found {value}")


def _describe_validation(wrong: ValidationError) -> str:
    """Pydantic's complaints as one readable line, field by field."""
    parts = []
    for error in wrong.errors(include_url=False):
        place = [str(part) for part in error["loc"]]
        parts.append(f"{'.'.join(place) or 'event'}: {complaint(error)}")
    return "; ".join(parts)


def complaint(error: Mapping[str, Any]) -> str:
    """One pydantic error as 'expected ...; found ...'.

    Parameters
    ----------
    error
        One entry of `ValidationError.errors()`.

    Returns
    -------
    str
        Without the field. ``expected ...`` alone for an unknown key, and where a check of the model words the error itself.
    """
    kind, found = error["type"], error.get("input")
    if kind == "missing":
        return "expected a value; found none"
    if kind == "extra_forbidden":
        return "expected no such key"
    if kind == "value_error":
        return f"expected {str(error['msg']).removeprefix('Value error, ')}"
    message = _SUBJECT.sub("", str(error["msg"]))
    return f"expected {message[:1].lower() + message[1:]}; found {_short(found)}"


def _short(value: object) -> str:
    text = repr(value)
    return text if len(text) <= 60 else text[:57] + "..."
