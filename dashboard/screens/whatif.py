"""What-if: every remaining task with what could be given up of it, and the figures of what is ticked."""

from __future__ import annotations

from collections.abc import Sequence

from dash import html

from dashboard import words
from dashboard.core.plan import Plan
from dashboard.core.sortie_state import SortieState
from dashboard.screens.ids import Choices
from dashboard.screens.markup import Piece, badge, extra, span, tag, text

_REMAINS = ("not started", "in work", "on hold")


def layout() -> html.Div:
    """The list to tick and the place of the figures; hidden until it is asked for."""
    return html.Div(
        id=Choices.WHAT_IF,
        className="what-if",
        hidden=True,
        children=[
            html.Div("no message yet", id=Choices.WHAT_IF_TASKS, className="what-if-tasks", tabIndex="0",
                     **extra({"role": "group", "aria-label": "Remaining tasks: tick what would be given up"})),
            html.Div(id=Choices.WHAT_IF_FIGURES, className="what-if-figures", **extra({"aria-live": "polite"})),
        ],
    )


def tasks(plan: Plan, state: SortieState) -> Piece:
    """A row for each remaining task, in the order of their projected starts."""
    shortest = {t.id: t.shortest for t in [*plan.tasks, *(t for c in plan.contingencies for t in c.tasks)]}
    remaining = [
        (one.projected_start_pet_min or 0.0, task_id) for task_id, one in state.tasks.items()
        if one.in_plan and one.state in _REMAINS and one.projected_start_pet_min is not None
    ]
    if not remaining:
        return tag("p", text("Nothing remains that could be given up."))
    return "".join(_row(task_id, state, shortest.get(task_id)) for _, task_id in sorted(remaining))


def _row(task_id: str, state: SortieState, shortest: float | None) -> Piece:
    task = state.tasks[task_id]
    named = f"{task_id} {task.title}".strip()
    acts = [_tick("defer", task_id, named, "defer") if task.state == "not started" else
            _tick("break_off", task_id, named, "break off")]
    if shortest is not None:
        acts.append(_tick("trim", task_id, named, f"trim to {words.duration(shortest, 'up')}", shortest))
    weight = "required" if task.required else f"priority {task.priority}"
    whole = f"{named}: {', '.join(task.lanes)}, {words.duration(task.planned_min)}, {weight}, {task.state}"
    return tag("div", span("what-if-name", named, whole), span("quiet what-if-weight", weight), *acts, class_="what-if-row")


def _tick(act: str, task_id: str, named: str, said: str, minutes: float | None = None) -> Piece:
    box = tag(
        "input", type="checkbox", id=f"what-if-{act}-{task_id}", data_what_if=act, data_task=task_id,
        data_minutes=None if minutes is None else f"{minutes:g}",
        aria_label=f"{said}: {named}",
    ).removesuffix("</input>")
    return tag("label", box, text(said), class_="what-if-tick")


def figures(
    rows: Sequence[tuple[str, str]], along: Sequence[str], broken: Sequence[str], closed: Sequence[str], button: Piece,
    caution: str, *, nothing: bool,
) -> Piece:
    """The figures of what is ticked.

    Parameters
    ----------
    rows : sequence of (str, str)
        Head and words.
    along : sequence of str
        Tasks that go along because they come after what is given up, in words.
    broken : sequence of str
        Rules of the plan that are broken, in words.
    closed : sequence of str
        Those of them for which it cannot be recorded.
    button : Piece
        Records it as a decision.
    caution : str
        Of all advice.
    nothing : bool
        Nothing is ticked: the figures are those of things as they stand.
    """
    said = "As things stand; tick what would be given up" if nothing else "With what is ticked"
    head = tag("div", text(said), class_="choice-head")
    table = "".join(tag("div", span("quiet", name), span("", said, said), class_="choice-row") for name, said in rows)
    more = tag("p", span("quiet", "goes with it: "), text("; ".join(along))) if along else ""
    rules = tag("p", badge("warning", "not allowed"), text(f" {'; '.join(broken)}")) if broken else ""
    rules += tag("p", text(f"Cannot be recorded: {'; '.join(closed)}."), class_="may-decide") if closed else ""
    clear = tag("button", text("Clear"), class_="button", type="button", id=Choices.WHAT_IF_CLEAR, disabled=nothing)
    ends = tag("div", "" if nothing else button, clear, class_="choice-row choice-last")
    return head + table + more + rules + ends + tag("p", text(caution), class_="caution-line")
