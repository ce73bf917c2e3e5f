"""The log: newest on top, a filter, notes, the entry form for every kind of event, amend and withdraw."""

from __future__ import annotations

import json
from collections.abc import Mapping
from functools import lru_cache
from typing import NamedTuple

from dash import html

from dashboard import words
from dashboard.core.base.caution import CAUTION
from dashboard.core.events.entry import Form
from dashboard.core.events.kinds import KINDS
from dashboard.core.plan.model import Plan
from dashboard.core.state.log_in_words import Logbook
from dashboard.core.state.model import LogEntry, SortieState
from dashboard.markup import NOTHING, Markup, tag, text
from dashboard.screens import entry
from dashboard.screens.forms import ends, form, labelled, slot
from dashboard.screens.ids import Act, Ask, Log
from dashboard.screens.markup import span

MOST_ROWS = 250
MOST_LATER = 20
DAY_MIN = 24 * 60
LONGEST_TEXT, LONGEST_TITLE = 300, 1500
_FORMS = {kind: event.form for kind, event in KINDS.items() if event.form is not None}
# The form of each kind. Kinds without fields (PET zero, end of the sortie) are entered once and come last.
ENTRY: Mapping[str, Form] = dict(sorted(_FORMS.items(), key=lambda one: not one[1].fields))
LEAD_ENTRY = tuple(kind for kind in ENTRY if KINDS[kind].needs_lead)
PLAN_KINDS = tuple(kind for kind, one in ENTRY.items() if one.changes_plan)
AMEND_AT_PET = "Correct time, PET H:MM or H:MM:SS (empty: no change)"
AMEND_AT_UTC = "Correct time of PET zero, UTC HH:MM or HH:MM:SS of today, or a whole instant"


def layout(plan: Plan) -> html.Section:
    """The head with filter and note field, the rows, and the forms.

    Parameters
    ----------
    plan
        Not used; the layout of every region takes it.

    Returns
    -------
    html.Section
    """
    return html.Section(
        id=Log.REGION,
        className="panel log",
        children=[
            html.Div(
                className="log-head",
                children=[
                    html.H2("Log"),
                    slot(Log.FILTER, "filter", "Filter the log"),
                    slot(Log.NOTE, "note", "Text of a note", "log-note may-log"),
                    html.Button("Add note", id=Log.ADD_NOTE, className="button may-log"),
                    html.Button("Enter an event", id=Log.ENTER, className="button strong may-log"),
                ],
            ),
            html.Div(id=Log.OUTCOME, className="outcome", role="status"),
            html.Div(id=Log.OFFER),
            html.Div(id=Log.REFUSED, className="log-refused"),
            html.Div("no message yet", id=Log.ROWS, className="log-rows", tabIndex="0"),
            _entry_form(),
            _amend_form(),
            _question(),
        ],
    )


def _entry_form() -> html.Dialog:
    kinds = [html.Option("choose ...", value=""), *(html.Option(one.title, value=kind) for kind, one in ENTRY.items())]
    return form(
        Log.FORM, "Enter an event",
        labelled("What happened", html.Select(kinds, id=Log.KIND, className="field")),
        html.Div(id=Log.FIELDS, className="form-fields"),
        labelled(entry.AT_PET, slot(Log.AT, "now")),
        ends(Log.SEND, "Enter", Log.CANCEL),
        data_kinds=json.dumps(entry.forms(ENTRY)), data_plan=json.dumps(PLAN_KINDS), data_lead=json.dumps(LEAD_ENTRY),
        data_at_pet=entry.AT_PET,
    )


def _amend_form() -> html.Dialog:
    return form(
        Log.AMEND, "Correct an event",
        html.P(id=Log.AMEND_EVENT),
        labelled(AMEND_AT_PET, slot(Log.AMEND_AT, "no change")),
        labelled("Correct text (empty: no change)", slot(Log.AMEND_TEXT, "no change")),
        labelled("Why", slot(Log.AMEND_NOTE)),
        ends(Log.AMEND_SEND, "Amend", Log.AMEND_CANCEL,
             html.Button("Withdraw the event", id=Log.AMEND_WITHDRAW, type="button", className="button")),
        html.P("Nothing is removed: the log keeps the event and marks it as amended or withdrawn.", className="form-hint"),
        data_at_pet=AMEND_AT_PET, data_at_utc=AMEND_AT_UTC,
    )


