"""The difference between two states of the tasks of a plan file, in words, and both changes of two editors put together.

A task is known by its name. A task whose name alone is different was renamed.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from difflib import SequenceMatcher
from typing import Any, Literal, NamedTuple

from dashboard.log.plan_rows import Row, cell_value, known_names
from dashboard.log.plan_sheet_columns import COLUMNS, CONTINGENCY

Kind = Literal["added", "removed", "renamed", "changed", "moved"]
Key = tuple[str, int]  # the name of a task, and how often it came before


class Difference(NamedTuple):
    """One difference: its kind, the name of the task, and the whole of it in words."""

    kind: Kind
    task: str
    words: str


class Merged(NamedTuple):
    """Rows with the changes of two editors, and in words the cells that both had changed differently."""

    rows: list[dict[str, str]]
    both: list[str]


def difference(before: Sequence[Row], after: Sequence[Row], tables: Mapping[str, Any]) -> list[Difference]:
    """Find what was added, removed, renamed, changed and moved.

    Parameters
    ----------
    before, after
        The rows of `dashboard.log.plan_rows.rows_of`, or such rows edited.
    tables
        The other tables of the plan file.

    Returns
    -------
    list of Difference
        In the order of `after`; tasks that are gone come first. Two texts that mean the same are no difference.
    """
    known = known_names([*before, *after], tables)
    old, new = _keyed(before), _keyed(after)
    renamed = _renamed(old, new, known)
    gone = [key for key in old if key not in new and key not in renamed.values()]
    found = [Difference("removed", key[0], f"{_named(old[key])} was removed.") for key in gone]
    moved = _moved([key for key in old if key not in gone], [renamed.get(key, key) for key in new])
    ahead = ""
    for key, row in new.items():
        was = renamed.get(key, key)
        if was not in old:
            found.append(Difference("added", key[0], f"{_named(row)} was added: {_filled(row)}."))
        elif key in renamed:
            found.append(Difference("renamed", key[0], f"Task {was[0]} is now called {key[0]}."))
        elif changes := [*_changes(old[was], row, known)]:
            found.append(Difference("changed", key[0], f"{_named(row)}: {'; '.join(changes)}."))
        if was in moved:
            place = f"now stands after {ahead}" if ahead else "now stands first"
            found.append(Difference("moved", key[0], f"{_named(row)} {place}."))
        ahead = key[0]
    return found


def merged(base: Sequence[Row], theirs: Sequence[Row], mine: Sequence[Row], tables: Mapping[str, Any]) -> Merged:
    """Put the changes of one editor on the rows of another who saved first.

    Parameters
    ----------
    base
        The rows from which both started.
    theirs
        The rows of the file now.
    mine
        The rows of the editor who saves second.
    tables
        The other tables of the plan file.

    Returns
    -------
    Merged
        `theirs` with every cell that `mine` changed, without the tasks that `mine` removed, and with those that it added. Where
        both changed a cell, or one removed what the other changed, `mine` counts, and `both` says so. The order is that of
        `theirs`.
    """
    known = known_names([*base, *theirs, *mine], tables)
    start, one, other = _keyed(base), _keyed(theirs), _keyed(mine)
    rows: list[dict[str, str]] = []
    both: list[str] = []
    for key, row in one.items():
        if key not in start:
            if key in other and _differ(row, other[key], known):
                both.append(f"Both added a task {key[0]}. Yours counts.")
            rows.append({**row, **other.get(key, {})})
        elif key in other:
            mine_changed = _differ(start[key], other[key], known)
            clashes = [
                column for column in mine_changed
                if column in _differ(start[key], row, known) and column in _differ(row, other[key], known)
            ]
            both += [_clash(key, column, row, other[key]) for column in clashes]
            rows.append({**row, **{column: other[key].get(column, "") for column in mine_changed}})
        elif _differ(start[key], row, known):
            both.append(f"You removed task {key[0]}, which the file has changed meanwhile. It is removed.")
    ahead: Key | None = None
    places = [_name(row) for row in rows]
    for key, row in other.items():
        if key not in one and (key not in start or _differ(start[key], row, known)):
            if key in start:
                both.append(f"You changed task {key[0]}, which the file has no more. It is kept.")
            at = places.index(ahead[0]) + 1 if ahead is not None and ahead[0] in places else len(rows)
            rows.insert(at, {**row})
            places.insert(at, _name(row))
        ahead = key
    return Merged(rows, both)


def _clash(key: Key, column: str, theirs: Row, mine: Row) -> str:
    return (
        f"Both changed '{column}' of task {key[0]}: the file has {_shown(theirs.get(column, ''))}, "
        f"you have {_shown(mine.get(column, ''))}. Yours counts."
    )


def _name(row: Row) -> str:
    return row.get("id", "").strip()


def _named(row: Row) -> str:
    title = row.get("title", "").strip()
    return f"Task {_name(row) or 'without a name'}{f' ({title})' if title else ''}"


def _shown(cell: str) -> str:
    return f"'{cell.strip()}'" if cell.strip() else "nothing"


def _filled(row: Row) -> str:
    filled = [column for column in COLUMNS if column not in ("id", "title") and row.get(column, "").strip()]
    cells = [f"{column} {_shown(row[column])}" for column in filled]
    return ", ".join(cells) or "no cell is filled"


def _keyed(rows: Sequence[Row]) -> dict[Key, Row]:
    seen: Counter[str] = Counter()
    found: dict[Key, Row] = {}
    for row in rows:
        found[_name(row), seen[_name(row)]] = row
        seen[_name(row)] += 1
    return found


def _differ(one: Row, other: Row, known: set[str]) -> list[str]:
    """The columns whose cells mean something else in two rows."""
    return [
        column for column in COLUMNS
        if one.get(column, "").strip() != other.get(column, "").strip()
        and cell_value(column, one.get(column, ""), known) != cell_value(column, other.get(column, ""), known)
    ]


def _changes(old: Row, new: Row, known: set[str]) -> Iterator[str]:
    for column in _differ(old, new, known):
        if column == CONTINGENCY:
            places = [f"contingency {row[column]}" if row.get(column, "").strip() else "the plan" for row in (old, new)]
            yield f"from {places[0]} to {places[1]}"
        else:
            yield f"{column} from {_shown(old.get(column, ''))} to {_shown(new.get(column, ''))}"


def _renamed(old: Mapping[Key, Row], new: Mapping[Key, Row], known: set[str]) -> dict[Key, Key]:
    """New name -> old name, for the tasks of which nothing but the name is different."""
    gone = [key for key in old if key not in new]
    found: dict[Key, Key] = {}
    for key, row in new.items():
        if key in old:
            continue
        twin = next((was for was in gone if was not in found.values() and _differ(old[was], row, known) == ["id"]), None)
        if twin is not None:
            found[key] = twin
    return found


def _moved(before: list[Key], after: list[Key]) -> set[Key]:
    """The tasks in both whose place among the others is different."""
    both = set(before) & set(after)
    one, other = [key for key in before if key in both], [key for key in after if key in both]
    stay: set[Key] = set()
    for block in SequenceMatcher(None, one, other, autojunk=False).get_matching_blocks():
        stay |= set(one[block.a : block.a + block.size])
    return both - stay
