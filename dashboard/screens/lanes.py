"""One card per lane: the task in hand, ahead or behind, the next task, and buttons to log events."""

from __future__ import annotations

from typing import Any

from dash import html

from dashboard import words
from dashboard.core.plan.model import Plan
from dashboard.core.state.model import LaneState, SortieState, TaskState
from dashboard.markup import NOTHING, Markup, joined, tag, text
from dashboard.screens.forms import ends, form, labelled, slot
from dashboard.screens.ids import Act, Hold, LanePart, Late, lane_part
from dashboard.screens.markup import badge, basis, extra, span

OVERRUN_MIN = 5.0

_EARLIER = ((0, "now"), (1, "1 min ago"), (2, "2 min ago"), (5, "5 min ago"), (10, "10 min ago"), (15, "15 min ago"))
OTHER = "other"  # in place of the minutes: asks for a time


def layout(plan: Plan) -> html.Section:
    """The cards. Their buttons have fixed places.

    Parameters
    ----------
    plan
        It gives the lanes.

    Returns
    -------
    html.Section
    """
    reason = form(
        Hold.FORM, "Hold",
        labelled("Reason (may stay empty)", slot(Hold.REASON, "for instance: wire loose in the work area")),
        ends(Hold.YES, "Hold", Hold.NO),
    )
    late = form(
        Late.FORM, "When did it happen?",
        labelled("PET H:MM or H:MM:SS, or how many minutes ago", slot(Late.AT, "for instance: 3:47, or 7", expected="a time")),
        ends(Late.YES, "Use this time", Late.NO),
    )
    cards = [_card(lane.id) for lane in plan.lanes]
    return html.Section(id="lanes", className="lanes", children=[*cards, reason, late], **extra({"aria-label": "Lanes"}))


def _card(lane: str) -> html.Article:
    return html.Article(
        id=lane_part(lane, LanePart.CARD),
        className="panel lane-card",
        children=[
            html.Div("no message yet", id=lane_part(lane, LanePart.BODY), className="lane-body"),
            html.Div(
                className="lane-buttons",
                children=[
                    _button(lane, Act.START, ["Start", html.Span(" next", className="wide-only")]),
                    _button(lane, Act.DONE, "Done"),
                    _button(lane, Act.HOLD, "Hold"),
                    html.Select(
                        [*(html.Option(said, value=str(minutes), **extra({"data-said": said})) for minutes, said in _EARLIER),
                         html.Option("another time ...", value=OTHER)],
                        id=lane_part(lane, LanePart.AGO),
                        className="field",
                        **extra({"aria-label": f"When it happened, {lane}"}),
                    ),
                    _button(lane, Act.DONE_NEXT, "Done+next"),
                    html.Button(
                        "Undo",
                        id=lane_part(lane, LanePart.UNDO),
                        className="button",
                        title="Withdraw the last event that was entered from this card",
                        disabled=True,
                        **extra({"data-act": Act.UNDO, "data-lane": lane, "aria-label": f"Undo, {lane}"}),
                    ),
                ],
            ),
            html.Div(id=lane_part(lane, LanePart.OUTCOME), className="outcome", role="status"),
        ],
    )


def _button(lane: str, act: Act, said: Any) -> html.Button:
    return html.Button(
        said,
        id=lane_part(lane, act),
        className="button strong" if act is Act.DONE else "button",
        disabled=True,
        **extra({"data-act": act, "data-lane": lane}),
    )


def snapshot(plan: Plan, state: SortieState) -> dict[str, Markup]:
    """The text of each card.

    Parameters
    ----------
    plan
        As briefed.
    state
        Of the current cycle.

    Returns
    -------
    dict of str to Markup
        Id of the body of a card -> its content.
    """
    return {lane_part(name, LanePart.BODY): _body(name, lane, plan, state) for name, lane in state.lanes.items()}


def actions(state: SortieState) -> dict[str, dict[str, Any]]:
    """What each button of each card would log now.

    Parameters
    ----------
    state : SortieState

    Returns
    -------
    dict of str to dict
        By lane: ``start``, ``done``, ``done-next`` and ``hold`` hold the event and the label of that button, None if it is
        disabled. ``lanes`` are those of the task: each of their cards can undo the event. ``then`` is the event that follows.
        ``why`` is present when all of them are disabled, and says why.
    """
    if state.ended:
        nothing: dict[str, Any] = {act.value: None for act in (Act.START, Act.DONE, Act.DONE_NEXT, Act.HOLD)}
        return {name: {**nothing, "why": "the sortie is over"} for name in state.lanes}
    found: dict[str, dict[str, Any]] = {}
    for name, lane in state.lanes.items():
        task = state.tasks.get(lane.task) if lane.task else None
        in_work = task is not None and task.state == "in work"
        on_hold = lane.on_hold[-1] if lane.on_hold and not in_work else None
        held = lane.held and not in_work
        hold: dict[str, Any] | None = None
        if in_work:
            hold = {"kind": "hold", "task": lane.task, "label": "Hold"}
        elif on_hold is not None:
            hold = {"kind": "resume", "task": on_hold, "label": "Resume"}
        elif held:
            hold = {"kind": "resume", "lane": name, "label": "Resume"}
        first = lane.next
        if first is not None and hold is not None and hold.get("task") == first:  # the hold button resumes this task
            first = next((t for t in lane.order if state.tasks[t].state == "not started"), None)
        found[name] = {
            "start": _start(name, lane, first, state) if first else None,
            "done": {"kind": "done", "task": lane.task} if in_work else None,
            "done-next": _done_next(name, lane, first, state) if in_work else None,
            "hold": hold,
        }
        for doing in found[name].values():
            if doing is not None:
                doing["lanes"] = _lanes_of(doing, name, state)
    return found


