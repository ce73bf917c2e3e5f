"""Everything that advice could give up of a record: the least that can remain of the sortie."""

from __future__ import annotations

from dashboard.core.deferral.items import deferral_of
from dashboard.core.deferral.search import FEW_LENGTHS, Search
from dashboard.core.events.change import Change
from dashboard.core.record.record import Record
from dashboard.core.schedule.plan_pace import Projection
from dashboard.core.suits.budget import budgets


def all_that_may_go(record: Record, projection: Projection) -> Change:
    """All that the rules of the plan let go, trims included, with the options in force.

    Parameters
    ----------
    record
        From `reconcile`.
    projection
        Of the record, at plan pace.

    Returns
    -------
    Change
    """
    limit = record.plan.sortie.limit_less_reserve_pet_min
    problem = deferral_of(record, projection, budgets(record, projection), limit)

    def not_asked(change: Change) -> bool:
        raise AssertionError("nothing is drawn to give up everything")

    return Search(problem, {}, not_asked, not_asked, not_asked, lambda change: 0.0, most_trims=FEW_LENGTHS).everything()
