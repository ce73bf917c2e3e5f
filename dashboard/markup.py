"""Markup as a type of its own: text becomes part of it only escaped, and a type checker finds where that was forgotten.

`Markup` is made here and from literals; nothing else calls it with a value that was computed (the linter sees to that). An
element is made by `tag`, its text by `text`. Joining elements by ``str.join`` or an f-string gives a `str`, which no function
that wants `Markup` takes: use `joined`.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Literal

from markupsafe import Markup, escape

__all__ = ["LINE_BREAK", "NOTHING", "Markup", "figure_text", "joined", "tag", "text", "unescaped"]

NOTHING = Markup("")
LINE_BREAK = Markup("<br>")
WITHOUT_CONTENT = frozenset({"br", "col", "input", "link", "meta"})


def tag(name: str, /, *children: Markup, **attributes: str | float | bool | None) -> Markup:
    """An element; ``class_`` gives the class, and ``_`` in the name of an attribute becomes ``-``.

    Parameters
    ----------
    name : str
        Of the element, as it stands in this program.
    children : Markup
        Ready-made parts; `text` makes one of words.
    attributes : str, float, bool or None
        None and False leave the attribute out; True lets it stand alone.
    """
    parts = [name]
    for key, value in attributes.items():
        if value is None or value is False:
            continue
        label = key.rstrip("_").replace("_", "-")
        parts.append(label if value is True else f'{label}="{escape(str(value))}"')
    opening = f"<{' '.join(parts)}>"
    if name in WITHOUT_CONTENT:
        return Markup(opening)  # noqa: S704 - every value in it is escaped above
    return Markup(f"{opening}{''.join(children)}</{name}>")  # noqa: S704 - the children are markup by their type


def text(words: object) -> Markup:
    """Words, escaped."""
    return escape(str(words))


def joined(parts: Iterable[Markup], between: Markup = NOTHING) -> Markup:
    """The parts one after the other."""
    return between.join(parts)


def figure_text(words: object) -> Markup:
    """Words for a text of a figure, whose small markup knows no entities but these three."""
    shown = str(words).replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
    return Markup(shown)  # noqa: S704 - escaped above


def unescaped(name: Literal["style", "script"], content: str, /, **attributes: str) -> Markup:
    """A style sheet or a script: elements whose content is not escaped.

    Raises
    ------
    ValueError
        When the content would end the element, or begin a comment that hides its end.
    """
    lowered = content.lower()
    if f"</{name}" in lowered or "<!--" in lowered:
        raise ValueError(f"expected a {name} that stays within its element; found its end tag or a comment in it")
    return tag(name, Markup(content), **attributes)  # noqa: S704 - checked above
