"""The plan page: the tasks of the plan file as a sheet that is edited, with its check and its lane sheet.

``assets/board/plan/`` fills it. The lane sheet is the one of the board (``assets/board/sheet.js``).
"""

from __future__ import annotations

import json
from typing import Any

import dash_ag_grid
from dash import html

from dashboard.core.base.caution import CAUTION
from dashboard.core.plan.model import Plan as SortiePlan
from dashboard.core.plan.model import Task
from dashboard.figures.lane_sheet import empty_figure
from dashboard.figures.theme import var
from dashboard.log.plan_sheet_columns import CONTINGENCY
from dashboard.screens.ids import Act, Plan, Sheet
from dashboard.screens.markup import extra
from dashboard.screens.sheet import CONFIG, MOVES

# The columns in the order of the page: what is typed for each task first. Width in px.
WIDTHS: dict[str, int] = {
    "id": 96, "title": 230, "lanes": 110, "start": 80, "duration": 112, "worksite": 104, "after": 120, "follows": 120,
    "priority": 92, "required": 100, "get_ahead": 84, "shortest": 98, "closeout": 98, "leg": 90, "boxed": 84, "together": 104,
    "obliges": 110, "serves": 110, "can_move_to": 110, "workload": 104, "needs": 100, "not_before": 88, "activity": 200,
    "value": 78, CONTINGENCY: 126, "notes": 560,
}  # fmt: skip
LINKS = (("Board", "/"), ("Brief", "/brief"), ("Debrief", "/debrief"), ("Runs", "/runs"))
HELP_OF_CONTINGENCY = "the contingency that the task is a step of; empty: the task is in the plan"
_THEME = {
    "backgroundColor": var("ground"), "foregroundColor": var("text"), "headerBackgroundColor": var("band"),
    "headerTextColor": var("secondary"), "borderColor": var("line"), "oddRowBackgroundColor": var("ground"),
    "rowHoverColor": var("panel"), "accentColor": var("focus"), "inputBackgroundColor": var("raised"),
    "inputTextColor": var("text"), "tooltipBackgroundColor": var("raised"), "tooltipTextColor": var("text"),
    "menuBackgroundColor": var("panel"), "menuTextColor": var("text"), "fontFamily": "var(--font)",
    "browserColorScheme": "inherit",
}  # fmt: skip
BUTTONS = (
    (Plan.INSERT, "Insert", "A new row below (Ctrl+Enter)"),
    (Plan.DUPLICATE, "Duplicate", "A copy of the row below it (Ctrl+D)"),
    (Plan.REMOVE, "Remove", "Remove the row (Ctrl+Delete)"),
    (Plan.UP, "▲", "Move the row up (Alt+Up)"),
    (Plan.DOWN, "▼", "Move the row down (Alt+Down)"),
    (Plan.SHIFT, "Push later", "Move what follows the row later, as far as it must (Ctrl+Shift+Down)"),
    (Plan.UNDO, "Undo", "Undo the last change (Ctrl+Z)"),
    (Plan.REDO, "Redo", "Redo what was undone (Ctrl+Y)"),
    (Plan.NEXT, "Next finding", "Go to the cell of the next finding (F8)"),
    (Plan.SAVE, "Save ...", "Show what was changed, and save it (Ctrl+S)"),
    (Plan.WHOLE, "Lanes, suits ...", "The whole file as text: lanes, suits, worksites, contingencies and so on (F4)"),
    (Plan.KEYS, "Keys", "The keys of this page (F1)"),
)
KEYS = (
    ("Arrows, Tab", "go from cell to cell"),
    ("Enter, F2, or typing", "edit the cell; typing replaces its text"),
    ("Enter, Tab", "take the text, and go on below or to the right"),
    ("Escape", "leave the cell as it was"),
    ("Down and Up in a cell with a list", "mark a name of the list; Space or Enter takes it or takes it out"),
    ("Delete", "empty the cell"),
    ("Ctrl+Enter", "insert a row below"), ("Ctrl+D", "duplicate the row"), ("Ctrl+Delete", "remove the row"),
    ("Alt+Up, Alt+Down", "move the row"),
    ("Ctrl+Shift+Down", "move what follows later, as far as it must: in the same lanes, and by links"),
    ("Ctrl+Z, Ctrl+Y", "undo, redo"), ("F8", "go to the next finding"),
    ("Ctrl+S", "show what was changed, and save"), ("F4", "edit lanes, suits and all else as the text of the file"),
    ("F1", "show these keys"),
)  # fmt: skip


