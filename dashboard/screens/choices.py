"""The choices region: whether advice is needed, and the choices with their figures."""

from __future__ import annotations

import json
import re
from collections.abc import Sequence
from typing import Any

from dash import html

from dashboard import words
from dashboard.core.deferral.advice_model import Choice
from dashboard.core.deferral.reasons import COSTS_LEAST, LEAST_FOUND
from dashboard.core.plan.model import Plan
from dashboard.core.state.model import SortieState
from dashboard.markup import NOTHING, Markup, joined, tag, text
from dashboard.screens import whatif
from dashboard.screens.ids import Act, Choices
from dashboard.screens.markup import basis, extra, span

AT_ONCE_MIN = 1.0


def layout(plan: Plan) -> html.Section:
    """One panel that shows either the choices or what-if. Both show the caution.

    Parameters
    ----------
    plan
        Not used; the layout of every region takes it.

    Returns
    -------
    html.Section
    """
    return html.Section(
        id=Choices.REGION,
        className="panel choices",
        children=[
            html.Div(
                className="choices-top",
                children=[
                    html.H2("Choices", id=Choices.HEAD),
                    html.Button("Change the plan", id=Choices.PLAN, className="button small may-log"),
                    html.Button("What if", id=Choices.TO_WHAT_IF, className="button small what-if-button",
                                **extra({"aria-expanded": "false", "aria-controls": Choices.WHAT_IF})),
                ],
            ),
            html.Div("no message yet", id=Choices.BODY, className="choices-body"),
            whatif.layout(),
        ],
    )


def snapshot(plan: Plan, state: SortieState) -> dict[str, Markup]:
    """The cards of the choices, or the reason why there are none.

    Parameters
    ----------
    plan
        As briefed; what-if lists its tasks and endings.
    state
        Of the current cycle.

    Returns
    -------
    dict of str to Markup
        Id of an element -> its content.
    """
    head, body = _shown(state)
    return {
        Choices.HEAD: text(head),
        Choices.BODY: body + tag("p", text(state.advice.caution), class_="caution-line"),
        Choices.WHAT_IF_TASKS: whatif.tasks(plan, state),
    }


def _shown(state: SortieState) -> tuple[str, Markup]:
    """Heading and body, without the caution."""
    advice = state.advice
    sure = f"{words.chance(advice.in_by_limit)} sure of being in, wanted {words.chance(advice.confidence)}"
    if state.ended:
        return "Choices", tag("p", text("The sortie is over: nothing is left to decide."))
    if advice.needed is None:
        why = state.not_known.get("end.in_by_limit", "the chance of being in by the limit is not known")
        return "Choices", tag("p", text(f"Not known yet: {why}."))
    if advice.choices:
        made = "" if advice.made_pet_min is None else f"; made at {words.pet_named(advice.made_pet_min)}"
        head = f"Choices: {sure}{made}"
        if advice.outdated:
            head = "Choices older than the last event, being worked out again"
        shared = _shared(advice.choices, state)
        all_ = tag("p", span("quiet", "in every choice: "), text(_joined(shared)), class_="choice-shared",
                   title=_joined(shared)) if shared else NOTHING
        cards = tag("div", *(_card(n, c, state, shared) for n, c in enumerate(advice.choices, 1)), class_="choice-cards")
        nobody = tag("p", text(_if_nobody_decides(state)), class_="choice-nobody")
        return head, all_ + cards + nobody
    if advice.needed:
        why = state.not_known.get("advice.choices", "no choice is known")
        return "Choices", tag("p", text(f"Advice is needed: {sure}. {why[0].upper()}{why[1:]}."))
    return "Choices", tag("p", text(f"Nothing needs to be given up: {sure}.")) + _get_aheads(state)


def _get_aheads(state: SortieState) -> Markup:
    """The get-aheads that fit, with their place. Each has a button that starts it once it can begin."""
    rows = []
    for task_id in state.advice.get_ahead:
        task = state.tasks[task_id]
        before, begins = state.advice.get_ahead_after.get(task_id), state.advice.get_ahead_from[task_id]
        after = "" if before is None else f"{before} {state.tasks[before].title}".rstrip()
        where = words.fits(after, begins, state.advice.get_ahead_until[task_id])
        said = f"{task_id} {task.title}, {words.duration(task.planned_min)}, {where}"
        lanes = ", ".join(task.lanes)
        button = tag(
            "button", text(f"Start on {lanes}"), class_="button small may-log", type="button", id=f"get-ahead-{task_id}",
            data_act=Act.GET_AHEAD, data_task=task_id, data_text=f"{lanes} starts the get-ahead {said}.",
        )
        can_begin = begins - state.pet_min < AT_ONCE_MIN
        rows.append(tag("div", button if can_begin else NOTHING, text(f" {said}"), class_="get-ahead"))
    return tag("div", tag("p", text("Get-aheads that fit:")), *rows, class_="get-aheads") if rows else NOTHING


