"""Legs in the schedule: which go along with work that is given up, and what those that stay take.

The rules stand in `dashboard.core.record.legs`, since a leg that nothing is left for is out of the plan of record like
deferred work. So `Record.out_because`, `with_change` and `closed` have the legs already, and the projection, what-if and
the validator need nothing more. `goes_along` is for a search that tries many sets of tasks on one record, without a changed
copy of the record for each: it gives the legs (and the work that has no other way) to be given up with a set. `leg_durations`
gives the lengths that then differ from the brief.
"""

from __future__ import annotations

from collections.abc import Collection

from dashboard.core.plan.model import Duration
from dashboard.core.record.legs import Ways, legs_that_go, ways_of, work_without_way
from dashboard.core.record.record import Record


def has_legs(record: Record) -> bool:
    """Whether any task of the record is a leg; without one no rule about legs applies.

    Parameters
    ----------
    record
        Inserted and added tasks count.

    Returns
    -------
    bool
        False for a plan whose tasks hold the ways between them.
    """
    return any(run.task.leg is not None for run in record.runs.values())


def goes_along(record: Record, given_up: Collection[str]) -> frozenset[str]:
    """What goes when a set of tasks is given up, by the rules about legs.

    What comes `after` a task, and the senses of a plan (`together`, `obliges`, `serves`), are not followed here: name those
    tasks in `given_up`. Legs that are required, begun or reinstated never go.

    Parameters
    ----------
    record
        Without the change.
    given_up
        Tasks that have not begun.

    Returns
    -------
    frozenset of str
        Legs that nothing is left for then, and work whose own leg is given up and that no route leads to; without the tasks
        of `given_up` and those that are out of the plan of record anyway.
    """
    out = {*record.out_because, *given_up}
    found: set[str] = set()
    while more := work_without_way(record, {*out, *found}):
        found.update(more)
    found.update(legs_that_go(record, {*out, *found}))
    return frozenset(found)


def leg_durations(record: Record, given_up: Collection[str] = ()) -> dict[str, Duration]:
    """Legs that start from elsewhere than briefed, with the durations that they then have.

    Parameters
    ----------
    record
        Its plan of record counts.
    given_up
        Tasks that are given up besides, with all that goes along.

    Returns
    -------
    dict of str to Duration
        The route's, or that of the longest leg skipped; zero for a leg to where its lanes are.
    """
    return ways_of(record, {*record.out_because, *given_up}).durations


__all__ = ["Ways", "goes_along", "has_legs", "leg_durations", "ways_of"]
