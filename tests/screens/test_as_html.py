"""Components as HTML: what a browser reads from it is what Dash would have made."""

from __future__ import annotations

from html.parser import HTMLParser

import dash_ag_grid
import pytest
from dash import dcc, html

from dashboard.screens.as_html import as_html
from dashboard.screens.markup import extra
from dashboard.screens.page import page_layout
from tests.screens.plans import plain_plan


class Read(HTMLParser):
    """What a browser makes of it: each element with its attributes, and each text."""

    def __init__(self, written: str) -> None:
        super().__init__()
        self.elements: list[tuple[str, dict[str, str | None]]] = []
        self.texts: list[str] = []
        self.open: list[str] = []
        self.feed(written)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, dict(attrs)))
        if tag not in ("br", "input"):
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.texts.append(data)


def test_properties_get_the_names_of_html() -> None:
    """Class, for, the truth values, and those with a hyphen."""
    form = html.Form(
        [html.Label("Name", htmlFor="name"), html.Button("Go", className="button strong", disabled=True, tabIndex=-1)],
        noValidate=True, hidden=False, **extra({"aria-label": "Who", "data-act": "go"}),
    )
    assert Read(as_html(form)).elements == [
        ("form", {"novalidate": None, "aria-label": "Who", "data-act": "go"}),
        ("label", {"for": "name"}),
        ("button", {"class": "button strong", "disabled": None, "tabindex": "-1"}),
    ]


def test_no_word_becomes_markup() -> None:
    """Neither in a text nor in an attribute."""
    nasty = "<b>&amp; \"'</b>"
    read = Read(as_html(html.P([nasty, html.Br(), 7, None], title=nasty)))
    assert read.elements == [("p", {"title": nasty}), ("br", {})]
    assert read.texts == [nasty, "7"]


def test_the_whole_board_can_be_written() -> None:
    """Every component of it stands once, in its order, and every element is ended."""
    layout = page_layout(plain_plan(), replaying=True, touring=True)
    read = Read(as_html(layout))
    assert read.open == []
    assert len(read.elements) == 1 + sum(1 for _ in layout._traverse() if not isinstance(_, str))
    assert [given["id"] for _, given in read.elements if "id" in given][1:] == [str(one) for one in layout]


@pytest.mark.parametrize(
    ("part", "said"),
    [
        (html.Div(dcc.Input(id="field")), "expected components of dash.html, found Input"),
        (dash_ag_grid.AgGrid(id="grid"), "found AgGrid"),
        (html.Div(style={"height": "100%"}), "style: expected a text, a number or a truth value, found dict"),
    ],
)
def test_what_html_cannot_express_is_refused(part: object, said: str) -> None:
    """A component with a script of its own, and a property that is no plain value."""
    with pytest.raises(TypeError, match=said):
        as_html(part)
