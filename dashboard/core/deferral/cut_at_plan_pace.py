"""A set of things to give up so that limit and reserves hold at plan pace, found at once and not proven to cost least."""

from __future__ import annotations

from dashboard.core.deferral.alternatives import options_to_try, tasks_of
from dashboard.core.deferral.change import value_lost, with_change
from dashboard.core.deferral.confidence import ConfidenceCheck
from dashboard.core.deferral.items import deferral_of
from dashboard.core.deferral.search import FEW_LENGTHS, Search
from dashboard.core.events.change import Change
from dashboard.core.record.record import Record
from dashboard.core.schedule.pace import learn_pace
from dashboard.core.schedule.plan_pace import project
from dashboard.core.suits.budget import budgets

MOST_OPTIONS = 4


def cut_at_plan_pace(record: Record) -> Change | None:
    """All that may go, with as much taken back as still fits, highest priority first; the best over the open options.

    Parameters
    ----------
    record
        From `reconcile`.

    Returns
    -------
    Change or None
        Empty when nothing needs to go; None when giving up everything is not enough.
    """
    best: tuple[tuple[object, ...], Change] | None = None
    for options in options_to_try(record, record, ())[:MOST_OPTIONS]:
        change = _under(record, options)
        if change is None:
            continue
        lost = value_lost(record, change)
        classes = sorted({run.task.priority for run in record.runs.values()})
        cost = (*(round(lost.get(one, 0.0), 6) for one in classes), change.count())
        if best is None or cost < best[0]:
            best = (cost, change)
    return best[1] if best is not None else None


def _under(record: Record, options: dict[str, str]) -> Change | None:
    """The set with these options taken."""
    base = with_change(record, Change(choose=options)) if options else record
    projection = project(base)
    plan = record.plan
    problem = deferral_of(
        base, projection, budgets(base, projection), plan.sortie.limit_less_reserve_pet_min, stay=tasks_of(plan, options)
    )
    test = ConfidenceCheck(base, projection, plan.sortie.confidence, 0, learn_pace(base))
    if test.passes(Change()):
        return Change(choose=options)
    search = Search(
        problem, options, test.passes, test.late, test.hopeless, lambda change: 0.0, most_trims=FEW_LENGTHS
    )
    found = search.filled()
    return None if found is None else found.change
