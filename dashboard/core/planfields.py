"""From plain tables (as TOML or a sheet gives them) to a `Plan`, with every field problem at its place.

A place is the path to a value in the tables, such as ``("task", 3, "duration")``.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, get_args

from pydantic import BaseModel, ValidationError

from dashboard.core.plan import Plan
from dashboard.core.problems import Problem, did_you_mean

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
TEMPLATES = {  # pydantic's error types, in our words; the rest keep pydantic's own
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


@dataclass(frozen=True)
class Finding:
    """A problem and the place in the tables that it is about."""

    place: Place
    problem: Problem


def read_tables(tables: Mapping[str, Any]) -> tuple[Plan | None, list[Finding]]:
    """The plan in `tables`, and what is wrong with its fields.

    With problems, the plan is what remains of the tables once the wrong values are taken out, so that it can be
    examined further; None when nothing usable remains.
    """
    findings = [*_unknown_keys(tables, Plan, ())]
    known = _without(tables, {finding.place for finding in findings})
    for name in ("lane", "task"):
        if name in known and known[name] == []:
            del known[name]
    try:
        return Plan.model_validate(known), findings
    except ValidationError as wrong:
        field_findings = _field_findings(wrong, known)
    findings += field_findings
    try:
        return Plan.model_validate(_repaired(known, {finding.place for finding in field_findings})), findings
    except ValidationError:
        return None, findings


def value_at(tables: Any, place: Place) -> Any:
    """The value at a place, or None."""
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


def subject_of(tables: Any, place: Place) -> str:
    """What a place is about, in words: ``task T080, key 'duration'``."""
    words: list[str] = []
    keys: list[str] = []
    for position, part in enumerate(place):
        if isinstance(part, int):
            continue
        index = place[position + 1] if position + 1 < len(place) else None
        value = value_at(tables, place[: position + 1])
        if isinstance(index, int) and isinstance(value_at(tables, place[: position + 2]), Mapping) and not keys:
            name = value_at(tables, (*place[: position + 2], "id"))
            if part == "follows":
                keys.append(part)
            else:
                words.append(f"{part} {name}" if isinstance(name, str) and name else f"{part} number {index + 1}")
        elif isinstance(value, Mapping) and not words and position == 0:
            words.append(f"table [{part}]")
        else:
            keys.append(part)
    if keys:
        words.append(f"key '{'.'.join(keys)}'")
    return ", ".join(words) or "the plan"


def _keys_of(model: type[BaseModel]) -> dict[str, Any]:
    return {field.alias or name: field.annotation for name, field in model.model_fields.items()}


def _model_in(annotation: Any) -> type[BaseModel] | None:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    return next((found for part in get_args(annotation) if (found := _model_in(part)) is not None), None)


def _unknown_keys(table: Any, model: type[BaseModel], place: Place) -> Iterator[Finding]:
    if not isinstance(table, Mapping):
        return
    known = _keys_of(model)
    for key, value in table.items():
        here = (*place, key)
        if key not in known:
            kind = next((str(part) for part in reversed(place) if isinstance(part, str)), "")
            of_what = f"a key of {kind}" if kind else "a table of a plan"
            yield Finding(here, Problem(
                subject=subject_of({}, here) if not place else f"{subject_of_item(table, place)}, key '{key}'",
                expected=of_what,
                found=f"the unknown key '{key}'",
                cure=did_you_mean(str(key), known),
            ))
            continue
        inner = _model_in(known[key])
        if inner is None:
            continue
        if isinstance(value, list):
            for index, part in enumerate(value):
                yield from _unknown_keys(part, inner, (*here, index))
        else:
            yield from _unknown_keys(value, inner, here)


def subject_of_item(item: Mapping[str, Any], place: Place) -> str:
    """What the table at `place` is, in words: its kind and its name or number."""
    kind = next(str(part) for part in reversed(place) if isinstance(part, str))
    if not isinstance(place[-1], int):
        return f"table [{kind}]"
    name = item.get("id")
    return f"{kind} {name}" if isinstance(name, str) and name else f"{kind} number {place[-1] + 1}"


def _field_findings(wrong: ValidationError, tables: Mapping[str, Any]) -> list[Finding]:
    findings: dict[Place, Finding] = {}
    for error in wrong.errors(include_url=False):
        place = _place_of(error, tables)
        findings.setdefault(place, Finding(place, _problem(error, place, tables)))
    return list(findings.values())


def _place_of(error: Any, tables: Mapping[str, Any]) -> Place:
    """Pydantic's location, cut to what exists in the tables (unions add parts of their own)."""
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
            return Problem(subject, f"a table {header}", "none", f"Add {header} with its keys.")
        return Problem(subject, f"a value for '{key}'", "none", f"Add it. {CURES.get(key, '')}".strip())
    expected, found = _expected_found(error, key, value_at(tables, place))
    cure = SORTIE_START_CURE if place == ("sortie", "start") else CURES.get(key, "Correct the value.")
    return Problem(subject, expected, found, cure)


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
        context = {name: f"{part:g}" if isinstance(part, float) else part for name, part in error.get("ctx", {}).items()}
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
    """A copy of the tables without the values at `places` (keys of tables only)."""
    gone = set(places)

    def copy(value: Any, place: Place) -> Any:
        if isinstance(value, Mapping):
            return {k: copy(v, (*place, k)) for k, v in value.items() if (*place, k) not in gone}
        if isinstance(value, list | tuple):
            return [copy(part, (*place, i)) for i, part in enumerate(value)]
        return value

    return copy(tables, ())


def _repaired(tables: Mapping[str, Any], places: Iterable[Place]) -> Any:
    """The tables with wrong values taken out; a duration that is wrong or missing stands as zero."""
    keys = {_key_place(place) for place in places}
    repaired = _without(tables, keys)
    for place in keys:
        if place[-1:] == ("duration",) and isinstance(item := value_at(repaired, place[:-1]), dict):
            item["duration"] = 0
    return repaired


def _key_place(place: Place) -> Place:
    """The place of the key of a task or other table that holds `place`."""
    at = max((i for i, part in enumerate(place) if isinstance(part, int) and _is_table(place[:i])), default=0)
    return place[: at + 2]


def _is_table(place: Sequence[str | int]) -> bool:
    return place[-1:] and place[-1] in (
        "lane", "suit", "worksite", "window", "task", "contingency", "alternative", "check",
    )  # type: ignore[return-value]
