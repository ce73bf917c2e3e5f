"""One cycle's work: from events to the state, and from the state to what the board shows."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Any, NamedTuple

from dashboard.core.logbook import log_entries
from dashboard.core.plan import Plan
from dashboard.core.sortie_state import SortieState, Unread
from dashboard.core.state import follow
from dashboard.screens.snapshot import board_snapshot
from dashboard.service.clocks import Mode


class View(NamedTuple):
    """The state at one instant, and the board of it as plain values."""

    state: SortieState
    board: dict[str, Any]


def compute_view(
    plan: Plan,
    events: Sequence[Any],
    unread: Sequence[Unread],
    now: datetime,
    mode: Mode,
) -> View:
    """The state of the sortie at `now`, and its board."""
    state = follow(plan, events, now, unread=unread, mode=mode)
    return View(state, board_snapshot(plan, state, log_entries(plan, events, now)))
