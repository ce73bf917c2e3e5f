"""The log: newest on top, a filter, notes, the entry form for every kind of event, amend and withdraw."""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Any

from dash import html

from dashboard import words
from dashboard.core.plan import CONSUMABLES, Plan
from dashboard.core.sortie_state import LogEntry, SortieState
from dashboard.screens.ids import Log
from dashboard.screens.markup import Piece, extra, span, tag, text

MOST_ROWS = 250
LONGEST_TEXT, LONGEST_TITLE = 300, 1500

# Kind -> what the entry form says, and its fields: name, label, where the choices come from.
# Sources: a key of `choices_of`, or "minutes", "text", "text?" (may stay empty), "number?", "many:<source>".
ENTRY: dict[str, tuple[str, tuple[tuple[str, str, str], ...]]] = {
    "start": ("Start a task", (("task", "Task", "tasks"),)),
    "done": ("Task done", (("task", "Task", "tasks"),)),
    "hold": ("Hold a task, a lane or all", (("subject", "What", "scopes"), ("reason", "Reason", "text?"))),
    "resume": ("Resume a task, a lane or all", (("subject", "What", "scopes"),)),
    "estimate": ("Estimate of what remains", (("task", "Task", "tasks"), ("remaining", "Minutes left", "minutes"))),
    "note": ("Note", (("text", "Text", "text"),)),
    "reading": ("Suit reading", (("suit", "Suit", "suits"), *((c, f"{words.NAMES[c]} left, {words.UNITS[c]}", "number?")
                                                            for c in CONSUMABLES))),
    "check": ("Recurring call made", (("check", "Call", "checks"), ("lane", "Lane", "lanes"))),
    "break_off": ("Break off a task", (("task", "Task", "tasks"),)),
    "defer": ("Defer tasks", (("tasks", "Tasks", "many:tasks"),)),
    "reinstate": ("Reinstate tasks", (("tasks", "Tasks", "many:tasks"),)),
    "trim": ("Trim a task", (("task", "Task", "tasks"), ("duration", "New length, minutes", "minutes"))),
    "insert": ("Insert a contingency", (("contingency", "Contingency", "contingencies"),)),
    "choose": ("Choose an ending", (("alternative", "Alternative", "alternatives"), ("option", "Option", "options"))),
    "move": ("Hand over or reorder", (("task", "Task", "tasks"), ("lane", "To lane", "lanes?"),
                                      ("before", "Before", "tasks?"))),
    "add": ("Add an unplanned task", (("id", "Name", "text"), ("title", "Title", "text"), ("lanes", "Lanes", "many:lanes"),
                                      ("duration", "Minutes", "minutes"), ("before", "Before", "tasks?"))),
    "decision": ("Decision", (("text", "What was decided, and why", "text"), ("defer", "Defers", "many?:tasks"))),
    "clock": ("Set PET zero: suits on battery power", ()),
    "end": ("Sortie over: airlock repressurised", ()),
}


def layout(plan: Plan) -> html.Section:
    """The head with filter and note field, the rows, and the two forms."""
    return html.Section(
        id=Log.REGION,
        className="panel log",
        children=[
            html.Div(
                className="log-head",
                children=[
                    html.H2("Log"),
                    _input(Log.FILTER, "filter", "Filter the log"),
                    _input(Log.NOTE, "note", "Text of a note", "log-note may-log"),
                    html.Button("Add note", id=Log.ADD_NOTE, className="button may-log"),
                    html.Button("Enter an event", id=Log.ENTER, className="button strong may-log"),
                ],
            ),
            html.Div(id=Log.OUTCOME, className="outcome", role="status"),
            html.Div("no message yet", id=Log.ROWS, className="log-rows", tabIndex="0"),
            _entry_form(),
            _amend_form(),
        ],
    )


def _entry_form() -> html.Dialog:
    fields = {kind: [list(field) for field in spec[1]] for kind, spec in ENTRY.items()}
    return html.Dialog(
        id=Log.FORM,
        className="form",
        **extra({"data-fields": json.dumps(fields), "aria-label": "Enter an event"}),
        children=[
            html.H2("Enter an event"),
            _labelled("What happened", html.Select(
                [html.Option(spec[0], value=kind) for kind, spec in ENTRY.items()], id=Log.KIND, className="field")),
            html.Div(id=Log.FIELDS, className="form-fields"),
            _labelled("When, PET H:MM (empty: now)", _input(Log.AT, "now")),
            _ends(Log.SEND, "Enter", Log.CANCEL),
        ],
    )


