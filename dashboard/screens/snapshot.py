"""The snapshot of the board: everything that it shows. The browser only inserts it and counts clocks.

``html`` maps the id of an element to its content. The browser changes an element only when its content changed.
"""

from __future__ import annotations

from typing import Any

from dashboard.core.plan.model import Plan
from dashboard.core.state.log_in_words import Logbook
from dashboard.core.state.model import SortieState
from dashboard.screens import (
    announce,
    band,
    choices,
    headline,
    lanes,
    log,
    offers,
    problems,
    sheet,
    suits,
    tabs,
)


def board_snapshot(plan: Plan, state: SortieState, book: Logbook) -> dict[str, Any]:
    """The snapshot of one state.

    Parameters
    ----------
    plan : Plan
    state : SortieState
    book : Logbook

    Returns
    -------
    dict
        ``band``, ``html``, ``actions`` (of the lanes' buttons), ``entry`` (offers of the entry form), ``told`` (read
        aloud), ``sheet``, ``rail``.
    """
    return {
        "band": band.snapshot(plan, state),
        "html": {
            **headline.snapshot(plan, state),
            **lanes.snapshot(plan, state),
            **suits.snapshot(plan, state),
            **choices.snapshot(plan, state),
            **problems.snapshot(plan, state, book),
            **tabs.snapshot(plan, state),
            **log.snapshot(plan, state, book),
        },
        "actions": lanes.actions(state),
        "entry": offers.choices_of(plan, state),
        "told": announce.snapshot(plan, state),
        **sheet.snapshot(plan, state),
    }
