"""The reasons of a desk for its numbers: made on request, one at a time, and at most once per version."""

from __future__ import annotations

import asyncio
from collections.abc import Sequence

from dashboard.core.events.event import Event
from dashboard.core.plan.model import Plan
from dashboard.core.state.history import drift
from dashboard.core.state.model import SortieState
from dashboard.markup import NOTHING, Markup
from dashboard.screens.why import why_html
from dashboard.service.answers.asked import answer_of
from dashboard.service.beside.worker import Note
from dashboard.service.desk import Desk, Snapshot


class Reasons:
    """Makes the reasons, and keeps those of the newest version that was asked for."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._one_at_a_time = asyncio.Lock()
        self._kept: tuple[int, Markup] = (0, NOTHING)

    async def html(self, snapshot: Snapshot, state: SortieState) -> Markup:
        """The reasons of a version. Requests that come while they are made wait here, and block no thread.

        Parameters
        ----------
        snapshot
            The version.
        state
            Its state.

        Returns
        -------
        Markup
            The reasons of this version, or of a newer one made meanwhile.

        Raises
        ------
        InputError
            When they cannot be made in time (`answer_of`).
        """
        async with self._one_at_a_time:
            if self._kept[0] < snapshot.version:
                made = await asyncio.to_thread(answer_of, self._desk, "why these numbers", why_job, state.now, state)
                self._kept = snapshot.version, made
            return self._kept[1]


def why_job(plan: Plan, events: Sequence[Event], note: Note, state: SortieState) -> Markup:
    """Make the reasons of a state, in the process beside.

    Parameters
    ----------
    plan
        The briefed plan.
    events
        Those that the state was computed from.
    note
        Not used.
    state
        The state.

    Returns
    -------
    Markup
        The content of the dialog.
    """
    return why_html(plan, state, drift(plan, events, state.now))
