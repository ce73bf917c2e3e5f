"""The choices region: the call and why, what certainty costs, and the choices with what goes, what it wins and by when."""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Any

from dash import html

from dashboard import story, words
from dashboard.core.deferral.advice_model import Advice, Choice
from dashboard.core.deferral.reasons import COSTS_LEAST, LEAST_FOUND
from dashboard.core.events.change import Change
from dashboard.core.plan.model import Plan
from dashboard.core.state.leave_by import trim_to_leave
from dashboard.core.state.model import SortieState
from dashboard.markup import NOTHING, Markup, joined, tag, text
from dashboard.screens import whatif
from dashboard.screens.ids import Act, Choices
from dashboard.screens.markup import basis, extra, line, span, unbroken
from dashboard.screens.offers import named

AT_ONCE_MIN = 1.0
WINS = "How much later the crew would be inside with all of the choice but this. The parts help each other: it does not add up."
MOST_MAY_GO = 4


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
    head, body = _shown(plan, state)
    return {
        Choices.HEAD: head,
        Choices.BODY: body + _leave_by(plan, state) + tag("p", text(state.advice.caution), class_="caution-line"),
        Choices.WHAT_IF_TASKS: whatif.tasks(plan, state),
    }


def _heading(chance: str, rest: str = "") -> Markup:
    """The heading with the chance in time, which is withheld while the log is stale, as that of the headline is."""
    return text("Choices: ") + span("withheld-when-stale", chance) + span("shown-when-stale", "chance withheld") + text(rest)


def _shown(plan: Plan, state: SortieState) -> tuple[Markup, Markup]:
    """Heading and body, without the caution."""
    advice = state.advice
    if state.ended:
        return text("Choices"), tag("p", line("The sortie is over: nothing is left to decide."))
    if advice.needed is None:
        why = state.not_known.get("end.in_by_limit", "the chance in time is not known")
        return text("Choices"), tag("p", line(f"Not known yet: {why}."))
    wanted = f"{story.chance_in_time(advice.in_by_limit)}, wanted {words.chance(advice.confidence)}"
    call = _call(state)
    if advice.choices:
        made = "" if advice.made_pet_min is None else f"; computed at {words.pet_named(advice.made_pet_min)}"
        working = "; better ones are being worked out" if advice.in_progress else ""
        head = _heading(wanted, f"{made}{working}")
        if advice.outdated:
            head = text("Choices older than the last event, being worked out again")
        cells = [_ladder(plan, state), *(_card(n, c, plan, state) for n, c in enumerate(advice.choices, 1))]
        nobody = tag("p", line(story.if_nobody_decides(state)), class_="choice-nobody")
        told = call if advice.call not in ("expect", "decide") else NOTHING  # such a call stands in the headline with its reason
        if advice.call == "none":
            told, nobody = told + tag("p", line(f"Not asked for. {_would(advice)}:")), NOTHING
        elif advice.obstacle and not advice.choices[0].reached:
            told += tag("p", line(advice.obstacle), class_="choice-call")
        return head, told + tag("div", *cells, class_="choice-cards") + nobody
    if advice.needed:
        why = state.not_known.get("advice.choices", "no choice is known")
        return _heading(wanted), call + tag("p", line(f"{why[0].upper()}{why[1:]}."))
    shown = tag("p", line("Nothing needs to be given up.")) + call + (_get_aheads(state) or _may_go(state))
    silent = tag("p", line("Withheld while the log is stale."), class_="shown-when-stale")
    return _heading(wanted), tag("div", shown, class_="withheld-when-stale") + silent


def _would(advice: Advice) -> str:
    """What the choices would do, as long as nobody is asked to take one."""
    if advice.choices[0].reached:
        return f"This would bring the chance to {words.chance(advice.confidence)}"
    return "This would raise the chance"


def _call(state: SortieState) -> Markup:
    """The call and why. What goes now, what can wait and what changed the call stand in the headline."""
    advice = state.advice
    why = advice.call_why if advice.needed or advice.call in ("expect", "decide") else ""
    head = story.call_head(advice)
    said = why if advice.call is None else f"{head[0].upper()}{head[1:]}. {why}"
    lines = [one for one in (advice.finding, said if why else "") if one]
    return joined(tag("p", line(one), class_="choice-call") for one in lines)