def _question() -> html.Dialog:
    """The question before an entry that cannot be taken back. A question of the browser itself would stop the clocks."""
    return form(
        Ask.FORM, "Record this?",
        html.P(id=Ask.WORDS, className="ask-words"),
        labelled("Decided by", slot(Ask.BY, "who decides", expected="the name of who decides")),
        html.P(CAUTION, id=Ask.CAUTION, className="form-hint"),
        ends(Ask.YES, "Record", Ask.NO),
    )


def snapshot(plan: Plan, state: SortieState, log: Logbook) -> dict[str, Markup]:
    """The rows, newest on top.

    Parameters
    ----------
    plan
        Not used; the snapshot of every region takes it.
    state
        Not used.
    log
        Of the same instant as the state.

    Returns
    -------
    dict of str to Markup
        Id of an element -> its content.
    """
    if not log:
        return {Log.ROWS: tag("p", text("The log is empty. To begin, press Enter an event and choose Set PET zero."))}
    head = tag("tr", *(tag("th", text(name), scope="col") for name in ("PET", "what · by")), tag("td"))
    later = log.pending(MOST_LATER)  # limited, so that past events stay visible
    shown = [*log.newest(MOST_ROWS), *later]
    rows = [_row(_Row(entry, log.taken_back_by(entry.id))) for entry in reversed(shown)]
    more = len(log) - len(shown)
    rest = tag("p", text(f"{more} more events are not shown here."), class_="quiet") if more > 0 else NOTHING
    return {Log.ROWS: tag("table", tag("thead", head), tag("tbody", *rows)) + rest}


class _Row(NamedTuple):
    """What a row shows; `target` is the event that a withdrawal in force takes back."""

    entry: LogEntry
    target: LogEntry | None

    def __hash__(self) -> int:
        return hash((self.entry.id, self.entry.text))


@lru_cache(maxsize=4 * MOST_ROWS)  # from one version to the next hardly a row changes
def _row(row: _Row) -> Markup:
    """One row."""
    entry, target = row
    marks = words.entry_marks(entry)
    whole = entry.text
    said = whole if len(whole) <= LONGEST_TEXT else f"{whole[:LONGEST_TEXT]}…"
    by = f" · {entry.by}" if entry.by else ""
    words_of = tag("div", span("log-text", said, whole[:LONGEST_TITLE]),
                   span("quiet log-marks", f" {marks}" if marks else "", marks or None), span("quiet log-by", by, entry.by),
                   class_="log-said")
    what = tag("td", tag("div", words_of, class_="log-what"))
    pet = words.pet(entry.pet_min)
    if entry.pet_min is not None and entry.pet_min < -DAY_MIN:
        pet = "before"
    return tag(
        "tr", tag("td", text(pet), class_="log-pet", title=words.utc_named(entry.at)), what,
        tag("td", _take_back(entry, said), _answer(entry, target, said), class_="log-acts"),
        class_="withdrawn" if entry.withdrawn_by else None,
    )


def _take_back(entry: LogEntry, said: str) -> Markup:
    """The button that takes back a decision and the events recorded with it; empty when nothing can be taken back."""
    if not entry.can_take_back:
        return NOTHING
    return tag(
        "button", text("take back"), class_="button small may-decide", id=f"take-back-{entry.id}", type="button",
        data_act=Act.TAKE_BACK_DECISION, data_event=entry.id, aria_label=f"Take back: {said}",
    )


def _answer(entry: LogEntry, target: LogEntry | None, said: str) -> Markup:
    """The button of a row: correct the event, or take back a withdrawal that is in force."""
    if entry.withdrawn_by is not None or (entry.kind == "withdraw" and target is None):
        return NOTHING
    if target is not None:
        return tag(
            "button", text("take back"), class_="button small may-log", id=f"correct-{entry.id}", data_act=Act.TAKE_BACK,
            data_event=entry.id, data_text=target.text[:LONGEST_TEXT], data_kind=target.kind, type="button",
            aria_label=f"Take back: {said}",
        )
    return tag(
        "button", text("correct"), class_="button small may-log", id=f"correct-{entry.id}", data_act=Act.CORRECT,
        data_event=entry.id, data_words=KINDS[entry.kind].own_words, data_at=words.pet(entry.pet_min), data_text=said,
        data_pet_s=None if entry.pet_min is None else f"{60 * entry.pet_min:.3f}", data_kind=entry.kind,
        data_utc=words.utc(entry.at), data_undoes=KINDS[entry.kind].undoes, type="button", aria_label=f"Correct: {said}",
    )
