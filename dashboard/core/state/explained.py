"""What every word means: fields of a plan, kinds of event, phrases of a log sheet, checks, alerts, calls, figures of the state.

Nothing is written here but how the parts are put together. Each text stands where the thing itself is: in the description of a
field, in the docstring of a kind of event or of an alert's rule, in the tables of calls and of findings. The published schemas
carry the same texts.
"""

from __future__ import annotations

import difflib
import re
import types
from collections.abc import Iterator
from functools import cache
from typing import Annotated, Any, Literal, NamedTuple, Union, get_args, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from dashboard.core.base.times import parse_instant, parse_minutes
from dashboard.core.deferral.call import CALL_WORDS
from dashboard.core.events.entry import About
from dashboard.core.events.event import Event
from dashboard.core.events.kinds import KINDS
from dashboard.core.plan.fields import CURES, SORTIE_START_CURE
from dashboard.core.plan.finding_kinds import FINDING_KINDS
from dashboard.core.plan.model import CONSUMABLES, Duration, Plan
from dashboard.core.state.alerts import CALL as CALL_ALERT
from dashboard.core.state.alerts import RULES, called_to_decide
from dashboard.core.state.model import SortieState

FIELD, KIND, EVENT_FIELD, PHRASE = "field of the plan", "kind of event", "field of an event", "phrase of a log sheet"
CHECK, ALERT, CALL, FIGURE = "check", "alert", "call", "figure of the state"
_UNITS_BEHIND = re.compile(r"(?: pet)? min$")
MOST_NEAR = 5
_HOW_SAID: dict[About, str] = {
    "task": "{verb} T010; also the title of the task, and the verb behind it",
    "tasks": "{verb} T010, T020",
    "scope": "{verb} T010; {verb} EV1; {verb} all",
    "contingency": "{verb} fitting-leak",
    "option": "{verb} inside; also after the name of the alternative",
    "task and length": "{verb} T090 to 20 min",
    "task and lane": "{verb} T040 to EV2",
}


class Explained(NamedTuple):
    """What a word means.

    Parameters
    ----------
    word : str
        The word as it is written.
    sort : str
        What it is, such as `FIELD`.
    where : str
        Where it stands, such as ``[[task]]``; empty when it stands by itself.
    text : str
        What it means.
    more : tuple of str
        How it is written, what holds when it is absent, and the like: one sentence or phrase each.
    """

    word: str
    sort: str
    where: str
    text: str
    more: tuple[str, ...] = ()


def explain(word: str) -> list[Explained]:
    """Explain a word.

    Parameters
    ----------
    word
        In any case, with spaces, hyphens or underscores; ``task.after`` names the table too. A figure may come without its unit.
        Or a whole entry of a log sheet, such as ``skip T050``: its verb is explained.

    Returns
    -------
    list of Explained
        Every meaning; empty when the word is not known.
    """
    wanted = _plain(word)
    found = [one for one in everything() if wanted in _names_of(one)]
    return found or _verb_in(wanted)


def _names_of(one: Explained) -> tuple[str, ...]:
    name, full = _plain(one.word), _plain(f"{one.where} {one.word}")
    return (name, full, *(_UNITS_BEHIND.sub("", part) for part in (name, full) if one.sort == FIGURE))


def _verb_in(entry: str) -> list[Explained]:
    """The phrase of a log sheet in an entry: the longest that it begins with; else ends with; else has in it."""
    said = {_plain(verb) for cls in KINDS.values() if cls.spoken for verb in cls.spoken.verbs}
    said |= {_plain(cls.spoken_as).split()[0] for cls in KINDS.values() if cls.spoken_as}
    for pattern in (r"^{}\b", r"\b{}$", r"\b{}\b"):
        found = [verb for verb in said if re.search(pattern.format(re.escape(verb)), entry)]
        if found:
            verb = max(found, key=len)
            return [one for one in everything() if one.sort in (KIND, PHRASE) and _plain(one.word) == verb]
    return []


