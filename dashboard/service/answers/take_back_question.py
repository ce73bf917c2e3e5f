"""How to take a decision back: the events to send, and the question that the board asks before it sends them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from dashboard.core.base.problems import Problem
from dashboard.core.base.times import minutes_between
from dashboard.core.events.event import Event
from dashboard.core.plan.model import Plan
from dashboard.core.record.fold import reconcile
from dashboard.core.record.take_back import reversal
from dashboard.core.state.model import SortieState
from dashboard.service.answers.asked import answer_of
from dashboard.service.beside.worker import Note
from dashboard.service.desk import Desk
from dashboard.words import pet_named


def take_back_of(desk: Desk, decision: str, state: SortieState) -> dict[str, Any]:
    """How to take a decision back.

    Parameters
    ----------
    desk
        The desk whose log is read.
    decision
        Id of the decision.
    state
        The state that the board shows.

    Returns
    -------
    dict
        `events` to send and `text`, the question; or `problems` when the log has no such decision or it no longer counts.

    Raises
    ------
    InputError
        When it cannot be found out in time (`answer_of`).
    """
    content: dict[str, Any] = answer_of(desk, "take back", take_back_job, state.now, decision, state)
    return content


def take_back_job(plan: Plan, events: Sequence[Event], note: Note, decision: str, state: SortieState) -> dict[str, Any]:
    """Find out how to take a decision back, in the process beside.

    Parameters
    ----------
    plan
        The briefed plan.
    events
        Those that the state was computed from.
    note
        Not used.
    decision
        Id of the decision.
    state
        The state that the board shows.

    Returns
    -------
    dict
        As `take_back_of` gives it.
    """
    found = reversal(reconcile(plan, events, state.now), events, decision, state.now)
    if found is None:
        cure = "Give the id of a decision in the log that was not withdrawn."
        problem = Problem("take back", "the id of a decision that counts", f"'{decision}'", cure)
        return {"problems": [problem.as_dict()]}
    named = f"the decision of {pet_named(state.pet_min - minutes_between(found.at, state.now))}"
    sent = [{**step.event, "note": f"takes back {named}"} for step in found.steps]
    does = "; ".join(step.words for step in found.steps)
    text = f"Take back {named}: {does}." if sent else f"Nothing is left to take back of {named}."
    stays = f" Not taken back: {'; '.join(found.stays)}." if found.stays else ""
    return {"events": sent, "text": text + stays}
