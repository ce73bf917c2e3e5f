"""Everything the board shows, ready made: the browser puts pieces in their places and counts its clocks.

``html`` maps the id of an element to its content; the browser touches an element only when its content changed.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from dashboard.core.plan import Plan
from dashboard.core.sortie_state import LogEntry, SortieState
from dashboard.screens import band, choices, headline, lanes, log, offers, problems, sheet, suits, tabs


def board_snapshot(plan: Plan, state: SortieState, entries: Sequence[LogEntry]) -> dict[str, Any]:
    """The board of one state.

    Parameters
    ----------
    plan : Plan
    state : SortieState
    entries : sequence of LogEntry
        Oldest first.
    """
    return {
        "band": band.snapshot(plan, state),
        "html": {
            **headline.snapshot(plan, state),
            **lanes.snapshot(plan, state),
            **suits.snapshot(plan, state),
            **choices.snapshot(plan, state),
            **problems.snapshot(plan, state, entries),
            **tabs.snapshot(plan, state),
            **log.snapshot(plan, state, entries),
        },
        "actions": lanes.actions(state),
        "entry": offers.choices_of(plan, state),
        **sheet.snapshot(plan, state),
    }