def _if_nobody_decides(state: SortieState) -> str:
    """What happens if no choice is recorded by the first decide-by time."""
    known = [(c.decide_by_pet_min, n) for n, c in enumerate(state.advice.choices, 1) if c.decide_by_pet_min is not None]
    end = state.end
    stays = f"the end stays {_end(end.p50_pet_min, end.plan_pace_pet_min)}"
    projected = end.p50_pet_min if end.p50_pet_min is not None else end.plan_pace_pet_min
    margin = words.margin(None if projected is None else state.limit.pet_min - projected)
    then = f"{stays}, {margin}, {words.chance(end.in_by_limit)} sure"
    if not known:
        return f"If nobody decides: {then}."
    by = min(known)[0]
    gone = [str(n) for minutes, n in known if words.pet(minutes) == words.pet(by)]
    which = f"choice {gone[0]} is" if len(gone) == 1 else f"choices {words.listed(gone)} are"
    return f"If nobody decides by {words.pet_named(by)}, {which} gone: {then}."


def _card(number: int, choice: Choice, state: SortieState, shared: list[str]) -> Markup:
    table = joined(tag("div", span("quiet", head), span("", said), class_="choice-row") for head, said in rows_of(choice, state))
    button = decide_button(f"decide-{number}", choice, state)
    by = words.pet_named(choice.decide_by_pet_min) if choice.decide_by_pet_min is not None else "no time set"
    last = tag("div", button, span("choice-by", f"by {by}"), class_="choice-row choice-last")
    own = [atom for atom in _atoms(choice, state) if atom not in shared]
    said = _sentence(own, choice) if own else "Nothing more"
    how = f"{_what_in_words(choice, state)}. Loses {lost_words(choice)}. {choice.why}"
    head = span("choice-head", f"{number}: {_differs(choice, state)}.")
    top = tag("div", head, text(f" {said}"), class_="choice-what", **basis(f"choice-{number}", how))
    return tag("div", top, table, last, class_="choice")


def rows_of(choice: Choice, state: SortieState) -> list[tuple[str, str]]:
    """The rows of a choice's card: heading and text.

    Parameters
    ----------
    choice : Choice
    state : SortieState

    Returns
    -------
    list of (str, str)
        When the crew is back, the margin of each suit, and the value lost.
    """
    return [back_in(choice), *suit_rows(choice, state), ("loses", lost_words(choice))]


def back_in(choice: Choice) -> tuple[str, str]:
    """When the crew is back in: the expected time if it is known, otherwise that at plan pace.

    Parameters
    ----------
    choice
        With its figures.

    Returns
    -------
    (str, str)
        Heading and text. The text says how sure that is, unless nothing was drawn.
    """
    sure = "" if choice.in_by_limit is None else f", {words.chance(choice.in_by_limit)} sure"
    if choice.p50_pet_min is not None:
        return "expected back", f"{words.pet_named(choice.p50_pet_min, 'up')}{sure}"
    return "back at plan pace", f"{words.pet_named(choice.end_pet_min, 'up')}{sure}"


def suit_rows(choice: Choice, state: SortieState) -> list[tuple[str, str]]:
    """For each suit its limiting consumable and margin: ``EV2 water`` and ``40 min in hand``. The least margin first.

    Parameters
    ----------
    choice
        With its figures.
    state
        It gives the lane that wears each suit.

    Returns
    -------
    list of (str, str)
        Heading and text for each suit.
    """
    return [
        (f"{', '.join(state.suits[suit].lanes)} {words.NAMES.get(choice.limiting.get(suit, ''), '')}",
         words.suit_margin_short(margin_min))
        for suit, margin_min in sorted(choice.margin_min.items(), key=lambda one: one[1])
    ]


def _end(p50_pet_min: float | None, plan_pace_pet_min: float | None) -> str:
    """The projected end in the words of the headline."""
    if p50_pet_min is not None:
        return f"expected {words.pet_named(p50_pet_min, 'up')}"
    return f"{words.pet_named(plan_pace_pet_min, 'up')} at plan pace"