def plan_layout(plan: SortiePlan) -> html.Div:
    """The whole page before the plan file is read.

    Parameters
    ----------
    plan
        As the server was started with; it gives the columns of the lane sheet.

    Returns
    -------
    html.Div
    """
    return html.Div(
        id="page",
        children=[
            html.Div(
                className="plan-page",
                children=[
                    _head(plan), _tools(),
                    html.Main(className="plan-main", children=[
                        html.Div(className="plan-left", children=[
                            _grid(), html.P(id=Plan.HELP, className="plan-help"), _findings(),
                        ]),
                        _sheet(plan),
                    ]),
                    html.Section([html.B(CAUTION)], className="plan-foot", **extra({"aria-label": "Caution"})),
                    _dialog(), _whole(), _keys(),
                ],
            ),
        ],
    )  # fmt: skip


def _head(plan: SortiePlan) -> html.Header:
    links = [html.A(word, href=address, className="sheet-button sheet-link") for word, address in LINKS]
    return html.Header(
        id=Plan.HEAD, className="plan-head",
        children=[
            html.Span("PLAN", className="band-word"), html.H1(plan.sortie.title or plan.sortie.id),
            html.Span(id=Plan.SUMMARY, className="plan-summary", role="status"), *links,
        ],
    )  # fmt: skip


def _tools() -> html.Section:
    buttons = [
        html.Button(word, id=name, type="button", title=said, className="sheet-button plan-button", **extra({"aria-label": said}))
        for name, word, said in BUTTONS
    ]
    return html.Section(
        className="plan-tools", **extra({"aria-label": "What can be done with the plan"}),
        children=[
            *buttons, html.Span(id=Plan.SAID, className="plan-said", role="status"),
            html.Span(id=Plan.STATUS, className="plan-status"),
        ],
    )  # fmt: skip


def column_help(column: str) -> str:
    """The meaning of a column: the description of its field.

    Parameters
    ----------
    column
        One of `WIDTHS`.

    Returns
    -------
    str
        Empty when the field has no description.
    """
    return HELP_OF_CONTINGENCY if column == CONTINGENCY else Task.model_fields[column].description or ""


def _grid() -> html.Div:
    columns = [
        {
            "field": name, "headerName": name.replace("_", " "), "width": width, "headerTooltip": column_help(name),
            **({"pinned": "left", "rowDrag": True} if name == "id" else {}),
        }
        for name, width in WIDTHS.items()
    ]  # fmt: skip
    options: dict[str, Any] = {
        "theme": {"function": f"themeQuartz.withParams({json.dumps(_THEME)})"}, "rowHeight": 30,
        "animateRows": False, "suppressMovableColumns": True, "stopEditingWhenCellsLoseFocus": True, "tooltipShowDelay": 300,
        "enterNavigatesVerticallyAfterEdit": True, "suppressScrollOnNewData": True,
        "rowDragManaged": True,
        "localeText": {"noRowsToShow": "The plan has no task. Press Ctrl+Enter, or Insert, for the first one."},
    }
    grid = dash_ag_grid.AgGrid(
        id=Plan.GRID, columnDefs=columns, rowData=[], getRowId="params.data.key", columnSize=None,
        defaultColDef={
            "sortable": False, "resizable": True, "suppressHeaderMenuButton": True, "wrapHeaderText": True,
            "autoHeaderHeight": True, "wrapText": True, "cellClass": "plan-cell",
        },
        dashGridOptions=options, style={"height": "100%"},
    )  # fmt: skip
    return html.Div(grid, className="plan-grid-place")


