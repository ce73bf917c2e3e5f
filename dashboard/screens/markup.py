"""Small elements of the board. They are made on the server; the browser only inserts them."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from dashboard.markup import Markup, tag, text

NO_BREAK_AFTER = re.compile(r"\b(PET|UTC) (?=-?\d)")
NO_BREAK_BEFORE = re.compile(r"(?<=\d) (?=(?:min|h|s|%|kg|Wh)\b|%)")
SHAPES = {"caution": "▲", "warning": "▌"}


def span(class_: str, words: object, title: str | None = None) -> Markup:
    """Words in an element of a class.

    Parameters
    ----------
    class_
        One class or several, separated by spaces.
    words
        Any object; its `str` is shown.
    title
        Shown on pointing at the words; None: nothing is.

    Returns
    -------
    Markup
    """
    return tag("span", text(words), class_=class_, title=title)


def badge(kind: str, words: str) -> Markup:
    """A caution or warning badge: a shape and a word on a fill.

    Parameters
    ----------
    kind
        ``caution`` or ``warning``.
    words
        Shown after the shape.

    Returns
    -------
    Markup
    """
    return tag("span", tag("span", text(SHAPES[kind]), aria_hidden="true"), text(f" {words}"), class_=f"badge {kind}")


def shape(kind: str, words: str) -> Markup:
    """The shape of a badge without its word, for a narrow place beside a figure that has the word.

    Parameters
    ----------
    kind
        ``caution`` or ``warning``.
    words
        For screen readers, and shown on pointing at the shape.

    Returns
    -------
    Markup
    """
    return tag("span", text(SHAPES[kind]), class_=f"badge {kind}", role="img", aria_label=words, title=words)


def basis(name: str, words: str) -> dict[str, str]:
    """Attributes with which an element explains its figure, on pointing at it and on keyboard focus.

    Parameters
    ----------
    name : str
        Makes the id, which lets the element keep the focus through an update.
    words : str
        The explanation.

    Returns
    -------
    dict of str to str
    """
    return {"id": f"basis-{name}", "data_basis": words, "tabindex": "0"}


def extra(attributes: Mapping[str, str]) -> dict[str, Any]:
    """``aria-`` and ``data-`` attributes for a Dash component, whose signature does not list them.

    Parameters
    ----------
    attributes
        Name -> value.

    Returns
    -------
    dict of str to Any
        A copy, to be passed as keyword arguments.
    """
    return dict(attributes)


def unbroken(words: str) -> str:
    """The words with spaces that no line breaks at: between PET or UTC and its time, and between a number and its unit.

    Parameters
    ----------
    words
        As they are told.

    Returns
    -------
    str
    """
    return NO_BREAK_BEFORE.sub("\u00a0", NO_BREAK_AFTER.sub(lambda found: f"{found[1]}\u00a0", words))


def line(words: str) -> Markup:
    """Words that may take several lines, with no break inside a time or an amount.

    Parameters
    ----------
    words
        As they are told.

    Returns
    -------
    Markup
    """
    return text(unbroken(words))
