"""Small pieces of HTML made on the server. Every text is escaped; the browser only puts the result in its place."""

from __future__ import annotations

from collections.abc import Mapping
from html import escape
from typing import Any

Piece = str
SHAPES = {"caution": "▲", "warning": "▌"}


def tag(name: str, *children: Piece, **attributes: str | bool | None) -> Piece:
    """An element. Children are ready-made pieces (use `text` for words); ``class_`` gives the class.

    An attribute of None or False is left out, True stands alone; ``_`` in a name becomes ``-``.
    """
    parts = [name]
    for key, value in attributes.items():
        if value is None or value is False:
            continue
        label = key.rstrip("_").replace("_", "-")
        parts.append(label if value is True else f'{label}="{escape(str(value))}"')
    return f"<{' '.join(parts)}>{''.join(children)}</{name}>"


def text(words: object) -> Piece:
    """Words, escaped."""
    return escape(str(words))


def span(class_: str, words: object, title: str | None = None) -> Piece:
    """Words in a class; `title` is what hovering over them says."""
    return tag("span", text(words), class_=class_, title=title)


def badge(kind: str, words: str) -> Piece:
    """A caution or warning badge: a shape and a word on a fill. `kind` is ``caution`` or ``warning``."""
    return tag("span", tag("span", text(SHAPES[kind]), aria_hidden="true"), text(f" {words}"), class_=f"badge {kind}")


def shape(kind: str, words: str) -> Piece:
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