def _lanes_of(doing: dict[str, Any], lane: str, state: SortieState) -> list[str]:
    """The lanes whose cards can undo what a button does."""
    return state.tasks[doing["task"]].lanes if "task" in doing else [lane]


def _done_next(name: str, lane: LaneState, first: str | None, state: SortieState) -> dict[str, Any] | None:
    """The end of the task in work, and the start of the next one; None while nothing comes next."""
    if first is None:
        return None
    then = _start(name, lane, first, state, done=lane.task)
    return {"kind": "done", "task": lane.task, "ask": then.pop("ask"), "label": "Done+next",
            "then": {**then, "lanes": _lanes_of(then, name, state)}}


def _start(name: str, lane: LaneState, task_id: str, state: SortieState, done: str | None = None) -> dict[str, Any]:
    """The start of a task, or its resumption; `done` ends at the same moment."""
    kind, said = ("resume", "Resume") if state.tasks[task_id].state == "on hold" else ("start", "Start")
    return {"kind": kind, "task": task_id, "label": said, "ask": _asks(name, lane, task_id, state, done)}


def _asks(name: str, lane: LaneState, task_id: str, state: SortieState, done: str | None) -> str | None:
    """The reasons against starting or resuming a task now, which the board asks about first; None: no reason."""
    task, against = state.tasks[task_id], []
    for other in task.lanes:
        busy = state.lanes[other].task
        if busy is not None and busy != done and state.tasks[busy].state == "in work":
            against.append(f"{busy} {state.tasks[busy].title} is still in work on {other}")
    if task.waits is not None and task.waits.kind == "task" and task.waits.name in state.tasks:
        first = state.tasks[task.waits.name]
        if first.state != "done" and task.waits.name != done:
            against.append(f"it waits for {task.waits.name} {first.title}, which is {first.state}")
    if lane.next is not None and lane.next != task_id:
        against.append(f"{lane.next} {state.tasks[lane.next].title} comes first and is {state.tasks[lane.next].state}")
    if lane.held:
        against.append(f"lane {name} is on hold")
    if not against:
        return None
    return f"{task_id} {task.title}: {'; '.join(dict.fromkeys(against))}."


def _body(name: str, lane: LaneState, plan: Plan, state: SortieState) -> Markup:
    task = state.tasks.get(lane.task) if lane.task else None
    ahead = "" if lane.ahead_min is None else words.ahead(lane.ahead_min)
    head = tag(
        "div", span("lane-name", name), span("lane-ahead rests-on-events", ahead),
        span("lane-site wide-only", lane.worksite or "", lane.worksite), class_="lane-head",
    )
    lines = joined([head, _in_hand(name, lane, task, state.pet_min), _next(lane, state), _limits(lane)])
    return tag("div", lines, class_="lane-lines", **basis(f"card-{name}", _in_full(name, lane, state)))


def _in_full(name: str, lane: LaneState, state: SortieState) -> str:
    """The full text of the card, shown on pointing at it and on keyboard focus."""
    titles = {task_id: f"{task_id} {task.title}" for task_id, task in state.tasks.items()}
    parts = [f"{name}{_where(lane)}"]
    if lane.task:
        task = state.tasks[lane.task]
        held = f", on hold: {task.hold_reason}" if task.state == "on hold" and task.hold_reason else ""
        parts.append(f"{titles[lane.task]}{held}")
    elif lane.held and lane.hold_reason:
        parts.append(f"Lane on hold: {lane.hold_reason}")
    if lane.next is not None:
        waits = words.waits_for(lane.next_waits, titles, state.tasks)
        parts.append(f"Next: {titles[lane.next]}{f', {waits}' if waits else ''}")
    if lane.kind == "crew" and lane.turn_back_pet_min is not None:
        away = f", {words.duration(lane.back_min, 'up')} to the airlock" if lane.back_min else ""
        parts.append(f"Turn back {words.pet_named(lane.turn_back_pet_min)}, set by {lane.turn_back_set_by}{away}")
    if lane.leave_by_pet_min is not None:
        parts.append(f"Leave {lane.going_to or lane.worksite} by {words.pet_named(lane.leave_by_pet_min)}")
    return ". ".join(parts) + "."


