"""Whether an event names only what the plan, or an `add` event, knows."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from dashboard.core.base.problems import did_you_mean
from dashboard.core.base.wording import shortened
from dashboard.core.events.add import Add
from dashboard.core.events.event import Event, Named, NameSort
from dashboard.core.plan.model import Plan

MOST_SHOWN = 3
LONGEST_SHOWN = 100  # characters of a name that is not known


@dataclass(frozen=True)
class KnownNames:
    """Every name that an event may use: by sort, and the options of each alternative.

    Names are judged over the whole set of events: an event may name a task that an `add` event brings in later.
    """

    sortie: str
    by_sort: Mapping[NameSort, frozenset[str]]
    options: Mapping[str, frozenset[str]]

    @classmethod
    def of(cls, plan: Plan, events: Iterable[Event] = ()) -> KnownNames:
        """The names of a plan, and of the tasks that `add` events bring in.

        Parameters
        ----------
        plan
            As briefed.
        events
            In any order; only `add` events among them say something.

        Returns
        -------
        KnownNames
            Tasks of contingencies included.
        """
        added = {event.task.id for event in events if isinstance(event, Add)}
        return cls(
            sortie=plan.sortie.id,
            by_sort={
                "task": frozenset(plan.all_tasks()) | added,
                "lane": frozenset(plan.lane_ids()),
                "suit": frozenset(suit.id for suit in plan.suits),
                "contingency": frozenset(contingency.id for contingency in plan.contingencies),
                "check": frozenset(check.id for check in plan.checks),
                "alternative": frozenset(alternative.id for alternative in plan.alternatives),
            },
            options={alternative.id: frozenset(alternative.options) for alternative in plan.alternatives},
        )

    def unknown(self, event: Event) -> str | None:
        """Why the event cannot be understood: the first name in it that is not known. None: all are known.

        Parameters
        ----------
        event
            Its sortie is judged too, where it names one.

        Returns
        -------
        str or None
            What was expected and found, with the nearest known name.
        """
        if event.sortie is not None and event.sortie != self.sortie:
            return f"expected an event of sortie '{self.sortie}'; found one of '{event.sortie}'"
        for named in event.names():
            known = self.options[named.of] if named.sort == "option" else self.by_sort[named.sort]
            if named.name not in known:
                found = shortened(named.name, LONGEST_SHOWN)
                return f"expected {_what(named)}; found '{found}'. {did_you_mean(named.name, known)}"
        return None


def _what(named: Named) -> str:
    return f"an option of '{named.of}'" if named.sort == "option" else f"the name of a known {named.sort}"


def of_another_plan(plan: Plan, events: Iterable[Event]) -> str | None:
    """Why a log plainly belongs to another plan: most tasks that it names are unknown. None: nothing says so.

    Parameters
    ----------
    plan
        The plan that the log is read with.
    events
        All events of the log. A task that one of them adds is known.

    Returns
    -------
    str or None
        Words that tell what was found: ``one that names 9 tasks, 7 of which are not in the plan (...)``.
    """
    events = list(events)
    named = {one.name for event in events for one in event.names() if one.sort == "task"}
    strange = sorted(named - KnownNames.of(plan, events).by_sort["task"])
    if 2 * len(strange) <= len(named):
        return None
    shown = ", ".join(strange[:MOST_SHOWN]) + (", ..." if len(strange) > MOST_SHOWN else "")
    return f"one that names {len(named)} tasks, {len(strange)} of which are not in the plan ({shown})"
