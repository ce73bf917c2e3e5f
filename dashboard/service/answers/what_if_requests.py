"""What-if for a desk: the figures of any set of changes. Requests are computed one by one; a newer one replaces those waiting."""

from __future__ import annotations

import asyncio
from typing import Any

from pydantic import ValidationError

from dashboard.core.base.caution import CAUTION
from dashboard.core.base.problems import Problem
from dashboard.core.deferral.figures import Figures, figures_of
from dashboard.core.deferral.rules import STATE_FORBIDS, BrokenRule, rules_broken
from dashboard.core.deferral.to_advice_model import choice_of
from dashboard.core.deferral.validate import faults
from dashboard.core.events.change import Change
from dashboard.core.events.kinds import complaint
from dashboard.core.record.fold import reconcile
from dashboard.core.record.record import Record
from dashboard.core.schedule.plan_pace import project
from dashboard.core.state.model import SortieState
from dashboard.core.suits.way_home import tasks_of_way_home
from dashboard.screens.choices import decide_button, rows_of
from dashboard.screens.offers import named
from dashboard.screens.whatif import figures
from dashboard.service.desk import Desk
from dashboard.words import pet_named

# As many as the state draws, so that the figures of what-if and of the board can be compared. Measured: a few ms.
DRAWS = 5000


class WhatIfs:
    """Answers what-if requests of one desk."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._one_at_a_time = asyncio.Lock()
        self._newest = 0

    async def answer(self, body: Any, state: SortieState) -> tuple[int, dict[str, Any]]:
        """Answer a request.

        Parameters
        ----------
        body
            A change, not yet checked: a value decoded from JSON.
        state
            The state that the board shows.

        Returns
        -------
        tuple of int and dict
            HTTP status and content. 200: the figures of the change and of the tasks that go with it. 409: a newer request
            came while this one waited. 422: `problems` say what is wrong with the request.
        """
        try:
            asked = Change.model_validate(body)
        except ValidationError as wrong:
            found = [(".".join(str(part) for part in e["loc"]), complaint(e)) for e in wrong.errors()]
            return 422, {"problems": [_problem(f"'{key}'", "fields as /api/docs says", said) for key, said in found]}
        self._newest += 1
        mine = self._newest
        async with self._one_at_a_time:
            if mine != self._newest:
                return 409, {"problems": [_problem("request", "the newest request", "a newer one came", "Ask again.")]}
            return await asyncio.to_thread(self._made, asked, state)

    def _made(self, asked: Change, state: SortieState) -> tuple[int, dict[str, Any]]:
        record = reconcile(self._desk.plan, self._desk.known_at(state.now).events, state.now)
        problems = [*_unknown(asked, record), *_contradictory(asked)]
        if problems:
            return 422, {"problems": problems}
        made = figures_of(record, project(record), asked, confidence=record.plan.sortie.confidence, draws=DRAWS)
        return 200, _content(made, asked, record, state)


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
    return [_problem(subject, expected, ", ".join(names)) for subject, expected, names in found if names]


def _contradictory(asked: Change) -> list[dict[str, str]]:
    """Tasks that would be given up whole and changed in another way too."""
    whole = [*asked.defer, *asked.break_off]
    twice = [t for t in dict.fromkeys(whole) if whole.count(t) > 1 or t in asked.lengths() or t in asked.move]
    expected = "each task either deferred, or broken off, or trimmed and handed over"
    return [_problem("tasks", expected, f"more than one of these for {', '.join(twice)}")] if twice else []


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


def _problem(subject: str, expected: str, found: str, cure: str = "Correct the request.") -> dict[str, str]:
    return Problem(f"what-if, {subject}", expected, found, cure).as_dict()