def near(word: str) -> list[str]:
    """Find known words for one that is not known.

    Parameters
    ----------
    word
        The word.

    Returns
    -------
    list of str
        At most `MOST_NEAR`: words that are written alike, then words whose text has the word in it.
    """
    wanted = _plain(word)
    words = {_plain(one.word): one.word for one in reversed(everything())}
    alike = difflib.get_close_matches(wanted, words, n=MOST_NEAR, cutoff=0.6)
    said = [_plain(one.word) for one in everything() if wanted and re.search(rf"\b{re.escape(wanted)}", _plain(one.text))]
    return [words[one] for one in dict.fromkeys([*alike, *said])][:MOST_NEAR]


@cache
def everything() -> tuple[Explained, ...]:
    """List every word that can be explained.

    Returns
    -------
    tuple of Explained
        Fields of the plan, then events, phrases, checks, alerts, calls and figures.
    """
    figures = dict.fromkeys(_figures(SortieState, ""))
    return (*_plan_fields(Plan, ""), *_events(), *_phrases(), *_checks(), *_alerts(), *_calls(), *figures)


def _plain(text: str) -> str:
    return " ".join(re.sub(r"[^\w]+", " ", text.casefold().replace("_", " ")).split())


# --- fields -----------------------------------------------------------------------------------------


def _plan_fields(model: type[BaseModel], where: str) -> Iterator[Explained]:
    """The fields of a table of the plan, and those of the tables below it, each table once."""
    for name, field in model.model_fields.items():
        key = field.alias or name
        inner = _model_in(field.annotation)
        told_before = (where, key) == ("[[contingency]]", "task") or (where == "[[suit]]" and key != CONSUMABLES[0])
        cure = SORTIE_START_CURE if (where, key) == ("[sortie]", "start") else CURES.get(key, "")
        table = None if inner is None or inner is Duration else inner
        keys = "" if table is None else f"keys of {_header(where, key, field)}: {_keys(table)}"
        more = [f"written as: {_written(field)}", keys, *_bounds(field), _absent(field), cure if cure and where else ""]
        yield Explained(key, FIELD, where, field.description or "", tuple(filter(None, more)))
        if table is not None and not told_before:
            yield from _plan_fields(table, _header(where, key, field))


def _keys(table: type[BaseModel]) -> str:
    """The keys of a table; a question mark marks those that may be absent."""
    fields = table.model_fields.items()
    return ", ".join(f"{field.alias or name}{'' if field.is_required() else '?'}" for name, field in fields)


def _header(where: str, key: str, field: FieldInfo) -> str:
    if where == "[[suit]]":
        return "[suit.oxygen]"
    if where:
        return f"{where}, {key}"
    return f"[[{key}]]" if get_origin(field.annotation) is tuple else f"[{key}]"


def _model_in(annotation: Any) -> type[BaseModel] | None:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    return next((found for part in get_args(annotation) if (found := _model_in(part)) is not None), None)


def _written(field: FieldInfo) -> str:
    """How a value is written, in words."""
    return _of_type(Annotated[field.annotation, *field.metadata] if field.metadata else field.annotation)


def _of_type(annotation: Any) -> str:
    origin, args = get_origin(annotation), get_args(annotation)
    if origin is Annotated:
        readers = [getattr(part, "func", None) for part in args[1:]]
        if parse_minutes in readers:
            return 'minutes or "H:MM"'
        if parse_instant in readers:
            return "an instant in UTC, such as 2031-04-12T09:10:00Z"
        return _of_type(args[0])
    if origin in (Union, types.UnionType):
        return " or ".join(dict.fromkeys(_of_type(part) for part in args if part is not type(None)))
    if origin is Literal:
        return f"one of {', '.join(map(str, args))}"
    if origin is tuple:
        inner = _model_in(args[0])
        return "a list of tables" if inner is not None else "a list of names"
    if origin is dict:
        return "a table"
    if annotation is Duration:
        return 'minutes, "H:MM" or [low, likely, high]'
    words = {str: "a text", bool: "true or false", int: "a whole number", float: "a number", Any: "any value"}
    return words.get(annotation, "a table")


