"""The elements of a page as HTML. A browser shows them at once, before any script has come, and renders nothing twice.

Only components of `dash.html` have a counterpart. A component with a script of its own (the grid of the plan page) is left
to Dash.
"""

from __future__ import annotations

import re
from typing import Any

from dash import html
from dash.development.base_component import Component

from dashboard.markup import Markup, joined, tag, text

# Properties that Dash calls otherwise than HTML does. All others only lose their capitals: noValidate, tabIndex.
OTHER_NAMES = {"className": "class", "htmlFor": "for"}
_NAME = re.compile(r"[a-z][a-z0-9-]*")


def as_html(part: Any) -> Markup:
    """Write a component, with all that is in it.

    Parameters
    ----------
    part : dash component, str, number, list of these, or None
        None gives nothing.

    Returns
    -------
    Markup

    Raises
    ------
    TypeError
        When it, or something in it, is no component of `dash.html`, or has a property that HTML cannot express.
    """
    if part is None:
        return text("")
    if isinstance(part, (list, tuple)):
        return joined(as_html(one) for one in part)
    if not isinstance(part, Component):
        return text(part)
    if getattr(html, type(part).__name__, None) is not type(part):
        raise TypeError(f"expected components of dash.html, found {type(part).__name__} (id {getattr(part, 'id', None)})")
    given: dict[str, Any] = part.to_plotly_json()["props"]  # type: ignore[no-untyped-call]
    attributes = {_attribute(name): _value(name, value) for name, value in given.items() if name != "children"}
    return tag(type(part).__name__.lower(), as_html(given.get("children")), **attributes)


def _attribute(name: str) -> str:
    written = OTHER_NAMES.get(name, name.lower())
    if not _NAME.fullmatch(written):
        raise TypeError(f"expected the name of an attribute, found {name}")
    return written


def _value(name: str, value: Any) -> str | float | bool | None:
    if value is None or isinstance(value, (str, int, float)):
        return value
    raise TypeError(f"{name}: expected a text, a number or a truth value, found {type(value).__name__}")