def _where(lane: LaneState) -> str:
    """Where a lane is, after its name: at a worksite, or on its way to one."""
    if lane.going_to is not None:
        return f", on the way to {lane.going_to}"
    return f", at {lane.worksite}" if lane.worksite else ""


def _line(class_: str, said: str, mark: Markup = NOTHING, title: str | None = None) -> Markup:
    """One line of a card. Text that does not fit is cut off; the mark behind it is always shown."""
    return _line_of(class_, text(said or "\u00a0"), mark, title)


def _line_of(class_: str, content: Markup, mark: Markup = NOTHING, title: str | None = None) -> Markup:
    return tag("div", tag("span", content, class_="lane-said"), mark, class_=f"lane-line {class_}".strip(), title=title)


def _in_hand(name: str, lane: LaneState, task: TaskState | None, pet_min: float) -> Markup:
    if task is None or lane.task is None:
        word = {"finished": "All work of this lane is done", "close-out": "Close-out"}.get(lane.state, "Nothing in work")
        if lane.held:
            return tag("div", text("Lane on hold"), class_="lane-task") + _held("on hold", lane.hold_reason)
        return tag("div", text(word), class_="lane-task") + _line("", "")
    others = [other for other in task.lanes if other != name]
    company = f" with {', '.join(others)}" if others else ""
    whole = f"{lane.task} {task.title}{company}"
    title = tag("div", text(f"{lane.task} {task.title}"), span("quiet", company), class_="lane-task", title=whole)
    if task.state == "on hold":
        return title + _held(words.on_hold(task.hold_since_pet_min, pet_min), task.hold_reason)
    to_go = "" if task.estimate_min is None else f", {words.to_go(task.estimate_min)}"
    worked = words.worked_of(task.worked_min, task.planned_min)
    short = words.worked_of(task.worked_min, task.planned_min, is_short=True)
    said = (text(worked) if short == worked else span("wide-only", worked) + span("narrow-only", short)) + text(to_go)
    is_overrun = task.worked_min is not None and task.worked_min > task.planned_min + OVERRUN_MIN
    how = "to go by the standing estimate" if task.estimate_min is not None else None
    return title + _line_of("", said, badge("caution", "overrun") if is_overrun else NOTHING, how)


def _held(said: str, reason: str | None) -> Markup:
    """That a task or its lane is on hold, for how long, and the whole reason."""
    return tag("div", badge("caution", said), text(f" {reason or 'no reason given'}"), class_="lane-held")


def _next(lane: LaneState, state: SortieState) -> Markup:
    """The next task, when it starts or what it waits for, and its title, of which the end may be cut off."""
    if lane.next is None:
        return tag("div", text("nothing remains" if not lane.task else "nothing after it"), class_="lane-next quiet")
    titles = {task_id: f"{task_id} {task.title}" for task_id, task in state.tasks.items()}
    whole = words.waits_for(lane.next_waits, titles, state.tasks)
    short = words.waits_for(lane.next_waits, {}, state.tasks) or f"at {words.pet_named(lane.next_start_pet_min, 'up')}"
    title = state.tasks[lane.next].title
    is_held = lane.held or (lane.task is not None and state.tasks[lane.task].state == "on hold")
    when = NOTHING if is_held else span("quiet", f" {short}")  # a hold leaves one line, and the time waits for its end
    said = text(f"next {lane.next}") + when + text(f": {title}" if title else "")
    return tag("div", said, class_="lane-next", title=f"next {lane.next} {title} {whole}".strip())


def _limits(lane: LaneState) -> Markup:
    """The line with the turn-back time and the way to the airlock."""
    site = span("narrow-only", lane.worksite or "")
    if lane.kind != "crew":
        return _line_of("quiet lane-limits", site or text("\u00a0"))
    if lane.state == "finished":
        return _line("quiet", "inside")
    if lane.turn_back_pet_min is None:
        said = "turn-back time not known yet"
    else:
        said = f"turn back {words.pet_named(lane.turn_back_pet_min)}"
    if lane.leave_by_pet_min is not None and (lane.turn_back_pet_min is None or lane.leave_by_pet_min < lane.turn_back_pet_min):
        said = f"leave by {words.pet_named(lane.leave_by_pet_min)}"
    away = f"airlock {words.duration(lane.back_min, 'up')}" if lane.back_min else ""
    comma = span("narrow-only", ", ") if away and lane.worksite else NOTHING
    place = tag("span", site, comma, text(away), class_="lane-away")
    first = text(said) + (span("wide-only", ", ") if away else NOTHING)
    return _line_of("quiet lane-limits rests-on-readings", first + place)
