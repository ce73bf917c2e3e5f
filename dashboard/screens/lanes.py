"""A card a lane: what is in hand, how it stands, what comes next, and the buttons of whoever keeps the log."""

from __future__ import annotations

from typing import Any

from dash import html

from dashboard import words
from dashboard.core.plan import Plan
from dashboard.core.sortie_state import LaneState, SortieState, TaskState
from dashboard.screens.ids import lane_part
from dashboard.screens.markup import Piece, badge, extra, span, tag, text

_EARLIER = ((0, "now"), (1, "1 min ago"), (2, "2 min ago"), (5, "5 min ago"), (10, "10 min ago"), (15, "15 min ago"))


def layout(plan: Plan) -> html.Section:
    """The cards, with their buttons in fixed places."""
    return html.Section(
        id="lanes", className="lanes", children=[_card(lane.id) for lane in plan.lanes], **extra({"aria-label": "Lanes"})
    )


def _card(lane: str) -> html.Article:
    return html.Article(
        id=lane_part(lane, "card"),
        className="panel lane-card",
        children=[
            html.Div("no message yet", id=lane_part(lane, "body"), className="lane-body"),
            html.Div(
                className="lane-buttons may-log",
                children=[
                    _button(lane, "start", "Start next"),
                    _button(lane, "done", "Done"),
                    _button(lane, "hold", "Hold"),
                    html.Select(
                        [html.Option(said, value=str(minutes)) for minutes, said in _EARLIER],
                        id=lane_part(lane, "ago"),
                        className="field",
                        **extra({"aria-label": f"When it happened, {lane}"}),
                    ),
                    html.Button(
                        "Undo",
                        id=lane_part(lane, "undo"),
                        className="button",
                        title="Withdraw the last event that was entered from this card",
                        disabled=True,
                        **extra({"data-act": "undo", "data-lane": lane}),
                    ),
                ],
            ),
            html.Div(id=lane_part(lane, "outcome"), className="outcome", role="status"),
        ],
    )


def _button(lane: str, act: str, said: str) -> html.Button:
    return html.Button(
        said,
        id=lane_part(lane, act),
        className="button strong" if act == "done" else "button",
        disabled=True,
        **extra({"data-act": act, "data-lane": lane}),
    )


def snapshot(plan: Plan, state: SortieState) -> dict[str, Piece]:
    """The text of each card."""
    return {lane_part(name, "body"): _body(name, lane, plan, state) for name, lane in state.lanes.items()}


def actions(state: SortieState) -> dict[str, dict[str, Any]]:
    """What each button of each card would do now: the task it speaks of and its label; None: nothing to do."""
    found = {}
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
            hold = {"kind": "resume", "lane": name, "label": "Resume lane"}
        can_start = None if state.ended or lane.next is None else lane.next
        if can_start is not None and state.tasks[can_start].state == "on hold":
            can_start = next((t for t in lane.order if state.tasks[t].state == "not started"), None)
        found[name] = {
            "start": {"kind": "start", "task": can_start} if can_start else None,
            "done": {"kind": "done", "task": lane.task} if in_work else None,
            "hold": hold,
        }
    return found


def _body(name: str, lane: LaneState, plan: Plan, state: SortieState) -> Piece:
    task = state.tasks.get(lane.task) if lane.task else None
    ahead = words.ahead(lane.ahead_min)
    where = "" if lane.worksite is None else lane.worksite
    if lane.return_min is not None and where:
        where += f", {words.duration(lane.return_min)} from the airlock" if lane.return_min else ""
    head = tag(
        "div", span("lane-name", name), span("lane-ahead rests-on-events", ahead if lane.ahead_min is not None else ""),
        span("lane-site", where), class_="lane-head",
    )
    lines = [head, _in_hand(name, lane, task, state), _next(lane, state), _limits(lane)]
    return "".join(lines)


def _in_hand(name: str, lane: LaneState, task: TaskState | None, state: SortieState) -> Piece:
    if task is None or lane.task is None:
        word = {"finished": "All work of this lane is done", "close-out": "Close-out"}.get(lane.state, "Nothing in work")
        if lane.held:
            word = "Lane on hold"
        return tag("div", text(word), class_="lane-task") + tag("div", text("\u00a0"), class_="lane-line")
    others = [other for other in task.lanes if other != name]
    company = f" with {', '.join(others)}" if others else ""
    title = tag("div", text(f"{lane.task} {task.title}"), span("quiet", company), class_="lane-task", title=task.title)
    parts = [words.worked_of(task.worked_min, task.planned_min)]
    if task.state == "in work" and task.estimate_min is not None:
        parts.append(f"{words.to_go(task.estimate_min)} by estimate")
    over = task.worked_min is not None and task.worked_min > task.planned_min + 5
    mark = badge("caution", "on hold") if task.state == "on hold" else badge("caution", "overrun") if over else ""
    reason = f": {task.hold_reason}" if task.state == "on hold" and task.hold_reason else ""
    return title + tag("div", text(", ".join(parts) + " "), mark, text(reason), class_="lane-line")


def _next(lane: LaneState, state: SortieState) -> Piece:
    if lane.next is None:
        return tag("div", text("nothing remains" if not lane.task else "then: in"), class_="lane-line quiet")
    following = state.tasks[lane.next]
    titles = {task_id: f"{task_id} {task.title}" for task_id, task in state.tasks.items()}
    waits = words.waits_for(lane.next_waits, titles)
    at = f" at {words.pet_named(lane.next_start_pet_min, 'up')}"
    said = f"next: {lane.next} {following.title}"
    return tag("div", text(said), span("quiet", f"{at}{', ' + waits if waits else ''}"), class_="lane-line", title=waits)


def _limits(lane: LaneState) -> Piece:
    if lane.kind != "crew":
        return tag("div", text("\u00a0"), class_="lane-line")
    if lane.state == "finished":
        return tag("div", text("in"), class_="lane-line quiet")
    return tag(
        "div", text(f"turn back by {words.pet_named(lane.turn_back_pet_min)}"
                    if lane.turn_back_pet_min is not None else "turn-back time not known yet"),
        class_="lane-line quiet rests-on-readings",
    )
