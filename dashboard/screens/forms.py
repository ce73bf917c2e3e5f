"""Pieces of the forms that open over the board. What they do is in ``assets/board/forms.js``."""

from __future__ import annotations

from typing import Any

from dash import html

from dashboard.screens.ids import Act
from dashboard.screens.markup import extra


def form(id_: str, called: str, *children: Any, **attributes: str) -> html.Dialog:
    """A form under its name, in a dialog of the browser: the page goes on behind it, Escape closes it.

    The browser judges its fields, and the board says in its own words what it found.
    """
    named = {"aria-label": called, **{key.replace("_", "-"): value for key, value in attributes.items()}}
    content = html.Form([html.H2(called), *children], noValidate=True)
    return html.Dialog(id=id_, className="form", **extra(named), children=content)


def slot(id_: str, hint: str = "", label: str = "", class_: str = "", expected: str = "") -> html.Span:
    """Where the browser puts an input field. Dash has no plain one, and its own would answer to the server.

    `expected` says what is missing where it must be filled in and is not.
    """
    wanted = {"data-input": id_, "data-hint": hint, "data-label": label, "data-class": f"field {class_}".strip(),
              "data-expected": expected}
    return html.Span(className=f"slot {class_}".strip(), **extra(wanted))


def labelled(said: str, field: Any) -> html.Label:
    """A field with its name above it."""
    return html.Label([html.Span(said), field], className="form-field")


def ends(send: str, said: str, cancel: str, *more: html.Button) -> html.Div:
    """The last row of a form: the button that does it, others, Cancel, and what came of it."""
    return html.Div(
        [html.Button(said, id=send, type="submit", className="button strong"), *more,
         html.Button("Cancel", id=cancel, type="button", className="button", **extra({"data-act": Act.CLOSE})),
         html.Span(className="outcome form-outcome", role="status")],
        className="form-ends",
    )
