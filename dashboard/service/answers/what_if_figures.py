"""The figures of a what-if request, worked out in the process beside: as JSON, and as the board shows them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from dashboard.core.base.caution import CAUTION
from dashboard.core.base.problems import Problem
from dashboard.core.deferral.figures import Figures, figures_of
from dashboard.core.deferral.rules import STATE_FORBIDS, BrokenRule, rules_broken
from dashboard.core.deferral.to_advice_model import choice_of
from dashboard.core.deferral.validate import faults
from dashboard.core.events.change import Change
from dashboard.core.events.event import Event
from dashboard.core.plan.model import Plan
from dashboard.core.record.fold import reconcile
from dashboard.core.record.record import Record
from dashboard.core.schedule.plan_pace import project
from dashboard.core.state.model import SortieState
from dashboard.core.suits.way_home import tasks_of_way_home
from dashboard.screens.choices import decide_button, rows_of
from dashboard.screens.offers import named
from dashboard.screens.whatif import figures
from dashboard.service.beside.worker import Note
from dashboard.words import pet_named

# As many as the state draws, so that the figures of what-if and of the board can be compared. Measured: a few ms.
DRAWS = 5000


def what_if_job(plan: Plan, events: Sequence[Event], note: Note, asked: Change, state: SortieState) -> dict[str, Any]:
    """Work out the figures of a change.

    Parameters
    ----------
    plan
        The briefed plan.
    events
        Those that the state was computed from.
    note
        Not used.
    asked
        The change.
    state
        The state that the board shows.

    Returns
    -------
    dict
        The figures, as values of JSON and as HTML; or `problems`, where the change names what the plan does not have or
        contradicts itself.
    """
    record = reconcile(plan, events, state.now)
    if problems := [*_unknown(asked, record), *_contradictory(asked)]:
        return {"problems": problems}
    made = figures_of(record, project(record), asked, confidence=plan.sortie.confidence, draws=DRAWS)
    return _content(made, asked, record, state)


def problem_of(subject: str, expected: str, found: str, cure: str = "Correct the request.") -> dict[str, str]:
    """Make a problem of a request.

    Parameters
    ----------
    subject, expected, found, cure
        As for `Problem`.

    Returns
    -------
    dict
        Its fields.
    """
    return Problem(f"what-if, {subject}", expected, found, cure).as_dict()


def _unknown(asked: Change, record: Record) -> list[dict[str, str]]:
    """Names that the plan does not have."""
    plan = record.plan
    options = {a.id: list(a.options) for a in plan.alternatives}
    named = asked.tasks()
    found = [
        ("task", "a task of the plan of record", [t for t in named if t not in record.runs]),
        ("lane", f"one of {', '.join(plan.lane_ids())}", [n for n in asked.move.values() if n not in plan.lane_ids()]),
        ("alternative", f"one of {', '.join(options) or 'none'}", [a for a in asked.choose if a not in options]),
    ]
    found += [
        (f"option of {a}", f"one of {', '.join(options[a])}", [o]) for a, o in asked.choose.items()
        if a in options and o not in options[a]
    ]
    return [problem_of(subject, expected, ", ".join(names)) for subject, expected, names in found if names]


def _contradictory(asked: Change) -> list[dict[str, str]]:
    """Tasks that would be given up whole and changed in another way too."""
    whole = [*asked.defer, *asked.break_off]
    twice = [t for t in dict.fromkeys(whole) if whole.count(t) > 1 or t in asked.lengths() or t in asked.move]
    expected = "each task either deferred, or broken off, or trimmed and handed over"
    return [problem_of("tasks", expected, f"more than one of these for {', '.join(twice)}")] if twice else []


def _content(made: Figures, asked: Change, record: Record, state: SortieState) -> dict[str, Any]:
    """The figures as JSON and as HTML."""
    choice = choice_of(made, None, why="Chosen by what-if.")
    broken, closed = _broken(record, made.change)
    rows = [
        *rows_of(choice, record.plan, state),
        *(("leaves open", said) for said in choice.leaves_open.values()),
        ("decide", "at once" if made.decide_by_pet_min is None else f"by {pet_named(made.decide_by_pet_min)}"),
    ]
    along = [t for t in made.change.defer if t not in asked.defer]
    nothing = asked.is_empty
    button = decide_button("decide-what-if", choice, record.plan, state, broken=broken, closed=closed)
    goes = [named(t, state) for t in along]
    html = figures(rows[:-1] if nothing else rows, goes, broken, closed, button, CAUTION, nothing=nothing)
    return {
        "choice": choice.model_dump(mode="json"), "along": along, "broken": broken, "closed": closed, "draws": DRAWS,
        "pet_min": state.pet_min, "caution": CAUTION, "html": html,
    }  # fmt: skip


def _broken(record: Record, change: Change) -> tuple[list[str], list[str]]:
    """Words of the rules that a change breaks, and of those among them that no decision may break.

    A person may decide against the others: a missed window, a suit that is short, the tasks of a contingency, the way home.
    """
    home = [
        BrokenRule("way home", t, f"{t} is on the way home") for t in change.given_up() if t in tasks_of_way_home(record)
    ]
    found = list(dict.fromkeys([*faults(record, change, float("inf")), *home]))
    of_the_plan = rules_broken(record, change, asked=change.given_up())
    closed = [rule.words for rule in found if rule in of_the_plan or rule.code in STATE_FORBIDS]
    return [rule.words for rule in found], closed