def _findings() -> html.Section:
    return html.Section(
        className="plan-findings panel", tabIndex="0", **extra({"aria-label": "What the check finds"}),
        children=[html.H2("not checked yet", id=Plan.COUNTS), html.Ol(id=Plan.FINDINGS)],
    )  # fmt: skip


def _sheet(plan: SortiePlan) -> html.Section:
    buttons = [
        html.Button(sign, id=name, type="button", className="sheet-button", title=said, **extra({"aria-label": said}))
        for name, sign, said in MOVES
    ]
    return html.Section(
        id=Sheet.REGION, className="sheet plan-sheet",
        **extra({
            "aria-label": "Lane sheet as briefed: PET runs downwards, one column per lane",
            "data-template": json.dumps(empty_figure(plan)), "data-config": json.dumps(CONFIG),
        }),
        children=[
            html.Div(id=Sheet.RAIL, className="sheet-rail", title="The whole plan. Click to bring a time into view."),
            html.Div(html.Div(className="sheet-plot"), id=Sheet.GRAPH, className="sheet-graph"),
            html.Div(className="sheet-foot", children=[
                html.Div(id=Sheet.OUT, className="sheet-out"),
                html.Button("Following now", id=Sheet.BACK, className="sheet-button plan-unused", tabIndex=-1), *buttons,
            ]),
        ],
    )  # fmt: skip


def _dialog() -> html.Dialog:
    return html.Dialog(
        id=Plan.DIALOG, className="plan-dialog", **extra({"aria-labelledby": Plan.DIALOG_TITLE}),
        children=[
            html.H2(id=Plan.DIALOG_TITLE), html.Div(id=Plan.DIALOG_BODY, className="plan-dialog-body"),
            html.Div(className="plan-dialog-foot", children=[
                html.Button(id=Plan.DIALOG_YES, type="button", className="sheet-button"),
                html.Button(id=Plan.DIALOG_OTHER, type="button", className="sheet-button"),
                html.Button(id=Plan.DIALOG_NO, type="button", className="sheet-button"),
            ]),
        ],
    )  # fmt: skip


def _whole() -> html.Dialog:
    return html.Dialog(
        id=Plan.WHOLE_DIALOG, className="plan-dialog plan-whole", **extra({"aria-label": "The whole plan file as text"}),
        children=[
            html.H2("The whole plan file"),
            html.P(
                "Lanes, suits, worksites, routes, windows, contingencies, alternatives and recurring checks are edited here, as "
                "tables of TOML. `tetherline explain` says what each field means. It is checked as you type."
            ),
            html.Textarea(
                id=Plan.WHOLE_TEXT, className="plan-whole-text", spellCheck="false",
                **extra({"aria-label": "Text of the plan file"}),
            ),
            html.P(id=Plan.WHOLE_SAID, role="status"), html.Ol(id=Plan.WHOLE_FINDINGS),
            html.Div(className="plan-dialog-foot", children=[
                html.Button("Save (Ctrl+S)", id=Plan.WHOLE_SAVE, type="button", className="sheet-button"),
                html.Button("Close", type="button", className="sheet-button", **extra({"data-act": Act.CLOSE})),
            ]),
        ],
    )  # fmt: skip


def _keys() -> html.Dialog:
    rows = [html.Tr([html.Th(key, scope="row"), html.Td(what)]) for key, what in KEYS]
    return html.Dialog(
        id=Plan.KEYS_DIALOG, className="plan-dialog", **extra({"aria-label": "The keys of this page"}),
        children=[
            html.H2("Keys"), html.Table(html.Tbody(rows)),
            html.Div(
                html.Button("Close", type="button", className="sheet-button", **extra({"data-act": Act.CLOSE})),
                className="plan-dialog-foot",
            ),
        ],
    )  # fmt: skip
