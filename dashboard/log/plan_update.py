"""Changes the text of a plan file so that it holds another plan, and keeps its comments, its order of keys and its spacing.

1. The text is split at its headers. An entry is its header with everything below it; the comment lines directly above a header
   belong to its entry. An entry whose values did not change keeps its text to the last character.
2. In an entry that changed, only the keys that changed are written again. The comment behind such a key stays.
3. New entries stand where the plan has them. The comment directly above an entry that is gone goes with it; a comment with a
   blank line below it stays.
4. A text that is written in another way, for instance with its tasks as one list of inline tables, is not changed.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

import tomlkit
import tomlkit.exceptions
from pydantic import BaseModel, ValidationError

from dashboard.core.plan.fields import value_at
from dashboard.core.plan.model import Contingency, Plan, Sortie
from dashboard.log.plantext import entry_text, item_table
from dashboard.log.toml_lines import Place, line_numbers

_HEADER = re.compile(r"^[ \t]*\[")
_REST = re.compile(r"^[ \t]*(?:#.*)?$")


class Changed(NamedTuple):
    """A changed text, and how many lines of comments of the old one it no longer has."""

    text: str
    comments_gone: int


@dataclass
class _Entry:
    """An entry of a table as text: its place, what stands above it without belonging to it, its comment, and its body."""

    place: Place
    above: str
    comment: str
    body: str


def changed_plan_text(text: str, plan: Plan) -> Changed | None:
    """Change the text of a plan file so that it holds a plan.

    Parameters
    ----------
    text
        The text of a plan file.
    plan
        What the text is to hold.

    Returns
    -------
    Changed or None
        None when the text cannot be read as a plan, or is written in a way in which it cannot be changed piece by piece.
    """
    lines = "\r\n" if "\r\n" in text else "\n"
    plain = text.replace("\r\n", "\n")
    try:
        tables = tomlkit.parse(plain).unwrap()
        old = _plan_of(tables)
        made = _changed(plain, tables, old, plan)
        if made is None or Plan.model_validate(tomlkit.parse(made).unwrap()) != plan:
            return None
    except (tomlkit.exceptions.TOMLKitError, ValidationError, KeyError, RecursionError):
        return None
    return Changed(made.replace("\n", lines), max(0, comment_lines(plain) - comment_lines(made)))


def _plan_of(tables: dict[str, Any]) -> Plan:
    """The plan in the tables, which may have no task: then its tasks stand in a sheet."""
    if tables.get("task"):
        return Plan.model_validate(tables)
    stand_in = {"id": "?", "lanes": ["?"], "duration": 0}
    return Plan.model_validate({**tables, "task": [stand_in]}).model_copy(update={"tasks": ()})


def comment_lines(text: str) -> int:
    """Count the lines of a TOML text that have a comment; strings over several lines may be counted too.

    Parameters
    ----------
    text
        The text.

    Returns
    -------
    int
        Whole lines, and ends of lines.
    """
    return sum(bool(re.match(r"^\s*#|^(?:[^\"'#]|\"(?:[^\"\\]|\\.)*\"|'[^']*')*#", line)) for line in text.split("\n"))


def without_tasks(text: str) -> str | None:
    """Take the tasks out of the text of a plan file, those of its contingencies too.

    Parameters
    ----------
    text
        The text of a plan file.

    Returns
    -------
    str or None
        The other tables with their comments, without those above a task; None when the text is written in a way in which this
        is not possible.
    """
    plain = text.replace("\r\n", "\n")
    try:
        tables = tomlkit.parse(plain).unwrap()
        preamble, entries = _entries(plain, tables, _top)
        if entries is None:
            return None
        kept = [preamble]
        for entry in entries:
            if entry.place[0] == "task":
                continue
            own, steps = _entries(entry.body, tables, _step_of(entry.place), entry.place)
            kept.append(entry.above + entry.comment + (entry.body if steps is None else own))
        made = "".join(kept)
        wanted = {key: value for key, value in tables.items() if key != "task"}
        for one in wanted.get("contingency", []):
            one.pop("task", None)
        return made if tomlkit.parse(made).unwrap() == wanted else None
    except (tomlkit.exceptions.TOMLKitError, AttributeError):
        return None


# --- pieces of the text ---------------------------------------------------------------------------


def _top(place: Place) -> Place:
    """The entry to which a header belongs."""
    return place[:2] if len(place) > 1 and isinstance(place[1], int) else place[:1]


def _step_of(contingency: Place) -> Callable[[Place], Place]:
    return lambda place: place[: len(contingency) + 2] if place[len(contingency) :][:1] == ("task",) else contingency


def _entries(
    text: str, tables: Mapping[str, Any], entry_of: Callable[[Place], Place], inside: Place = ()
) -> tuple[str, list[_Entry] | None]:
    """What stands before the first entry, and the entries; None when keys stand before it that are entries themselves.

    `inside` is the place of the table that the text is a piece of: what belongs to that table itself counts as before.
    """
    lines = text.split("\n")
    headers: list[tuple[int, Place]] = []
    for place, line in sorted(_places(text, inside).items(), key=lambda pair: (pair[1], -len(pair[0]))):
        is_table = isinstance(value_at(tables, place), Mapping)
        if is_table and _HEADER.match(lines[line - 1]) and (not headers or headers[-1][0] != line - 1):
            headers.append((line - 1, place))
    starts: list[tuple[int, Place]] = []
    for line, place in headers:
        entry = entry_of(place)
        if entry != inside and (not starts or starts[-1][1] != entry):
            starts.append((line, entry))
    begin = starts[0][0] if starts else len(lines)
    if not inside and any(line <= begin for line in line_numbers("\n".join(lines[:begin])).values()):
        return text, None
    if not starts:
        return text, None
    tops = [_first_of_lead(lines, line) for line, _ in starts]
    entries = []
    for at, (line, place) in enumerate(starts):
        end = tops[at + 1] if at + 1 < len(starts) else len(lines)
        lead = lines[tops[at] : line]
        own = next((back for back in range(len(lead), 0, -1) if not lead[back - 1].strip()), 0)
        body = "\n".join(lines[line:end]) + ("\n" if end < len(lines) else "")
        entries.append(_Entry(place, _joined(lead[:own]), _joined(lead[own:]), body))
    return _joined(lines[: tops[0]]), entries


def _places(text: str, inside: Place) -> dict[Place, int]:
    """The lines of a piece of the text. The piece has one entry of the table that it is inside, which counts as the first."""
    found = line_numbers(text)
    if not inside:
        return found
    return {(*inside, *place[2:]): line for place, line in found.items() if place[:2] == (inside[0], 0)}


def _first_of_lead(lines: Sequence[str], header: int) -> int:
    """The first of the blank lines and comments above a header."""
    at = header
    while at > 0 and _REST.match(lines[at - 1]):
        at -= 1
    return at


def _joined(lines: Sequence[str]) -> str:
    return "".join(f"{line}\n" for line in lines)


def _with_comment(above: str) -> str:
    """What stands above an entry that is gone, if it holds a comment."""
    return above if "#" in above else ""


# --- changing it ----------------------------------------------------------------------------------


def _changed(text: str, tables: Mapping[str, Any], old: Plan, new: Plan) -> str | None:
    preamble, entries = _entries(text, tables, _top)
    if entries is None:
        return None
    made: dict[str, Iterator[str]] = {}
    last: dict[str, int] = {}
    for name in [field.alias or key for key, field in Plan.model_fields.items()]:
        own = [entry for entry in entries if entry.place[0] == name]
        if own:
            last[name] = max(at for at, entry in enumerate(entries) if entry.place[0] == name)
        texts = {key: (entry, was) for entry, (key, was) in zip(own, _keyed(_items(old, name)), strict=True)}
        wanted = dict(_keyed(_items(new, name)))
        _keep_section_comments([entry for key, (entry, _) in texts.items()], [key in wanted for key in texts])
        made[name] = iter([_entry_text(name, texts.get(key), item, tables) for key, item in wanted.items()])
    out = [preamble]
    for at, entry in enumerate(entries):
        name = str(entry.place[0])
        out += [following for following in [next(made[name], None)] if following is not None]
        if last[name] == at:
            out += made[name]
    out += [more for rest in made.values() for more in rest]
    return "".join(part if part.endswith("\n") or not part else f"{part}\n" for part in out[:-1]) + out[-1]


def _keep_section_comments(entries: Sequence[_Entry], stays: Sequence[bool]) -> None:
    """Give the comments that stand above an entry that goes, without belonging to it, to the next entry that stays."""
    waiting = ""
    for entry, kept in zip(entries, stays, strict=True):
        if kept:
            entry.above, waiting = waiting + entry.above, ""
        else:
            waiting += _with_comment(entry.above)


def _items(plan: Plan, name: str) -> tuple[BaseModel, ...]:
    field = next(key for key, one in Plan.model_fields.items() if (one.alias or key) == name)
    value = getattr(plan, field)
    return value if isinstance(value, tuple) else (value,)


def _keyed(items: Iterable[BaseModel]) -> Iterator[tuple[tuple[Any, ...], BaseModel]]:
    """The items with a key each: their id, or what else tells them apart, and how often it came before."""
    seen: Counter[Any] = Counter()
    for item in items:
        ends = frozenset((getattr(item, "from_", ""), getattr(item, "to", "")))
        name = "" if isinstance(item, Sortie) else getattr(item, "id", None) or getattr(item, "kind", None) or ends
        yield (name, seen[name]), item
        seen[name] += 1


def _entry_text(name: str, was: tuple[_Entry, BaseModel] | None, item: BaseModel, tables: Mapping[str, Any]) -> str:
    """The text of an item: the old one where there is one, changed where it differs."""
    if was is None:
        return f"\n{entry_text(name, item)}"
    entry, old = was
    lead = entry.above + entry.comment
    if old == item:
        return lead + entry.body
    if isinstance(item, Contingency) and isinstance(old, Contingency):
        return lead + _contingency_text(entry, old, item, tables)
    return lead + _body(entry.body, (name,), item_table(old), item_table(item))


def _contingency_text(entry: _Entry, old: Contingency, new: Contingency, tables: Mapping[str, Any]) -> str:
    own, steps = _entries(entry.body, tables, _step_of(entry.place), entry.place)
    if steps is None and old.tasks:
        raise KeyError("its tasks are not tables of their own")
    was, wanted = item_table(old), item_table(new)
    was.pop("task", None)
    wanted.pop("task", None)
    texts = {key: (step, task) for step, (key, task) in zip(steps or [], _keyed(old.tasks), strict=True)}
    out = [_body(own, ("contingency",), was, wanted)]
    for key, task in _keyed(new.tasks):
        if key not in texts:
            out.append(entry_text("task", task).replace("[[task]]", "[[contingency.task]]", 1))
            continue
        step, before = texts[key]
        body = step.body if before == task else _body(step.body, ("contingency", "task"), item_table(before), item_table(task))
        out.append(step.above + step.comment + body)
    return "".join(part if part.endswith("\n") else f"{part}\n" for part in out)


def _body(text: str, path: tuple[str, ...], was: Mapping[str, Any], wanted: Mapping[str, Any]) -> str:
    """The text of an entry with only those keys written again that changed."""
    document = tomlkit.parse(text)
    table: Any = document
    for name in path:
        table = table[name]
        table = table[0] if isinstance(table, list) else table
    _set(table, was, wanted)
    return tomlkit.dumps(document)


def _set(table: Any, was: Mapping[str, Any], wanted: Mapping[str, Any]) -> None:
    for key in [key for key in was if key not in wanted and key in table]:
        table.remove(key)
    for key, value in wanted.items():
        if key in was and was[key] == value and key in table:
            continue
        if isinstance(value, Mapping) and isinstance(was.get(key), Mapping) and key in table:
            _set(table[key], was[key], value)
            continue
        before = table.get(key)
        table[key] = toml_value(value)
        if before is not None and hasattr(before, "trivia"):
            table[key].trivia.comment, table[key].trivia.comment_ws = before.trivia.comment, before.trivia.comment_ws


def toml_value(value: Any) -> Any:
    """Give a value as TOML writes it on one line.

    Parameters
    ----------
    value
        A value of `item_table`.

    Returns
    -------
    Any
        A list of tables as a list of inline tables; any other value as it is.
    """
    if isinstance(value, list) and value and isinstance(value[0], Mapping):
        parts = tomlkit.array()
        for part in value:
            inline = tomlkit.inline_table()
            inline.update(part)
            parts.append(inline)
        return parts
    return value