def decide_button(
    name: str, choice: Choice, state: SortieState, *, broken: Sequence[str] = (), closed: Sequence[str] = ()
) -> Markup:
    """The button that asks before it records a choice, with all that it will say and send.

    Parameters
    ----------
    name
        Id of the button.
    choice
        What is recorded.
    state
        It gives the titles of the tasks.
    broken
        Rules that the choice breaks, in words. The question repeats them and is then put twice.
    closed
        Those of them against which nobody may record it: the button is then disabled.

    Returns
    -------
    Markup
    """
    said = [_what_in_words(choice, state), *(f"{head} {brings}" for head, brings in rows_of(choice, state))]
    return tag(
        "button", text("Record decision"), class_="button may-decide", type="button", id=name, data_act=Act.DECIDE,
        data_events=json.dumps(_events_of(choice)), data_text=f"{'; '.join(said)}.",
        data_broken=json.dumps(list(broken)) if broken else None,
        disabled=bool(closed), title=f"Cannot be recorded: {'; '.join(closed)}" if closed else None,
    )


def _differs(choice: Choice, state: SortieState) -> str:
    """How the choice differs from the others, with the titles of tasks. The last open choice says that it is that."""
    if choice.differs and len(state.advice.choices) == 1:
        return "the choice still open"

    def titled(found: re.Match[str]) -> str:
        task = state.tasks.get(found[0])
        return task.title if task is not None and task.title else found[0]

    return re.sub(r"[^\s,;]+", titled, choice.differs) or (COSTS_LEAST if choice.proven else LEAST_FOUND)


def lost_words(choice: Choice) -> str:
    """Value lost in each priority class: ``2 of priority 1, 2.3 of priority 3``. One decimal, rounded up.

    Parameters
    ----------
    choice
        With its figures.

    Returns
    -------
    str
    """
    lost = [f"{words.whole(value * 10, 'up') / 10:g} of priority {priority}" for priority, value in choice.value_lost.items()]
    return ", ".join(lost) or "nothing of value"


def _what_in_words(choice: Choice, state: SortieState) -> str:
    """Everything that the choice does, in one sentence."""
    return _sentence(_atoms(choice, state), choice)


def _sentence(atoms: list[str], choice: Choice) -> str:
    said = _joined(atoms) or "change nothing"
    said = said[0].upper() + said[1:]
    return said if choice.reached else f"Earliest way in: {said}"


def _joined(atoms: list[str]) -> str:
    """Join the parts of a choice. Deferred tasks are counted, so that a text cut off on screen still shows how many."""
    deferred = [atom.removeprefix("defer ") for atom in atoms if atom.startswith("defer ")]
    rest = [atom for atom in atoms if not atom.startswith("defer ")]
    many = f"{len(deferred)} tasks: " if len(deferred) > 1 else ""
    return "; ".join([*([f"defer {many}{', '.join(deferred)}"] if deferred else []), *rest])


def _shared(choices: list[Choice], state: SortieState) -> list[str]:
    """The parts that all choices share. They are shown once, so that the cards show only the differences."""
    if len(choices) < 2:
        return []
    others = [set(_atoms(choice, state)) for choice in choices[1:]]
    return [atom for atom in _atoms(choices[0], state) if all(atom in other for other in others)]


def _atoms(choice: Choice, state: SortieState) -> list[str]:
    """Each part of the choice, in words."""
    def named(task_id: str) -> str:
        return state.tasks[task_id].title or task_id

    return [
        *(f"defer {named(t)}" for t in choice.defer),
        *(f"trim {named(t)} to {words.duration(m)}" for t, m in choice.trim.items()),
        *(f"let {named(t)} run to {words.duration(m)}" for t, m in choice.extend.items()),
        *(f"break off {named(t)}" for t in choice.break_off),
        *(f"hand {named(t)} to {lane}" for t, lane in choice.move.items()),
        *(f"take '{option}' for {a}" for a, option in choice.choose.items()),
        *(f"leaves open: {said}" for said in choice.leaves_open.values()),
    ]


def _events_of(choice: Choice) -> list[dict[str, Any]]:
    """The events that record the choice: the decision with the figures it was chosen by, and what carries it out."""
    return choice.events(choice.why, choice.model_dump(mode="json"))
