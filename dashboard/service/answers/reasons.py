"""The reasons of a desk for its numbers: made on request, one at a time, and at most once per version."""

from __future__ import annotations

import asyncio

from dashboard.core.state.history import drift
from dashboard.core.state.model import SortieState
from dashboard.markup import NOTHING, Markup
from dashboard.screens.why import why_html
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
        """
        async with self._one_at_a_time:
            if self._kept[0] < snapshot.version:
                self._kept = snapshot.version, await asyncio.to_thread(self._made, state)
            return self._kept[1]

    def _made(self, state: SortieState) -> Markup:
        events = self._desk.known_at(state.now).events
        return why_html(self._desk.plan, state, drift(self._desk.plan, events, state.now))
