"""Pieces of the forms that open over the board. What they do is in ``assets/entry.js``."""

from __future__ import annotations

from typing import Any

from dash import html

from dashboard.screens.markup import extra


def form(id_: str, called: str, *children: Any, **attributes: str) -> html.Dialog:
    """A form under its name. It is a dialog of the browser: the page goes on behind it, Escape closes it."""
    named = {"aria-label": called, **{key.replace("_", "-"): value for key, value in attributes.items()}}
    return html.Dialog(id=id_, className="form", **extra(named), children=[html.H2(called), *children])


def slot(id_: str, hint: str = "", label: str = "", class_: str = "") -> html.Span:
    """Where the browser puts an input field. Dash has no plain one, and its own would answer to the server."""
    wanted = {"data-input": id_, "data-hint": hint, "data-label": label, "data-class": f"field {class_}".strip()}
    return html.Span(className=f"slot {class_}".strip(), **extra(wanted))


def labelled(said: str, field: Any) -> html.Label:
    """A field with its name above it."""
    return html.Label([html.Span(said), field], className="form-field")


def ends(send: str, said: str, cancel: str, *more: html.Button) -> html.Div:
    """The last row of a form: the button that does it, others, Cancel, and what came of it."""
    return html.Div(
        [html.Button(said, id=send, className="button strong"), *more,
         html.Button("Cancel", id=cancel, className="button"),
         html.Span(className="outcome form-outcome", role="status")],
        className="form-ends",
    )
