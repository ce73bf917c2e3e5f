"""Whether an event names only what the plan, or an `add` event, knows."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any

from dashboard.core.base.problems import did_you_mean
from dashboard.core.plan.model import Plan

MOST_SHOWN = 3


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
    alternatives: dict[str, frozenset[str]]

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
            alternatives={a.id: frozenset(a.options) for a in plan.alternatives},
        )

    def unknown(self, event: Any) -> str | None:
        """Why the event cannot be understood: the first name in it that is not known. None: all are known."""
        if event.sortie is not None and event.sortie != self.sortie:
            return f"expected an event of sortie '{self.sortie}'; found one of '{event.sortie}'"
        for subject, pick in _NAMED.get(event.kind, ()):
            known = getattr(self, subject)
            for name in pick(event):
                if name is not None and name not in known:
                    what = subject.removesuffix("s") if subject != "contingencies" else "contingency"
                    return f"expected the name of a known {what}; found '{name}'. {did_you_mean(name, known)}"
        if event.kind == "choose" and event.option not in self.alternatives[event.alternative]:
            options = self.alternatives[event.alternative]
            return (
                f"expected an option of '{event.alternative}'; found '{event.option}'. "
                f"{did_you_mean(event.option, options)}"
            )
        return None


def of_another_plan(plan: Plan, events: Iterable[Any]) -> str | None:
    """Why a log plainly belongs to another plan: most tasks that it names are unknown. None: nothing says so."""
    events = list(events)
    named = {
        name for event in events for subject, pick in _NAMED.get(event.kind, ()) if subject == "tasks"
        for name in pick(event) if name is not None
    }
    strange = sorted(named - KnownNames.of(plan, events).tasks)
    if 2 * len(strange) <= len(named):
        return None
    shown = ", ".join(strange[:MOST_SHOWN]) + (", ..." if len(strange) > MOST_SHOWN else "")
    return f"one that names {len(named)} tasks, {len(strange)} of which are not in the plan ({shown})"


_Picks = tuple[tuple[str, Callable[[Any], Iterable[str | None]]], ...]
_TASK: _Picks = (("tasks", lambda e: (e.task,)),)
_TASKS: _Picks = (("tasks", lambda e: e.tasks),)
_SCOPED: _Picks = (("tasks", lambda e: (e.task,)), ("lanes", lambda e: (e.lane,)))

_NAMED: dict[str, _Picks] = {
    "start": (*_TASK, ("lanes", lambda e: e.lanes or ())),
    "done": _TASK,
    "break_off": _TASK,
    "estimate": _TASK,
    "trim": _TASK,
    "hold": _SCOPED,
    "resume": _SCOPED,
    "defer": _TASKS,
    "reinstate": _TASKS,
    "insert": (("contingencies", lambda e: (e.contingency,)),),
    "choose": (("alternatives", lambda e: (e.alternative,)),),
    "add": (("lanes", lambda e: e.task.lanes), ("tasks", lambda e: (e.before,))),
    "move": (("tasks", lambda e: (e.task, e.before)), ("lanes", lambda e: (e.lane,))),
    "reading": (("suits", lambda e: (e.suit,)),),
    "check": (("checks", lambda e: (e.check,)), ("lanes", lambda e: (e.lane,))),
    "decision": (("tasks", lambda e: (*e.defer, *e.trim)),),
}
