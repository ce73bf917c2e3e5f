"""Markup as a type. Text becomes markup only by escaping it, and the type checker finds places where this is missing.

`tag` makes an element and `text` makes its text. Only this file makes `Markup` from computed values; the linter checks
that. Joining elements by ``str.join`` or an f-string gives a `str`, which is not accepted as `Markup`: use `joined`.
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
        Name of the element. It is not escaped: give a literal.
    children : Markup
        Content of the element; `text` makes markup from words.
    attributes : str, float, bool or None
        None and False leave the attribute out; True writes it without a value.

    Returns
    -------
    Markup
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
    """Escape words and return them as markup.

    Parameters
    ----------
    words
        Any object; its `str` is shown.

    Returns
    -------
    Markup
    """
    return escape(str(words))


def joined(parts: Iterable[Markup], between: Markup = NOTHING) -> Markup:
    """Join parts to one piece of markup.

    Parameters
    ----------
    parts
        In order.
    between
        Put between each two of them.

    Returns
    -------
    Markup
        Empty without parts.
    """
    return between.join(parts)


def figure_text(words: object) -> Markup:
    """Escape words for a text of a figure. Figures understand only the entities ``&amp;``, ``&lt;`` and ``&gt;``.

    Parameters
    ----------
    words
        Any object; its `str` is shown.

    Returns
    -------
    Markup
        For texts that the plotting library draws, not for HTML attributes: quotes stay as they are.
    """
    shown = str(words).replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
    return Markup(shown)  # noqa: S704 - escaped above


def unescaped(name: Literal["style", "script"], content: str, /, **attributes: str) -> Markup:
    """Make a ``style`` or ``script`` element, whose content is not escaped.

    Parameters
    ----------
    name : str
        ``style`` or ``script``.
    content : str
    attributes : str

    Returns
    -------
    Markup

    Raises
    ------
    ValueError
        When the content would end the element, or begin a comment that hides its end.
    """
    lowered = content.lower()
    if f"</{name}" in lowered or "<!--" in lowered:
        raise ValueError(f"expected a {name} that stays within its element; found its end tag or a comment in it")
    return tag(name, Markup(content), **attributes)  # noqa: S704 - checked above
