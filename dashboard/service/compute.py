"""The work of one cycle: from events to the state, and from the state to the content of the board."""

from __future__ import annotations

import logging
import time
from collections.abc import Sequence
from datetime import datetime
from typing import Any, NamedTuple

from dashboard.core.base.findings import Unread
from dashboard.core.events.event import Event
from dashboard.core.plan.model import Plan
from dashboard.core.record.fold import reconcile
from dashboard.core.record.kept import KeptFold
from dashboard.core.record.record import Record
from dashboard.core.state.alert_onset import Looked, with_since
from dashboard.core.state.follow import state_of
from dashboard.core.state.log_in_words import Logbook
from dashboard.core.state.model import SortieState
from dashboard.screens.snapshot import board_snapshot
from dashboard.service.adviser import Adviser
from dashboard.service.session.clock import Mode

LONG_LOG = 2000  # the first view of a longer log comes without the times at which the alerts began
LOOKING_S = 0.03  # of a cycle, for these times: a person waits for it; what is not found by then is looked for in the next ones

log = logging.getLogger("tetherline")


class View(NamedTuple):
    """The state at one instant, and its board as plain values."""

    state: SortieState
    board: dict[str, Any]


def compute_view(
    plan: Plan,
    events: Sequence[Event],
    unread: Sequence[Unread],
    now: datetime,
    mode: Mode,
) -> View:
    """Compute the state of the sortie at an instant, and its board.

    Parameters
    ----------
    plan
        The briefed plan.
    events
        Events that count; those after `now` do not count yet.
    unread
        Lines that could not be understood.
    now
        The moment of the cycle; aware.
    mode
        Live, replay or paused, to be shown.

    Returns
    -------
    View
        The state and its board, without the choices that an `Adviser` adds.
    """
    record = reconcile(plan, events, now)
    return _view_of(record, state_of(record, now, unread=unread, mode=mode), events, now)


class KeptView:
    """Computes a view as `compute_view` does, and keeps the fold of the log from one call to the next."""

    def __init__(self) -> None:
        self._fold: KeptFold | None = None

    def fold(self, plan: Plan) -> KeptFold:
        """The fold of the log.

        Parameters
        ----------
        plan
            The briefed plan, the same in all calls.

        Returns
        -------
        KeptFold
        """
        if self._fold is None:
            self._fold = KeptFold(plan)
        return self._fold

    def __call__(
        self, plan: Plan, events: Sequence[Event], unread: Sequence[Unread], now: datetime, mode: Mode
    ) -> View:
        """The state of the sortie at `now`, and its board."""
        record = self.fold(plan).reconcile(events, now)
        return _view_of(record, state_of(record, now, unread=unread, mode=mode), events, now)


class AdvisedCompute:
    """Computes a view as `compute_view` does, and adds the advice of an `Adviser` and the times since when the alerts stand.

    Parameters
    ----------
    adviser
        Keeps the advice; None: a new one.
    """

    def __init__(self, adviser: Adviser | None = None) -> None:
        self.adviser = adviser or Adviser()
        self._kept = KeptView()
        self._is_first = True
        self._looked: Looked | None = None

    def close(self) -> None:
        """Stop making advice."""
        self.adviser.close()

    def __call__(
        self, plan: Plan, events: Sequence[Event], unread: Sequence[Unread], now: datetime, mode: Mode
    ) -> View:
        """The state of the sortie at `now` with the advice that stands, and its board."""
        fold = self._kept.fold(plan)
        record = fold.reconcile(events, now)
        state = state_of(record, now, unread=unread, mode=mode)
        try:
            if not self._is_first or len(events) <= LONG_LOG:
                until_s = time.monotonic() + LOOKING_S
                state, self._looked = with_since(
                    plan, events, state, self._looked, fold.record_at, lambda: time.monotonic() > until_s
                )
        except Exception:  # the board goes on without the times at which the alerts began
            log.exception("The times at which the alerts began could not be found")
        self._is_first = False
        return _view_of(record, self.adviser.attached(plan, events, state, fold.reconcile), events, now)


def _view_of(record: Record, state: SortieState, events: Sequence[Event], now: datetime) -> View:
    """A state and its board. The record is used for both, so that the events are folded once."""
    return View(state, board_snapshot(record.plan, state, Logbook(record, events, now)))
