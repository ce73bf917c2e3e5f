"""The choices: whether advice is needed, and the ways to do it."""

from __future__ import annotations

import json
import re
from typing import Any

from dash import html

from dashboard import words
from dashboard.core.plan import Plan
from dashboard.core.sortie_state import Choice, SortieState
from dashboard.screens.ids import Choices
from dashboard.screens.markup import Piece, basis, span, tag, text


def layout(plan: Plan) -> html.Section:
    """One panel; the caution stands in it whatever it shows."""
    return html.Section(
        id=Choices.REGION,
        className="panel choices",
        children=[html.H2("Choices", id=Choices.HEAD), html.Div("no message yet", id=Choices.BODY, className="choices-body")],
    )


def snapshot(plan: Plan, state: SortieState) -> dict[str, Piece]:
    """The cards of the choices, or why there are none."""
    advice = state.advice
    sure = f"{words.chance(advice.in_by_limit)} sure of being in by the limit, wanted {words.chance(advice.confidence)}"
    caution = tag("p", text(advice.caution), class_="caution-line")
    if advice.needed is None:
        why = state.not_known.get("advice.needed", "the end is not a matter of chance now")
        why_not = tag("p", text(f"Not known yet: {why}."))
        return {Choices.HEAD: text("Choices"), Choices.BODY: why_not + caution}
    if advice.choices:
        cards = tag("div", *(_card(n, c, state) for n, c in enumerate(advice.choices, 1)), class_="choice-cards")
        made = "" if advice.made_pet_min is None else f"; made at {words.pet_named(advice.made_pet_min)}"
        return {Choices.HEAD: text(f"Choices: advice is needed, {sure}{made}"), Choices.BODY: cards + caution}
    if advice.needed:
        why = state.not_known.get("advice.choices", "the choices are being worked out")
        said = f"Advice is needed: {sure}. {why[:1].upper()}{why[1:]}."
    elif advice.get_ahead:
        fitting = ", ".join(f"{t} {state.tasks[t].title}" for t in advice.get_ahead)
        said = f"Nothing needs to be given up: {sure}. Get-aheads that fit: {fitting}."
    else:
        said = f"Nothing needs to be given up: {sure}."
    return {Choices.HEAD: text("Choices"), Choices.BODY: tag("p", text(said)) + caution}


def _card(number: int, choice: Choice, state: SortieState) -> Piece:
    least = min(choice.margin_min, key=lambda suit: choice.margin_min[suit], default=None)
    suit = [] if least is None else [
        f"{', '.join(state.suits[least].lanes)} {words.NAMES.get(choice.limiting.get(least, ''), '')} "
        f"{words.suit_margin_short(choice.margin_min[least])}"
    ]
    sure = "" if choice.in_by_limit is None else f", {words.chance(choice.in_by_limit)} sure"
    by = words.pet_named(choice.decide_by_pet_min) if choice.decide_by_pet_min is not None else "no time set"
    rows = [
        ("back in", f"{words.pet_named(choice.end_pet_min, 'up')}{sure}"),
        *(("suits", said) for said in suit),
        ("loses", _lost(choice)),
    ]
    table = "".join(tag("div", span("quiet", head), span("", said), class_="choice-row") for head, said in rows)
    button = tag(
        "button", text("Record decision"), class_="button may-log", type="button", id=f"decide-{number}",
        data_act="decide", data_events=json.dumps(_events(choice)), data_text=_what(choice, state),
    )
    last = tag("div", button, span("choice-by", f"by {by}"), class_="choice-row choice-last")
    how = f"{_what(choice, state)}. {choice.why}"
    head = tag("div", text(f"{number}: {_differs(choice, state)}"), class_="choice-head")
    what = tag("div", text(_what(choice, state)), class_="choice-what")
    return tag("div", tag("div", head, what, **basis(f"choice-{number}", how)), table, last, class_="choice")


def _differs(choice: Choice, state: SortieState) -> str:
    """What sets the choice apart, with tasks by their titles."""
    def titled(found: re.Match[str]) -> str:
        task = state.tasks.get(found[0])
        return task.title if task is not None and task.title else found[0]

    return re.sub(r"[^\s,;]+", titled, choice.differs) or "what costs least"


def _lost(choice: Choice) -> str:
    """Value lost by priority class, highest first: ``priority 1: 2, 3: 2.3``. One decimal, rounded up."""
    lost = ", ".join(
        f"{priority}: {words.whole(value * 10, 'up') / 10:g}" for priority, value in choice.value_lost.items()
    )
    return f"priority {lost}" if lost else "nothing of value"


def _what(choice: Choice, state: SortieState) -> str:
    """What the choice does, in words."""
    def named(task_id: str) -> str:
        return state.tasks[task_id].title or task_id

    many = f"{len(choice.defer)} tasks: " if len(choice.defer) > 1 else ""
    parts = [f"defer {many}{', '.join(named(t) for t in choice.defer)}"] if choice.defer else []
    parts += [f"trim {named(t)} to {words.duration(m)}" for t, m in choice.trim.items()]
    parts += [f"break off {named(t)}" for t in choice.break_off]
    parts += [f"hand {named(t)} to {lane}" for t, lane in choice.move.items()]
    parts += [f"take '{option}' for {a}" for a, option in choice.choose.items()]
    said = "; ".join(parts) or "change nothing"
    said = said[0].upper() + said[1:]
    return said if choice.reached else f"Earliest way in: {said}"


def _events(choice: Choice) -> list[dict[str, Any]]:
    """The events that record the choice: the decision, and what a decision cannot carry itself."""
    decision: dict[str, Any] = {"kind": "decision", "text": choice.why, "chosen": choice.model_dump(mode="json")}
    if choice.defer:
        decision["defer"] = choice.defer
    if choice.trim:
        decision["trim"] = choice.trim
    events = [decision]
    events += [{"kind": "choose", "alternative": a, "option": option} for a, option in choice.choose.items()]
    events += [{"kind": "break_off", "task": task} for task in choice.break_off]
    events += [{"kind": "move", "task": task, "lane": lane} for task, lane in choice.move.items()]
    return events
