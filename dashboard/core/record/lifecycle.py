"""The life cycle of a task, as one table.

Rules of this table
-------------------
1. Every pair (state, action) has one entry: the state after it, and what was expected when it does not fit.
2. An entry without a complaint fits. An entry with one is a discrepancy, and is applied as the room most likely
   meant it: work that is reported goes on or is over, whatever was forgotten before.
3. Where nothing sensible can be meant, the state stays as it was: the event is refused, and the complaint says so.
"""

from __future__ import annotations

from typing import Final, Literal, NamedTuple

TaskWord = Literal["not started", "in work", "on hold", "done", "broken off", "deferred"]
NOT_STARTED: Final = "not started"
IN_WORK: Final = "in work"
ON_HOLD: Final = "on hold"
DONE: Final = "done"
BROKEN_OFF: Final = "broken off"
DEFERRED: Final = "deferred"
STATES: tuple[TaskWord, ...] = (NOT_STARTED, IN_WORK, ON_HOLD, DONE, BROKEN_OFF, DEFERRED)
ACTIONS = ("start", "done", "hold", "resume", "break_off", "defer", "reinstate")


class Transition(NamedTuple):
    """State after an action, and what was expected when the action does not fit (None: it fits)."""

    to: TaskWord
    expected: str | None = None


def _same(state: TaskWord, expected: str) -> Transition:
    return Transition(state, expected)


TABLE: dict[tuple[TaskWord, str], Transition] = {
    (NOT_STARTED, "start"): Transition(IN_WORK),
    (NOT_STARTED, "done"): Transition(DONE, "a start before done; the start is taken as unknown"),
    (NOT_STARTED, "hold"): _same(NOT_STARTED, "a task in work to hold; nothing changed"),
    (NOT_STARTED, "resume"): Transition(IN_WORK, "a task on hold to resume; taken as its start"),
    (NOT_STARTED, "break_off"): _same(NOT_STARTED, "a task in work to break off (defer it instead); nothing changed"),
    (NOT_STARTED, "defer"): Transition(DEFERRED),
    (NOT_STARTED, "reinstate"): _same(NOT_STARTED, "a deferred task to reinstate; nothing changed"),
    (IN_WORK, "start"): _same(IN_WORK, "a task not yet started; the first start stands"),
    (IN_WORK, "done"): Transition(DONE),
    (IN_WORK, "hold"): Transition(ON_HOLD),
    (IN_WORK, "resume"): _same(IN_WORK, "a task on hold to resume; nothing changed"),
    (IN_WORK, "break_off"): Transition(BROKEN_OFF),
    (IN_WORK, "defer"): _same(IN_WORK, "a task not started to defer (break it off instead); nothing changed"),
    (IN_WORK, "reinstate"): _same(IN_WORK, "a deferred task to reinstate; nothing changed"),
    (ON_HOLD, "start"): Transition(IN_WORK, "a resume of a task on hold; taken as that"),
    (ON_HOLD, "done"): Transition(DONE, "a resume before done; taken as done"),
    (ON_HOLD, "hold"): _same(ON_HOLD, "a task in work to hold; it was on hold already"),
    (ON_HOLD, "resume"): Transition(IN_WORK),
    (ON_HOLD, "break_off"): Transition(BROKEN_OFF),
    (ON_HOLD, "defer"): _same(ON_HOLD, "a task not started to defer (break it off instead); nothing changed"),
    (ON_HOLD, "reinstate"): _same(ON_HOLD, "a deferred task to reinstate; nothing changed"),
    (DONE, "start"): Transition(IN_WORK, "a task not yet done; taken as opened again"),
    (DONE, "done"): _same(DONE, "a task not yet done; the first done stands"),
    (DONE, "hold"): _same(DONE, "a task in work to hold; nothing changed"),
    (DONE, "resume"): Transition(IN_WORK, "a task on hold to resume; taken as opened again"),
    (DONE, "break_off"): _same(DONE, "a task in work to break off; nothing changed"),
    (DONE, "defer"): _same(DONE, "a task not started to defer; nothing changed"),
    (DONE, "reinstate"): _same(DONE, "a deferred task to reinstate; nothing changed"),
    (BROKEN_OFF, "start"): Transition(IN_WORK, "a task not yet broken off; taken as opened again"),
    (BROKEN_OFF, "done"): Transition(DONE, "a task in work; taken as done after all"),
    (BROKEN_OFF, "hold"): _same(BROKEN_OFF, "a task in work to hold; nothing changed"),
    (BROKEN_OFF, "resume"): Transition(IN_WORK, "a task on hold to resume; taken as opened again"),
    (BROKEN_OFF, "break_off"): _same(BROKEN_OFF, "a task in work to break off; it was broken off already"),
    (BROKEN_OFF, "defer"): _same(BROKEN_OFF, "a task not started to defer; nothing changed"),
    (BROKEN_OFF, "reinstate"): _same(BROKEN_OFF, "a deferred task to reinstate; nothing changed"),
    (DEFERRED, "start"): Transition(IN_WORK, "a reinstate before the start of a deferred task; taken as reinstated"),
    (DEFERRED, "done"): Transition(DONE, "a reinstate and a start before done; the start is taken as unknown"),
    (DEFERRED, "hold"): _same(DEFERRED, "a task in work to hold; nothing changed"),
    (DEFERRED, "resume"): Transition(IN_WORK, "a task on hold to resume; taken as reinstated and started"),
    (DEFERRED, "break_off"): _same(DEFERRED, "a task in work to break off; nothing changed"),
    (DEFERRED, "defer"): _same(DEFERRED, "a task not started to defer; it was deferred already"),
    (DEFERRED, "reinstate"): Transition(NOT_STARTED),
}