def _ladder(plan: Plan, state: SortieState) -> Markup:
    """What certainty costs: for each step what would have to go, and what that loses."""
    advice, priorities = state.advice, story.priorities_of(plan, state)
    head = span("choice-head", "What certainty costs")
    if not advice.ladder:
        return tag("div", head, tag("p", line("being worked out"), class_="quiet"), class_="choice ladder")
    rows = []
    for rung in advice.ladder:
        is_wanted = rung.wanted is not None and rung.wanted == advice.confidence
        step = line(story.rung_wanted(rung)) + (span("quiet", " wanted") if is_wanted else NOTHING)
        goes = line("; ".join(story.rung_goes(rung)))
        loses = span("quiet", f"loses {story.cost(rung, rung.value_lost, priorities)}") if rung.reached else NOTHING
        rows.append(tag("tr", tag("th", step, scope="row"), tag("td", goes, loses), class_="wanted" if is_wanted else None))
    heads = tag("tr", tag("th", line("chance in time"), scope="col"), tag("th", line("what would have to go"), scope="col"))
    return tag("div", head, tag("table", tag("thead", heads), tag("tbody", *rows)), class_="choice ladder")


def _card(number: int, choice: Choice, plan: Plan, state: SortieState) -> Markup:
    """One choice: when the crew is inside with it, what goes one per line, what it leaves of each suit, what it loses."""
    limit = plan.sortie.limit_less_reserve_pet_min
    said = f"Choice {number}: {_differs(choice, state)}. {story.choice_inside(choice, limit)}."
    how = f"{choice.why} {choice.proof[:1].upper()}{choice.proof[1:]}.".strip()
    head = tag("div", span("choice-head", unbroken(said)), class_="choice-what", **basis(f"choice-{number}", how))
    ends = _buttons(number, choice, plan, state)
    columns = (("", None, None), ("what goes", None, None), ("wins", "item-wins", WINS), ("decide by", "item-by", None))
    heads = tag("tr", *(
        tag("th" if one else "td", line(one), scope="col" if one else None, class_=of, title=hint) for one, of, hint in columns
    ))
    groups = joined(_items(choice, is_now, plan, state) for is_now in (True, False))
    table = tag("table", tag("thead", heads), groups, class_="choice-items") if choice.items else NOTHING
    leaves = joined(tag("div", line(f"leaves open: {one}")) for one in choice.leaves_open.values())
    suits = " · ".join(f"{name} {left}" for name, left in suit_rows(choice, state))
    loses = tag("div", span("quiet", "loses "), line(story.cost(choice, choice.value_lost, story.priorities_of(plan, state))))
    then = choice.if_not_decided if number == 1 and not choice.reached else None
    short = "" if then is None else story.certain_enough(then.short_by_min, state.advice.confidence, then.short_of)
    note = tag("div", line(f"As things stand, {short}."), class_="quiet") if short else NOTHING
    return tag("div", head, ends, table, leaves, tag("div", line(suits)), loses, note, class_="choice")


def _items(choice: Choice, is_now: bool, plan: Plan, state: SortieState) -> Markup:
    """What goes now, or what can wait: one thing per line with what it wins and by when it must be decided."""
    items = [item for item in choice.items if item.now is is_now]
    if not items:
        return NOTHING
    titles = {one.id: one.title or one.id for one in plan.alternatives}
    rows = []
    for item in sorted(items, key=lambda item: item.decide_by_pet_min or float("inf")):
        what = story.item_in_words(item, lambda name: titles.get(name) or named(name, state))
        by = tag("td", line(story.item_by(item)), class_="item-by")
        rows.append(tag("td", line(what)) + tag("td", line(story.item_wins(item)), class_="item-wins") + by)
    when = "can wait" if not is_now else "now" if state.advice.call == "decide" else "first"
    said = story.when_goes(is_now, state.advice.call)
    rows[0] = tag("th", line(when), scope="rowgroup", rowspan=str(len(rows)), title=said) + rows[0]
    class_ = "items-now" if is_now and state.advice.call == "decide" else "items-later"
    return tag("tbody", *(tag("tr", row) for row in rows), class_=class_)


def _buttons(number: int, choice: Choice, plan: Plan, state: SortieState) -> Markup:
    """What records the choice: the part for now alone where something of it can wait, and all of it."""
    for_now, whole = choice.for_now(), choice.change()
    if for_now.is_empty or for_now == whole:
        return tag("div", decide_button(f"decide-{number}", choice, plan, state), class_="choice-last")
    waits = [story.item_in_words(item) for item in choice.items if not item.now]
    part = "What goes now" if state.advice.call == "decide" else "What closes first"
    said = f"{part} of choice {number}: {'; '.join(part.in_words() for part in for_now.parts())}"
    asked = f"{said}. This can wait and is not recorded: {'; '.join(waits)}."
    chosen = {**for_now.model_dump(mode="json"), "why": said, "can_wait": waits, "whole": choice.model_dump(mode="json")}
    label = "Record what goes now" if state.advice.call == "decide" else "Record what closes first"
    now = _button(f"decide-now-{number}", label, for_now.events(said, chosen), asked)
    return tag("div", now, decide_button(f"decide-{number}", choice, plan, state, label="Record all"), class_="choice-last")