def _bounds(field: FieldInfo) -> list[str]:
    words = {"gt": "more than {}", "ge": "{} or more", "lt": "less than {}", "le": "at most {}"}
    found = [text.format(f"{getattr(part, name):g}") for part in field.metadata for name, text in words.items()
             if isinstance(getattr(part, name, None), int | float)]
    return [", ".join(found)] if found else []


def _absent(field: FieldInfo) -> str:
    if field.is_required():
        return "must be given"
    default = field.get_default(call_default_factory=True)
    if default is None or default == () or default == "" or default == {}:
        return "may be absent"
    shown = f"{default:g}" if isinstance(default, float) else str(default)
    return f"when absent: {shown.lower() if isinstance(default, bool) else shown}"


# --- the rest ---------------------------------------------------------------------------------------


def _events() -> Iterator[Explained]:
    common = set(Event.model_fields)
    for kind, cls in KINDS.items():
        own = {name: field for name, field in cls.model_fields.items() if name not in common}
        more = [f"{name}{'' if field.is_required() else '?'}: {field.description}" for name, field in own.items()]
        if cls.spoken is not None:
            more.append(f"in a log sheet: {_HOW_SAID[cls.spoken.about].format(verb=cls.spoken.verbs[0])}")
        if cls.spoken_as:
            more.append(f"in a log sheet: {cls.spoken_as}")
        if cls.spoken_alone:
            more.append(f"in a log sheet, alone in its cell: {', '.join(cls.spoken_alone)}")
        more.append("entered by the lead" if cls.needs_lead else "entered by whoever logs")
        yield Explained(kind, KIND, "", docstring(cls), tuple(more))
        for name, field in own.items():
            yield Explained(name, EVENT_FIELD, kind, field.description or "", (f"written as: {_written(field)}", _absent(field)))
    for name, field in Event.model_fields.items():
        if name != "kind":
            yield Explained(name, EVENT_FIELD, "every event", field.description or "", (_absent(field),))


def _phrases() -> Iterator[Explained]:
    for kind, cls in KINDS.items():
        if cls.spoken is not None:
            for verb in cls.spoken.verbs:
                if verb == kind:
                    continue  # the kind tells its phrase itself
                how = _HOW_SAID[cls.spoken.about].format(verb=verb)
                yield Explained(verb, PHRASE, "", f"Makes the event '{kind}': {docstring(cls)}", (f"for example: {how}",))
        if cls.spoken_as:
            more = (f"for example: {cls.spoken_as}",)
            yield Explained(_plain(cls.spoken_as).split()[0], PHRASE, "", f"Begins the event '{kind}': {docstring(cls)}", more)
        for phrase in cls.spoken_alone:
            yield Explained(phrase, PHRASE, "", f"Alone in its cell, makes the event '{kind}': {docstring(cls)}")


def _checks() -> Iterator[Explained]:
    for code, kind in FINDING_KINDS.items():
        yield Explained(code, CHECK, "", kind.what, (f"if nothing is done: {kind.follows}",))


def _alerts() -> Iterator[Explained]:
    for name, rule in {**RULES, CALL_ALERT: called_to_decide}.items():
        yield Explained(name, ALERT, "", docstring(rule), ("the alert itself says since when, by when, and what to do",))


def _calls() -> Iterator[Explained]:
    for word, text in CALL_WORDS.items():
        yield Explained(word, CALL, "", text)


def _figures(model: type[BaseModel], where: str) -> Iterator[Explained]:
    """The fields of the state that have a description, each with the names of what it belongs to."""
    for name, field in model.model_fields.items():
        if field.description:
            yield Explained(name, FIGURE, where, field.description)
        inner = _model_in(field.annotation)
        if inner is not None:
            yield from _figures(inner, f"{where}.{name}" if where else name)


def docstring(thing: object) -> str:
    """Give what a docstring says first.

    Parameters
    ----------
    thing
        A class or a function.

    Returns
    -------
    str
        Its first paragraph on one line; empty when there is none.
    """
    return " ".join((thing.__doc__ or "").split("\n\n")[0].split())
