"""Keys of the board: each presses a button of the page. ``assets/board/keys.js`` has no key of its own."""

from __future__ import annotations

from typing import Any

from dashboard.core.plan.model import Plan
from dashboard.screens.ids import Act, Choices, Find, Help, LanePart, Log, Sheet, Why

# Key: the button that it presses, and what that does.
KEYS: dict[str, tuple[str, str]] = {
    "?": (Help.OPEN, "keys, signs and settings"),
    "/": (Find.OPEN, "find a task"),
    "l": (Log.ENTER, "enter an event"),
    "n": (Log.ADD_NOTE, "write a note; Enter records it"),
    "p": (Choices.PLAN, "change the plan"),
    "w": (Choices.TO_WHAT_IF, "what-if, and back to the choices"),
    "y": (Why.OPEN, "why these numbers"),
    "f": (Sheet.BACK, "follow now"),
    "[": (Sheet.EARLIER, "show earlier"),
    "]": (Sheet.LATER, "show later"),
    "+": (Sheet.CLOSER, "show less time, larger"),
    "-": (Sheet.WIDER, "show more time, smaller"),
}
# Key after the number of a lane: the button of the card that it presses, and what that does.
LANE_KEYS: dict[str, tuple[str, str]] = {
    "s": (Act.START, "start or resume what is next"),
    "d": (Act.DONE, "done"),
    "n": (Act.DONE_NEXT, "done, and start what is next"),
    "h": (Act.HOLD, "hold, or resume"),
    "t": (LanePart.AGO, "another time for the next entry"),
    "u": (Act.UNDO, "undo the last entry"),
}
# Keys of a replay (``assets/board/replaybar.js``).
REPLAY_KEYS: dict[str, str] = {
    "space": "play or pause",
    "e, E": "next and previous event",
    "d, D": "next and previous decision",
    "m": "the greatest delay",
    "a": "the address of this moment",
}
MOST_LANES = 9


def table(plan: Plan) -> dict[str, Any]:
    """The keys as the browser reads them.

    Parameters
    ----------
    plan
        It gives the lanes, which are numbered from 1.

    Returns
    -------
    dict
        ``plain`` (key to id of a button), ``lane`` (key to part of a card), ``said`` (key to words, of a card), ``lanes``.
    """
    return {
        "plain": {key: button for key, (button, _) in KEYS.items()},
        "lane": {key: part for key, (part, _) in LANE_KEYS.items()},
        "said": {key: said for key, (_, said) in LANE_KEYS.items()},
        "lanes": [lane.id for lane in plan.lanes[:MOST_LANES]],
    }