def _leave_by(plan: Plan, state: SortieState) -> Markup:
    """For each worksite that is projected to be left too late: the trim that leaves it in time, with its button."""
    rows = []
    shortest = {task.id: task.shortest for task in plan.tasks}
    for name, site in state.worksites.items():
        by, leaves, last = site.leave_by_pet_min, site.leaves_pet_min, site.last_task
        if state.ended or by is None or leaves is None or last is None or leaves <= by:
            continue
        trim = trim_to_leave(state.pet_min, by, state.tasks[last], shortest.get(last))
        if trim is None:
            continue
        what = f"Trim {named(last, state)} to {words.duration(trim)}, so that {name} is left by {words.pet_named(by)}"
        button = _button(f"leave-by-{name}", "Record this trim", Change(trim={last: trim}).events(what), f"{what}.")
        rows.append(tag("div", button, line(f" {what}."), class_="get-ahead"))
    return tag("div", tag("p", text("To leave in time:")), *rows, class_="get-aheads") if rows else NOTHING


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


def _may_go(state: SortieState) -> Markup:
    """In calm times: the tasks that could be given up if time ran short, the least priority first, and until when."""
    found = [
        (-one.priority, one.projected_start_pet_min, task_id, one) for task_id, one in state.tasks.items()
        if one.in_plan and one.state == "not started" and not one.required and not one.get_ahead
        and one.projected_start_pet_min is not None
    ]
    if not found:
        return NOTHING
    found = sorted(found, key=lambda each: each[:3])[:MOST_MAY_GO]
    rows = joined(
        tag("tr", tag("td", line(str(one.priority))), tag("td", line(f"{task_id} {one.title}".strip())),
            tag("td", line(words.duration(one.planned_min))), tag("td", line(words.pet_named(begins))))
        for _, begins, task_id, one in found
    )
    heads = tag("tr", *(tag("th", line(one), scope="col") for one in ("priority", "task", "planned", "begins")))
    said = "If time ran short, the least priority first; until a task begins:"
    return tag("table", tag("caption", line(said)), tag("thead", heads), tag("tbody", rows), class_="may-go")


def rows_of(choice: Choice, plan: Plan, state: SortieState) -> list[tuple[str, str]]:
    """What a choice brings, on the basis of the headline: heading and text.

    Parameters
    ----------
    choice : Choice
    plan : Plan
        It gives the limit of the sortie.
    state : SortieState
        It gives the lane that wears each suit, and the tasks of each priority.

    Returns
    -------
    list of (str, str)
        When the crew is inside, the margin of each suit, and what is lost.
    """
    lost = story.cost(choice, choice.value_lost, story.priorities_of(plan, state))
    inside = story.choice_inside(choice, plan.sortie.limit_less_reserve_pet_min)
    return [("with it", inside[0].lower() + inside[1:]), *suit_rows(choice, state), ("loses", lost)]


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


def decide_button(
    name: str, choice: Choice, plan: Plan, state: SortieState, *, broken: Sequence[str] = (), closed: Sequence[str] = (),
    label: str = "Record decision",
) -> Markup:
    """The button that asks before it records a choice, with all that it will say and send.

    Parameters
    ----------
    name
        Id of the button.
    choice
        What is recorded.
    plan
        It gives the limit of the sortie.
    state
        It gives the titles of the tasks.
    broken
        Rules that the choice breaks, in words. The question repeats them and is then put twice.
    closed
        Those of them against which nobody may record it: the button is then disabled.
    label
        What stands on it.

    Returns
    -------
    Markup
    """
    what = story.goes_in_words(choice, lambda task_id: named(task_id, state))
    said = [what, *(f"{head} {brings}" for head, brings in rows_of(choice, plan, state))]
    events = choice.events(choice.why, choice.model_dump(mode="json"))
    return _button(name, label, events, f"{'; '.join(said)}.", broken, closed)


def _button(
    name: str, label: str, events: Sequence[dict[str, Any]], said: str, broken: Sequence[str] = (), closed: Sequence[str] = ()
) -> Markup:
    return tag(
        "button", text(label), class_="button may-decide", type="button", id=name, data_act=Act.DECIDE,
        data_events=json.dumps(list(events)), data_text=said[0].upper() + said[1:],
        data_broken=json.dumps(list(broken)) if broken else None,
        disabled=bool(closed), title=f"Cannot be recorded: {'; '.join(closed)}" if closed else None,
    )


def _differs(choice: Choice, state: SortieState) -> str:
    """How the choice differs from the others. The last open choice says that it is that."""
    if choice.differs.startswith("keeps") and len(state.advice.choices) == 1:
        return "the choice still open"
    if choice.reached:
        return choice.differs or (COSTS_LEAST if choice.proven else LEAST_FOUND)
    return choice.differs or "the earliest way in"
