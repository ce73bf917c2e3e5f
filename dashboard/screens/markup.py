"""Small elements of the board, made on the server; the browser only puts them in their place."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from dashboard.markup import Markup, tag, text

SHAPES = {"caution": "▲", "warning": "▌"}


def span(class_: str, words: object, title: str | None = None) -> Markup:
    """Words in a class; `title` is what hovering over them says."""
    return tag("span", text(words), class_=class_, title=title)


def badge(kind: str, words: str) -> Markup:
    """A caution or warning badge: a shape and a word on a fill. `kind` is ``caution`` or ``warning``."""
    return tag("span", tag("span", text(SHAPES[kind]), aria_hidden="true"), text(f" {words}"), class_=f"badge {kind}")


def shape(kind: str, words: str) -> Markup:
    """The shape of a badge alone, for a narrow place beside a figure that says the word itself."""
    return tag("span", text(SHAPES[kind]), class_=f"badge {kind}", role="img", aria_label=words, title=words)


def basis(name: str, words: str) -> dict[str, str]:
    """Attributes that let an element say how its figure came about: under the pointer, and when it has the focus.

    `name` is its id, so that the focus survives an update.
    """
    return {"id": f"basis-{name}", "data_basis": words, "tabindex": "0"}


def extra(attributes: Mapping[str, str]) -> dict[str, Any]:
    """``aria-`` and ``data-`` attributes for a Dash component, whose signatures do not list them."""
    return dict(attributes)
