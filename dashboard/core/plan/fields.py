"""Builds a `Plan` from plain tables (read from TOML or a sheet), and reports each wrong field with its place.

A place is the path to a value in the tables, such as ``("task", 3, "duration")``.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any, NamedTuple, get_args

from pydantic import BaseModel, ValidationError

from dashboard.core.base.problems import Problem, did_you_mean
from dashboard.core.plan.model import CONSUMABLES, Plan

Place = tuple[str | int, ...]

EXPECTED = {
    "workload": "watts (a number) or one of rest, light, moderate, heavy",
    "follows": 'names of tasks, or tables such as { task = "T070", lag = 5 }',
}
CURES = {
    "duration": "Write minutes, \"H:MM\" or [low, likely, high], for example duration = [30, 40, 65].",
    "start": 'Write PET as "H:MM" or minutes, for example start = "1:50".',
    "limit": 'Write PET as "H:MM" or minutes, up to 24 hours, for example limit = "7:00".',
    "lanes": 'Write a list of lane names, for example lanes = ["EV1", "EV2"].',
    "kind": 'Write one of those, for example kind = "crew".',
    "workload": "Write watts, for example workload = 300, or one of the words.",
    "id": "Write a short name without spaces.",
    "follows": 'Write for example follows = [{ task = "T070", lag = 5 }].',
}
SORTIE_START_CURE = "Write an instant in UTC, for example start = 2031-04-12T09:10:00Z."
MISSING = "missing-value"
TEMPLATES = {  # the text for each of these pydantic error types; other types keep pydantic's text
    "string_type": "text in quotes",
    "string_too_short": "text that is not empty",
    "string_pattern_mismatch": "a name without spaces",
    "string_too_long": "at most {max_length} characters",
    "greater_than": "more than {gt}",
    "greater_than_equal": "{ge} or more",
    "less_than": "less than {lt}",
    "less_than_equal": "at most {le}",
    "bool_type": "true or false",
    "bool_parsing": "true or false",
    "int_type": "a whole number",
    "int_parsing": "a whole number",
    "int_from_float": "a whole number",
    "float_type": "a number",
    "float_parsing": "a number",
    "finite_number": "a finite number",
    "literal_error": "one of {expected}",
    "tuple_type": "a list",
    "list_type": "a list",
    "model_type": "a table",
    "model_attributes_type": "a table",
    "dict_type": "a table",
    "too_short": "at least {min_length} in the list",
}
STAND_INS: dict[str | int, Any] = {  # used only to cross-check the rest of a plan that has wrong fields
    "duration": 0, "lanes": ["?"], "kind": "other", "limit": "24:00",
    **{name: {"loaded": 1} for name in CONSUMABLES},
}


@dataclass(frozen=True)
class Finding:
    """A problem and the place in the tables that it is about."""

    place: Place
    problem: Problem


class TablesRead(NamedTuple):
    """A plan, the problems of its fields, and the places of the wrong values that were left out of the plan."""

    plan: Plan | None
    findings: list[Finding]
    taken_out: set[Place]


def read_tables(tables: Mapping[str, Any]) -> TablesRead:
    """Build a plan from plain tables, and find every problem of its fields.

    When fields are wrong, the plan is built without them, so that the rest can be cross-checked.

    Parameters
    ----------
    tables : mapping of str to any
        The tables of a plan file, as plain dictionaries and lists.

    Returns
    -------
    TablesRead
        Its plan is None when nothing usable remains.
    """
    findings = [*_unknown_keys(tables, Plan, (), tables)]
    known = _without(tables, {finding.place for finding in findings})
    try:
        return TablesRead(Plan.model_validate(known), findings, set())
    except ValidationError as wrong:
        field_findings = _field_findings(wrong, known)
    findings += field_findings
    keys = {key_place(finding.place) for finding in field_findings}
    try:
        return TablesRead(Plan.model_validate(_repaired(known, keys)), findings, keys)
    except ValidationError:
        return TablesRead(None, findings, keys)


def value_at(tables: Any, place: Place) -> Any:
    """The value at a place, or None.

    Parameters
    ----------
    tables
        The tables of a plan file, or any part of them.
    place
        The path from there to the value: keys of tables, and numbers of list entries counted from 0.

    Returns
    -------
    object
        As it stands in the tables; None when the path leads nowhere.
    """
    for part in place:
        if isinstance(part, int):
            if not isinstance(tables, list | tuple) or part >= len(tables):
                return None
            tables = tables[part]
        else:
            if not isinstance(tables, Mapping) or part not in tables:
                return None
            tables = tables[part]
    return tables


def split_place(place: Place) -> tuple[Place, Place]:
    """Split the place of a value into the place of its table and the keys below it.

    Parameters
    ----------
    place : tuple of str or int

    Returns
    -------
    tuple of (tuple, tuple)
        For ``("task", 3, "follows", 0)``: ``("task", 3)`` and ``("follows", 0)``.
    """
    at = 0
    while at + 1 < len(place) and isinstance(place[at + 1], int) and (at == 0 or place[at] == "task"):
        at += 2
    if at == 0 and place[:1] == ("sortie",):
        at = 1
    return place[:at], place[at:]


def key_place(place: Place) -> Place:
    """The place of the table's own key that holds the value: its table and the first key below it.

    Parameters
    ----------
    place
        Of the value.

    Returns
    -------
    tuple of str or int
        For ``("task", 3, "follows", 0)``: ``("task", 3, "follows")``.
    """
    item, below = split_place(place)
    return item + below[:1]


def subject_of(tables: Any, place: Place) -> str:
    """The subject of a problem at a place: ``task T080, key 'duration'``.

    Parameters
    ----------
    tables
        The tables of the plan file: they give the name of the table with the problem.
    place
        Of the value that the problem is about; it need not exist.

    Returns
    -------
    str
        A table without a name is told by its number, counted from 1. ``the plan`` when the place names neither table nor key.
    """
    item, below = split_place(place)
    words = [f"table [{part}]" for part in item if item == ("sortie",)]
    for at in range(1, len(item), 2):
        name = value_at(tables, (*item[: at + 1], "id"))
        number = int(item[at]) + 1
        words.append(f"{item[at - 1]} {name}" if isinstance(name, str) and name else f"{item[at - 1]} number {number}")
    if keys := [str(part) for part in below if isinstance(part, str)]:
        words.append(f"key '{'.'.join(keys)}'")
    return ", ".join(words) or "the plan"


def _keys_of(model: type[BaseModel]) -> dict[str, Any]:
    return {field.alias or name: field.annotation for name, field in model.model_fields.items()}


def _model_in(annotation: Any) -> type[BaseModel] | None:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    return next((found for part in get_args(annotation) if (found := _model_in(part)) is not None), None)


def _unknown_keys(table: Any, model: type[BaseModel], place: Place, tables: Any) -> Iterator[Finding]:
    if not isinstance(table, Mapping):
        return
    known = _keys_of(model)
    for key, value in table.items():
        here = (*place, key)
        if key not in known:
            kind = next((part for part in reversed(place) if isinstance(part, str)), None)
            expected = f"a key of '{kind}'" if kind else "a table of a plan"
            near = did_you_mean(key, known)
            yield Finding(here, Problem(subject_of(tables, here), expected, f"'{key}'", near, code="unknown-key"))
        elif inner := _model_in(known[key]):
            parts = [((*here, i), part) for i, part in enumerate(value)] if isinstance(value, list) else [(here, value)]
            for part_place, part in parts:
                yield from _unknown_keys(part, inner, part_place, tables)


def _field_findings(wrong: ValidationError, tables: Mapping[str, Any]) -> list[Finding]:
    findings: dict[Place, Finding] = {}
    for error in wrong.errors(include_url=False):
        place = _place_of(error, tables)
        if error["type"] == "too_short" and len(value_at(tables, place)) >= error["ctx"]["min_length"]:
            continue  # pydantic counts only valid entries; the invalid ones have errors of their own
        findings.setdefault(place, Finding(place, _problem(error, place, tables)))
    return list(findings.values())


def _place_of(error: Any, tables: Mapping[str, Any]) -> Place:
    """The location that pydantic gives, cut to what exists in the tables: pydantic adds parts for unions."""
    place: Place = tuple(error["loc"])
    if error["type"] == "missing":
        return place
    while place and value_at(tables, place) is None:
        place = place[:-1]
    if error["type"] == "value_error" and isinstance(value_at(tables, place), Mapping):
        named = re.search(r"'(\w+)'", str(error["msg"]))
        if named and value_at(tables, (*place, named[1])) is not None:
            place = (*place, named[1])
    return place


def _problem(error: Any, place: Place, tables: Mapping[str, Any]) -> Problem:
    key = next((part for part in reversed(place) if isinstance(part, str)), "")
    kind = error["type"]
    subject = subject_of(tables, place)
    if kind == "missing":
        if len(place) == 1:
            subject, header = "the plan", f"[{key}]" if key == "sortie" else f"[[{key}]]"
            return Problem(subject, f"a table {header}", "none", f"Add {header} with its keys.", code=MISSING)
        return Problem(subject, f"a value for '{key}'", "none", f"Add it. {_cure(place)}".strip(), code=MISSING)
    expected, found = _expected_found(error, key, value_at(tables, place))
    return Problem(subject, expected, found, _cure(place) or "Correct the value.", code="wrong-value")


def _cure(place: Place) -> str:
    """The advice on what to write at a place; empty when there is none beyond the problem itself."""
    if place == ("sortie", "start"):
        return SORTIE_START_CURE
    if len(place) == 1:
        header = "[sortie]" if place == ("sortie",) else f"[[{place[0]}]]"
        return f"Write {header}, in {'single' if place == ('sortie',) else 'double'} brackets."
    return CURES.get(next((part for part in reversed(place) if isinstance(part, str)), ""), "")


def _expected_found(error: Any, key: str, value: Any) -> tuple[str, str]:
    if error["type"] == "value_error":
        expected, _, found = str(error["msg"]).removeprefix("Value error, ").rpartition(", not ")
        if expected:
            return expected, found
        return found, _short(value)
    template = TEMPLATES.get(error["type"])
    if key in EXPECTED:
        return EXPECTED[key], _short(value)
    if template is not None:
        context = error.get("ctx", {}).items()
        context = {name: f"{part:g}" if isinstance(part, float) else part for name, part in context}
        return template.format_map(context), _short(value)
    message = str(error["msg"]).removeprefix("Input should be ").removeprefix("Input should have ")
    return message[:1].lower() + message[1:], _short(value)


def _short(value: object) -> str:
    if value is None:
        return "none"
    text = f"'{value}'" if isinstance(value, str) else "a table" if isinstance(value, Mapping) else str(value)
    if isinstance(value, bool):
        text = text.lower()
    return text if len(text) <= 60 else text[:56] + " ..."


def _without(tables: Any, places: Iterable[Place]) -> Any:
    """A copy of the tables without the values at `places`. Only keys of tables are removed, no list entries."""
    gone = set(places)

    def copy(value: Any, place: Place) -> Any:
        if isinstance(value, Mapping):
            return {k: copy(v, (*place, k)) for k, v in value.items() if (*place, k) not in gone}
        if isinstance(value, list | tuple):
            return [copy(part, (*place, i)) for i, part in enumerate(value)]
        return value

    return copy(tables, ())


def _repaired(tables: Mapping[str, Any], keys: Iterable[Place]) -> Any:
    """The tables without the wrong values; a required key gets a stand-in value."""
    repaired = _without(tables, keys)
    for *item, key in keys:
        if key in STAND_INS and isinstance(table := value_at(repaired, tuple(item)), dict):
            table[key] = STAND_INS[key]
    return repaired