def _amend_form() -> html.Dialog:
    return html.Dialog(
        id=Log.AMEND,
        className="form",
        **extra({"aria-label": "Amend an event"}),
        children=[
            html.H2("Amend an event"),
            html.P(id=Log.AMEND_EVENT),
            _labelled("Right time, PET H:MM (empty: as it is)", _input(Log.AMEND_AT)),
            _labelled("Why", _input(Log.AMEND_NOTE)),
            _ends(Log.AMEND_SEND, "Amend", Log.AMEND_CANCEL),
        ],
    )


def _input(id_: str, hint: str = "", label: str = "", class_: str = "") -> html.Span:
    """Where the browser puts an input field. Dash has no plain one, and its own would answer to the server."""
    wanted = {"data-input": id_, "data-hint": hint, "data-label": label, "data-class": f"field {class_}".strip()}
    return html.Span(className=f"slot {class_}".strip(), **extra(wanted))


def _labelled(said: str, field: Any) -> html.Label:
    return html.Label([html.Span(said), field], className="form-field")


def _ends(send: str, said: str, cancel: str) -> html.Div:
    return html.Div(
        [html.Button(said, id=send, className="button strong"), html.Button("Cancel", id=cancel, className="button"),
         html.Span(className="outcome form-outcome", role="status")],
        className="form-ends",
    )


def choices_of(plan: Plan, state: SortieState) -> dict[str, list[list[str]]]:
    """What may be named in the entry form: value and label."""
    tasks = [[task_id, f"{task_id} {task.title} ({task.state})"] for task_id, task in state.tasks.items()]
    lanes = [[name, name] for name in state.lanes]
    return {
        "tasks": tasks,
        "lanes": lanes,
        "scopes": [["all", "everything"], *([f"lane:{n}", f"lane {n}"] for n in state.lanes),
                   *([f"task:{value}", label] for value, label in tasks)],
        "suits": [[name, f"suit {name}, {', '.join(suit.lanes)}"] for name, suit in state.suits.items()],
        "checks": [[check.id, check.title or check.id] for check in plan.checks],
        "contingencies": [[c.id, f"{c.id}: {c.trigger or c.title}"] for c in plan.contingencies],
        "alternatives": [[a.id, a.title or a.id] for a in plan.alternatives],
        "options": [[o, f"{o} ({a.title or a.id})"] for a in plan.alternatives for o in a.options],
    }


def snapshot(plan: Plan, state: SortieState, log: Sequence[LogEntry]) -> dict[str, Piece]:
    """The rows, newest on top."""
    if not log:
        return {Log.ROWS: tag("p", text("The log is empty. Enter the start of PET with Enter an event, Set PET zero."))}
    head = tag("tr", *(tag("th", text(name), scope="col") for name in ("PET", "what", "by", "")))
    rows = [_row(entry) for entry in list(log)[-MOST_ROWS:][::-1]]
    more = len(log) - MOST_ROWS
    rest = tag("p", text(f"{more} older events are not shown here."), class_="quiet") if more > 0 else ""
    return {Log.ROWS: tag("table", tag("thead", head), tag("tbody", *rows)) + rest}


def _row(entry: LogEntry) -> Piece:
    marks = words.entry_marks(entry)
    said = entry.text if len(entry.text) <= LONGEST_TEXT else f"{entry.text[:LONGEST_TEXT]}…"
    what = tag("td", span("log-text", said, entry.text[:LONGEST_TITLE]), span("quiet log-marks", f" {marks}" if marks else ""))
    answerable = entry.withdrawn_by is None and entry.kind not in ("withdraw",)
    buttons = ""
    if answerable:
        at = words.pet(entry.pet_min)
        buttons = "".join(
            tag("button", text(act), class_="button small may-log", id=f"{act}-{entry.id}", data_act=act,
                data_event=entry.id, data_at=at, data_text=said, type="button")
            for act in ("amend", "withdraw")
        )
    return tag(
        "tr", tag("td", text(words.pet(entry.pet_min)), class_="log-pet", title=words.utc_named(entry.at)), what,
        tag("td", text(entry.by or ""), class_="quiet"), tag("td", buttons, class_="log-acts"),
        class_="withdrawn" if entry.withdrawn_by else None,
    )
