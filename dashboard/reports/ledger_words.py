"""The lines of the ledger in words: the text of each line, and its group."""

from __future__ import annotations

from collections.abc import Mapping

from dashboard.core.debrief.facts import LedgerKind, LedgerLine

RAN_OVER, RAN_UNDER = "Work that took longer than briefed", "Work that took less than briefed"
HOLDS, WAITS_LANE, WAITS_ARM = "Holds", "Waits for another lane", "Waits for the arm"
WAITS_WINDOW, WAITS_SET = "Waits for a window", "Waits for settling or a set time"
BETWEEN, GAPS = "Between tasks, no reason in plan or log", "Briefed gaps not used"
BEYOND = "Work beyond the brief (contingency, added, extended, get-ahead, other option)"
GIVEN_UP = "Given up (trimmed, broken off, deferred, not done)"
OPTION, TAKEN, HANDED = "Option not taken", "Taken over from another lane", "Handed over to another lane"
CLOSE_OUTS, UNKNOWN, EARLY = "Close-outs", "Start not entered: work and waiting not separated", "Work before PET zero"

GROUPS = (
    RAN_OVER, HOLDS, WAITS_LANE, WAITS_ARM, WAITS_WINDOW, WAITS_SET, BETWEEN, BEYOND, TAKEN, CLOSE_OUTS, UNKNOWN,
    RAN_UNDER, GAPS, GIVEN_UP, OPTION, HANDED, EARLY,
)  # fmt: skip

_BY_KIND: Mapping[LedgerKind, str] = {
    "overrun": RAN_OVER, "underrun": RAN_UNDER, "hold": HOLDS, "gap not used": GAPS, "close-out": CLOSE_OUTS,
    "contingency": BEYOND, "added": BEYOND, "extended": BEYOND, "get-ahead": BEYOND, "option taken": BEYOND, "taken over": TAKEN,
    "start not known": UNKNOWN, "before PET zero": EARLY, "trimmed": GIVEN_UP, "broken off": GIVEN_UP,
    "deferred": GIVEN_UP, "not done": GIVEN_UP, "option not taken": OPTION, "handed over": HANDED,
}  # fmt: skip
_BY_WAIT: Mapping[str, str] = {
    "lane": WAITS_LANE, "arrival": WAITS_LANE, "arm": WAITS_ARM, "window": WAITS_WINDOW, "settling": WAITS_SET,
    "not before": WAITS_SET, "no reason": BETWEEN,
}  # fmt: skip
_SAID: Mapping[LedgerKind, str] = {
    "overrun": "longer than briefed", "underrun": "less than briefed", "gap not used": "briefed gap before it, not used",
    "close-out": "close-out after it was broken off", "contingency": "contingency", "added": "added", "get-ahead": "get-ahead",
    "option taken": "option taken", "taken over": "taken over from another lane",
    "start not known": "start not entered: work and waiting cannot be separated", "trimmed": "trimmed",
    "extended": "let run longer", "broken off": "broken off", "deferred": "deferred", "not done": "not done",
    "option not taken": "option not taken", "handed over": "handed over to another lane",
}  # fmt: skip


def group_of(line: LedgerLine) -> str:
    """The group that a line of the ledger belongs to.

    Parameters
    ----------
    line
        A wait is grouped by what it waited for.

    Returns
    -------
    str
        One of `GROUPS`.
    """
    return _BY_WAIT[line.waited_for or "no reason"] if line.kind == "wait" else _BY_KIND[line.kind]


def about(line: LedgerLine, titles: Mapping[str, str]) -> str:
    """A line in words: the task with its title, and what happened.

    Parameters
    ----------
    line : LedgerLine
    titles : mapping of str to str
        Title of each task.

    Returns
    -------
    str
    """
    task = f"{line.task} {titles.get(line.task, '')}".strip() if line.task else ""
    if line.kind == "before PET zero":
        return "work begun before PET zero"
    if line.kind == "hold":
        held = f"{task}: on hold" if task else "lane on hold"
        return f"{held}: {line.why}" if line.why else held
    if line.kind == "wait":
        return f"{f'before {task}' if task else 'in the lane'}: {_waited(line)}"
    return f"{task or 'in the lane'}: {_SAID[line.kind]}"


def _waited(line: LedgerLine) -> str:
    match line.waited_for:
        case "lane":
            return f"waited for lane {line.name}"
        case "arrival":
            return f"waited for lane {line.name} to arrive"
        case "arm":
            return f"waited for the arm ({line.name})"
        case "window":
            return f"waited for {line.name}"
        case "settling":
            return f"waited for the time to settle after {line.name}"
        case "not before":
            return "waited for its earliest time"
    return "no reason in plan or log"


def signed(minutes: float) -> str:
    """Minutes with their sign and one decimal, lost positive, gained negative: ``+13.3``, ``-37.0``, ``0.0``.

    Parameters
    ----------
    minutes
        Less than 0.05 either way is shown as ``0.0``.

    Returns
    -------
    str
    """
    return f"{minutes:+.1f}" if abs(minutes) >= 0.05 else "0.0"
