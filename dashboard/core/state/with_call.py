"""The state with its call: `called` puts in one that is known, `with_call` judges it where no adviser works beside the state."""

from __future__ import annotations

from dashboard.core.deferral.advise import call_now
from dashboard.core.deferral.call import Call
from dashboard.core.deferral.to_advice_model import call_fields
from dashboard.core.record.record import Record
from dashboard.core.schedule.expected import DRAWS
from dashboard.core.state.alerts import with_alert_of
from dashboard.core.state.model import SortieState

JUDGED_AGAIN = "The room has decided something: the call is being judged again."


def called(state: SortieState, call: Call | None) -> SortieState:
    """The state with a call in its advice, and with the alert of a call to decide.

    Parameters
    ----------
    state
        Without a call.
    call
        As last judged; None: it is not judged yet.

    Returns
    -------
    SortieState
        The state itself where nobody is called: while PET zero is in doubt, and once the sortie is over. A call from before the
        last decision is left out, and that is said.
    """
    if call is None or state.basis.pet_zero_doubt is not None or state.ended:
        return state
    if call.call != "none" and state.basis.decisions > call.decisions:
        again = state.advice.model_copy(update={"call": None, "call_why": JUDGED_AGAIN})
        return state.model_copy(update={"advice": again})
    advice = state.advice.model_copy(update=call_fields(call))
    return state.model_copy(update={"advice": advice, "alerts": with_alert_of(call, state.alerts)})


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
    return called(state, call_now(record, previous=previous, draws=draws))
