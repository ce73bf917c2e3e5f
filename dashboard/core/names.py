"""Whether an event names only what the plan, or an `add` event, knows."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass
from typing import Any

from dashboard.core.plan import Plan
from dashboard.core.problems import did_you_mean


@dataclass(frozen=True)
class KnownNames:
    """Every name that an event may use.

    Judged over the whole set of events: an event may name a task that an `add` event brings in later.
    """

    sortie: str
    tasks: frozenset[str]
    lanes: frozenset[str]
    suits: frozenset[str]
    contingencies: frozenset[str]
    checks: frozenset[str]
    options: dict[str, frozenset[str]]

    @classmethod
    def of(cls, plan: Plan, events: Iterable[Any] = ()) -> KnownNames:
        """The names of a plan, and of the tasks that `add` events among `events` bring in."""
        added = {event.task.id for event in events if event.kind == "add"}
        return cls(
            sortie=plan.sortie.id,
            tasks=frozenset(plan.all_tasks()) | added,
            lanes=frozenset(plan.lane_ids()),
            suits=frozenset(suit.id for suit in plan.suits),
            contingencies=frozenset(contingency.id for contingency in plan.contingencies),
            checks=frozenset(check.id for check in plan.checks),
            options={a.id: frozenset(a.options) for a in plan.alternatives},
        )

    def unknown(self, event: Any) -> str | None:
        """Why the event cannot be understood: the first name in it that is not known. None: all are known."""
        if event.sortie is not None and event.sortie != self.sortie:
            return f"expected an event of sortie '{self.sortie}'; found one of '{event.sortie}'"
        for subject, name, known in self._named(event):
            if name not in known:
                return f"expected the name of a known {subject}; found '{name}'. {did_you_mean(name, known)}"
        return None

    def _named(self, event: Any) -> Iterator[tuple[str, str, Collection[str]]]:
        if event.kind == "add":
            yield from (("lane", lane, self.lanes) for lane in event.task.lanes)
        elif isinstance(task := getattr(event, "task", None), str):
            yield "task", task, self.tasks
        yield from (("task", task, self.tasks) for task in getattr(event, "tasks", ()))
        if (lane := getattr(event, "lane", None)) is not None:
            yield "lane", lane, self.lanes
        yield from (("lane", lane, self.lanes) for lane in getattr(event, "lanes", None) or ())
        if (before := getattr(event, "before", None)) is not None:
            yield "task", before, self.tasks
        if event.kind == "reading":
            yield "suit", event.suit, self.suits
        elif event.kind == "insert":
            yield "contingency", event.contingency, self.contingencies
        elif event.kind == "check":
            yield "check", event.check, self.checks
        elif event.kind == "choose":
            yield "alternative", event.alternative, self.options.keys()
            yield f"option of '{event.alternative}'", event.option, self.options[event.alternative]
        elif event.kind == "decision":
            yield from (("task", task, self.tasks) for task in (*event.defer, *event.trim))
