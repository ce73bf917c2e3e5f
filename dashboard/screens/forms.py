"""Parts of the forms that open over the board. ``assets/board/forms.js`` holds their behaviour."""

from __future__ import annotations

from typing import Any

from dash import html

from dashboard.screens.ids import Act
from dashboard.screens.markup import extra


def form(id_: str, called: str, *children: Any, **attributes: str) -> html.Dialog:
    """A form with a heading, in a dialog of the browser. The page keeps updating behind it; Escape closes it.

    The browser checks the fields, and the board shows its own messages about them.

    Parameters
    ----------
    id_
        Id of the dialog.
    called
        The heading; also the name for screen readers.
    children
        Content under the heading.
    attributes
        ``aria-`` and ``data-`` attributes of the dialog, with ``_`` for ``-``.

    Returns
    -------
    html.Dialog
    """
    named = {"aria-label": called, **{key.replace("_", "-"): value for key, value in attributes.items()}}
    content = html.Form([html.H2(called), *children], noValidate=True)
    return html.Dialog(id=id_, className="form", **extra(named), children=content)


def slot(id_: str, hint: str = "", label: str = "", class_: str = "", expected: str = "") -> html.Span:
    """The place of an input field, which the browser inserts. An input component of Dash would report to the server.

    Parameters
    ----------
    id_ : str
    hint : str
        Text shown in the empty field.
    label : str
        Name for screen readers.
    class_ : str
    expected : str
        What the message asks for when a required field is empty. Empty: the field is optional.

    Returns
    -------
    html.Span
    """
    wanted = {"data-input": id_, "data-hint": hint, "data-label": label, "data-class": f"field {class_}".strip(),
              "data-expected": expected}
    return html.Span(className=f"slot {class_}".strip(), **extra(wanted))


def labelled(said: str, field: Any) -> html.Label:
    """A field with its name above it.

    Parameters
    ----------
    said
        The name of the field.
    field
        A component, or a text.

    Returns
    -------
    html.Label
    """
    return html.Label([html.Span(said), field], className="form-field")


def ends(send: str, said: str, cancel: str, *more: html.Button) -> html.Div:
    """The last row of a form: the button that sends it, other buttons, Cancel, and the outcome.

    Parameters
    ----------
    send
        Id of the button that sends the form.
    said
        Its text.
    cancel
        Id of the button Cancel.
    more
        Buttons between the two.

    Returns
    -------
    html.Div
    """
    return html.Div(
        [html.Button(said, id=send, type="submit", className="button strong"), *more,
         html.Button("Cancel", id=cancel, type="button", className="button", **extra({"data-act": Act.CLOSE})),
         html.Span(className="outcome form-outcome", role="status")],
        className="form-ends",
    )
