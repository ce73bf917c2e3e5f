"""The state with its call, where no adviser works beside it: the command line and the reports."""

from __future__ import annotations

from dashboard.core.deferral.advise import call_now
from dashboard.core.deferral.call import Call
from dashboard.core.deferral.to_advice_model import call_fields
from dashboard.core.record.record import Record
from dashboard.core.schedule.expected import DRAWS
from dashboard.core.state.model import SortieState


def with_call(state: SortieState, record: Record, previous: Call | None = None, draws: int = DRAWS) -> SortieState:
    """The state with the call in its advice.

    Parameters
    ----------
    state
        Of the record, with or without a call.
    record
        From `reconcile`, at the instant of the state.
    previous
        The call before this one; None: none is known.
    draws
        Number of draws, above 0.

    Returns
    -------
    SortieState
        The state itself while PET zero is in doubt or the sortie is over: nobody is called then.
    """
    if record.pet_zero_doubt is not None or record.end_pet_min is not None:
        return state
    called = call_fields(call_now(record, previous=previous, draws=draws))
    return state.model_copy(update={"advice": state.advice.model_copy(update=called)})
