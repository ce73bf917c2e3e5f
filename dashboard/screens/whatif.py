"""The what-if region: the changes that are possible to each ending and remaining task, and the figures with those ticked."""

from __future__ import annotations

from collections.abc import Sequence

from dash import html

from dashboard import words
from dashboard.core.plan.model import Alternative, Plan, Task
from dashboard.core.state.model import SortieState
from dashboard.markup import NOTHING, Markup, joined, tag, text
from dashboard.screens.ids import Choices
from dashboard.screens.markup import badge, extra, span

_REMAINS = ("not started", "in work", "on hold")


def layout() -> html.Div:
    """The list of changes and the place of the figures. Hidden until it is opened."""
    return html.Div(
        id=Choices.WHAT_IF,
        className="what-if",
        hidden=True,
        children=[
            html.Div("no message yet", id=Choices.WHAT_IF_TASKS, className="what-if-tasks", tabIndex="0",
                     **extra({"role": "group", "aria-label": "Endings and remaining tasks: tick what would be changed"})),
            html.Div(id=Choices.WHAT_IF_FIGURES, className="what-if-figures", **extra({"aria-live": "polite"})),
        ],
    )


def tasks(plan: Plan, state: SortieState) -> Markup:
    """The rows of the list: first the endings that may be taken, then the remaining tasks by projected start.

    Parameters
    ----------
    plan : Plan
    state : SortieState

    Returns
    -------
    Markup
    """
    briefed = {t.id: t for t in [*plan.tasks, *(t for c in plan.contingencies for t in c.tasks)]}
    remaining = [
        (one.projected_start_pet_min or 0.0, task_id) for task_id, one in state.tasks.items()
        if one.in_plan and one.state in _REMAINS and one.projected_start_pet_min is not None
    ]
    if not remaining:
        return tag("p", text("Nothing remains that could be given up."))
    endings = [_ending(alternative, state) for alternative in plan.alternatives]
    return joined([*endings, *(_row(task_id, state, briefed.get(task_id)) for _, task_id in sorted(remaining))])


def _ending(alternative: Alternative, state: SortieState) -> Markup:
    """The row with the options that may replace the one in force. Empty once a task of the alternative has begun."""
    tasks = [state.tasks[t] for option in alternative.options.values() for t in option if t in state.tasks]
    if any(task.state not in ("not started", "deferred") for task in tasks):
        return NOTHING
    named = alternative.title or alternative.id
    in_force = state.alternatives.get(alternative.id, alternative.default)
    ticks = [
        _tick("choose", f"{alternative.id}-{option}", f"take '{option}'", named, alternative=alternative.id, option=option)
        for option in alternative.options if option != in_force
    ]
    return _more(f"{named}: '{in_force}'", ticks)


def _more(said: str, ticks: Sequence[Markup]) -> Markup:
    return tag("div", span("what-if-name", said, said), *ticks, class_="what-if-row what-if-more") if ticks else NOTHING


def _row(task_id: str, state: SortieState, briefed: Task | None) -> Markup:
    task = state.tasks[task_id]
    shortest = None if briefed is None else briefed.shortest
    waits = task.state == "not started"
    named = f"{task_id} {task.title}".strip()
    acts = [_tick("defer", task_id, "defer", named, task=task_id) if waits else
            _tick("break_off", task_id, "break off", named, task=task_id)]
    if shortest is not None:
        trim = f"trim to {words.duration(shortest, 'up')}"
        acts.append(_tick("trim", task_id, trim, named, task=task_id, minutes=f"{shortest:g}"))
    weight = "required" if task.required else f"priority {task.priority}"
    whole = f"{named}: {', '.join(task.lanes)}, {words.duration(task.planned_min)}, {weight}, {task.state}"
    lanes = briefed.can_move_to if briefed is not None and waits and len(task.lanes) == 1 else ()
    hand_over = [
        _tick("move", f"{task_id}-{lane}", f"to {lane}", f"hand over {named}", task=task_id, lane=lane)
        for lane in lanes if lane not in task.lanes
    ]
    row = tag("div", span("what-if-name", named, whole), span("quiet what-if-weight", weight), *acts, class_="what-if-row")
    return row + _more(f"hand {task_id} over", hand_over)


def _tick(act: str, name: str, said: str, named: str, **data: str) -> Markup:
    """A checkbox. The browser sends `data` when it is ticked."""
    box = tag(
        "input", type="checkbox", id=f"what-if-{act}-{name}", data_what_if=act, aria_label=f"{said}: {named}",
        **{f"data_{key}": value for key, value in data.items()},
    )
    return tag("label", box, text(said), class_="what-if-tick")


def figures(
    rows: Sequence[tuple[str, str]], along: Sequence[str], broken: Sequence[str], closed: Sequence[str], button: Markup,
    caution: str, *, nothing: bool,
) -> Markup:
    """The figures with the ticked changes.

    Parameters
    ----------
    rows : sequence of (str, str)
        Heading and text.
    along : sequence of str
        In words, tasks that are deferred too because they come after a task that is given up.
    broken : sequence of str
        In words, rules of the plan that the changes break.
    closed : sequence of str
        Those of `broken` that forbid recording the changes.
    button : Markup
        Records the changes as a decision.
    caution : str
        The caution of all advice.
    nothing : bool
        Whether nothing is ticked. The figures are then those of the plan of record.

    Returns
    -------
    Markup
    """
    said = "As things stand; tick what would be changed" if nothing else "With what is ticked"
    head = tag("div", text(said), class_="choice-head")
    table = joined(tag("div", span("quiet", name), span("", said, said), class_="choice-row") for name, said in rows)
    more = tag("p", span("quiet", "goes with it: "), text("; ".join(along))) if along else NOTHING
    rules = tag("p", badge("warning", "not allowed"), text(f" {'; '.join(broken)}")) if broken else NOTHING
    rules += tag("p", text(f"Cannot be recorded: {'; '.join(closed)}."), class_="may-decide") if closed else NOTHING
    clear = tag("button", text("Clear"), class_="button", type="button", id=Choices.WHAT_IF_CLEAR, disabled=nothing)
    ends = tag("div", NOTHING if nothing else button, clear, class_="choice-row choice-last")
    return head + table + more + rules + ends + tag("p", text(caution), class_="caution-line")
