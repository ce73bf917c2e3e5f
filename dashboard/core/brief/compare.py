"""What is different between two issues of a brief: what was added, removed, moved, lengthened, or changed otherwise.

Every field of the plan file is compared, so nothing that changed is left out. A task whose start changed was moved, one whose
likely length changed was lengthened or shortened; every other field is named with its old and its new value.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from typing import Any

from dashboard.core.base.minutes import clock
from dashboard.core.brief.facts import BriefChange, ChangeKind, Issue
from dashboard.core.brief.revision import revision_of
from dashboard.core.plan.model import Plan

PARTS = ("task", "contingency", "alternative", "lane", "suit", "worksite", "route", "window", "check")
TIMES = frozenset({"start", "not_before", "leave_by", "limit", "from", "to"})
Tables = Mapping[str, Any]


def issue_of(old: Plan, new: Plan) -> Issue:
    """What is different from the last issue.

    Parameters
    ----------
    old
        The plan of the last issue.
    new
        The plan that is briefed.

    Returns
    -------
    Issue
        Its changes in the order of the plan file: the sortie, then each table, what was removed last. Empty when every value is
        the same.
    """
    before, after = (plan.model_dump(mode="json", by_alias=True) for plan in (old, new))
    changes = [*_of_entry("sortie", "", "", before["sortie"], after["sortie"])]
    for part in PARTS:
        changes += _of_part(part, _by_name(part, before[part]), _by_name(part, after[part]))
    return Issue(sortie=old.sortie.id, revision=revision_of(old), changes=changes)


def _by_name(part: str, rows: list[Tables]) -> dict[str, Tables]:
    """The entries of a table by their id; windows, which have none, by their kind and number, routes by their ends."""
    found: dict[str, Tables] = {}
    for row in rows:
        if part == "window":
            name = f"{row['kind']} {1 + sum(other['kind'] == row['kind'] for other in found.values())}"
        else:
            name = f"{row['from']} to {row['to']}" if part == "route" else row["id"]
        found[name] = row
    return found


def _of_part(part: str, before: Mapping[str, Tables], after: Mapping[str, Tables]) -> Iterator[BriefChange]:
    for name, row in after.items():
        if name not in before:
            yield BriefChange(kind="added", part=part, name=name, title=_title(row))
        else:
            yield from _of_entry(part, name, _title(row), before[name], row)
    for name, row in before.items():
        if name not in after:
            yield BriefChange(kind="removed", part=part, name=name, title=_title(row))


def _title(row: Tables) -> str:
    return str(row.get("title") or row.get("trigger") or "")


def _of_entry(part: str, name: str, title: str, before: Tables, after: Tables) -> Iterator[BriefChange]:
    for field in after:
        old, new = before.get(field), after[field]
        if old == new:
            continue
        if part == "contingency" and field == "task":
            yield from _of_part(part, *({f"{name} {row['id']}": row for row in rows} for rows in (old or [], new)))
            continue
        if isinstance(old, dict) and isinstance(new, dict) and field != "duration":
            keys = [*new, *(key for key in old if key not in new)]
            inner = [{f"{field}.{key}": one.get(key) for key in keys} for one in (old, new)]
            yield from _of_entry(part, name, title, *inner)
            continue
        yield BriefChange(
            kind=_kind(part, field, old, new), part=part, name=name, title=title, field=field, before=_said(field, old),
            after=_said(field, new),
        )  # fmt: skip


def _kind(part: str, field: str, old: Any, new: Any) -> ChangeKind:
    if part == "task" and field == "start" and old is not None and new is not None:
        return "moved"
    if field == "duration" and old["likely"] != new["likely"]:
        return "lengthened" if new["likely"] > old["likely"] else "shortened"
    return "changed"


def _said(field: str, value: Any) -> str:
    """A value as the plan file could write it; empty when it is not given."""
    if value is None or value in ("", [], {}):
        return ""
    if field in TIMES and isinstance(value, int | float):
        return f"PET {clock(value, 'nearest')}"
    if field == "duration":
        parts = [f"{value[key]:g}" for key in ("low", "likely", "high")]
        return f"{parts[1]} min" if len(set(parts)) == 1 else f"{' / '.join(parts)} min"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:g}"
    if isinstance(value, list) and all(isinstance(one, str) for one in value):
        return " ".join(value)
    return value if isinstance(value, str) else json.dumps(value, ensure_ascii=False)
