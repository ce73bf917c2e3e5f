"""Writes a document as one HTML file that needs no other file, for the screen and for the printer."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from dashboard.figures.svg import svg
from dashboard.figures.theme import LIGHT, SIZES
from dashboard.markup import NOTHING, Markup, joined, tag, text, unescaped
from dashboard.reports.document import A4, Column, Document, Heading, Paper, Paragraph, Part, Picture, Table

Link = tuple[str, str]  # address, words

_STYLE = """
:root {{ color-scheme: light; }}
* {{ box-sizing: border-box; }}
body {{ margin: 0; background: {ground}; color: {text}; font: 16px/1.45 {font}; }}
main {{ max-width: 62rem; margin: 0 auto; padding: 1.5rem 2rem 3rem; background: {panel}; }}
h1 {{ font-size: 26px; line-height: 1.25; margin: 0 0 .4rem; overflow-wrap: anywhere; }}
h2 {{ font-size: 20px; margin: 2.2rem 0 .6rem; border-bottom: 1px solid {line}; padding-bottom: .2rem; }}
h3 {{ font-size: 17px; margin: 1.4rem 0 .4rem; overflow-wrap: anywhere; }}
p {{ margin: .4rem 0; max-width: 50rem; overflow-wrap: anywhere; }}
.small, figcaption {{ font-size: 14px; color: {secondary}; }}
.caution {{ border-left: 6px solid {text}; padding: .3rem .8rem; font-weight: bold; background: {raised}; }}
.links a {{
  display: inline-block; min-height: 32px; padding: .3rem .8rem; margin: 0 .4rem .4rem 0; color: {text};
  border: 1px solid {secondary};
}}
.scroll {{ overflow-x: auto; }}
table {{ border-collapse: collapse; width: 100%; font-size: 14px; font-variant-numeric: tabular-nums; }}
th, td {{
  text-align: left; vertical-align: top; padding: .25rem .5rem; border-bottom: 1px solid {line};
  overflow-wrap: break-word;
}}
th {{ color: {secondary}; border-bottom: 1px solid {secondary}; }}
td {{ white-space: pre-line; }}
.n {{ text-align: right; }}
tr.changed > :first-child {{ border-left: 5px solid {text}; }}
.tick {{ display: inline-block; width: 1em; height: 1em; border: 1.5px solid {text}; }}
tr.strong td {{ font-weight: bold; border-top: 2px solid {text}; }}
figure {{ margin: .8rem 0; }}
svg {{ display: block; }}
footer {{ margin-top: 2rem; font-size: 14px; color: {secondary}; }}
@page {{
  size: {paper}; margin: {margins};
  @bottom-left {{ content: {running}; font: {edge}pt {font}; white-space: pre-line; text-align: left; }}
  @bottom-right {{ content: "page " counter(page) " of " counter(pages); font: {edge}pt {font}; }}
}}
@media print {{
  body {{ background: none; font-size: 10pt; }}
  main {{ max-width: none; padding: 0; }}
  .links {{ display: none; }}
  h1 {{ font-size: 16pt; }} h2 {{ font-size: 12.5pt; }} h3 {{ font-size: 10.5pt; }}
  h2, h3 {{ break-after: avoid; }}
  h2.page {{ break-before: page; }}
  table, .small, figcaption {{ font-size: 8pt; }}
  th, td {{ padding: .1rem .35rem; }}
  footer {{ display: none; }}
  thead {{ display: table-header-group; }}
  tr, svg {{ break-inside: avoid; }}
  .scroll {{ overflow: visible; }}
}}
"""


def html(document: Document, links: Sequence[Link] = ()) -> Markup:
    """Write a document as an HTML page.

    Parameters
    ----------
    document : Document
    links : sequence of (str, str)
        Address and words of links at the top of the page, which are not printed.

    Returns
    -------
    Markup
    """
    caution, made = document.caution, f"{document.made}."
    body = [
        links_of(links),
        tag("h1", text(document.title)),
        tag("p", text(document.subtitle)),
        tag("p", text(made), class_="small"),
        tag("p", text(caution), class_="caution"),
        *(_part(part) for part in document.parts),
        tag("footer", text(f"{document.running}. {made} {caution}")),
    ]
    return whole_page(document.title, f"{document.running}. {made}\n{caution}", body, paper=document.paper)


def waiting_html(title: str, said: str, done: int, of: int, back: Link, modules: Markup) -> Markup:
    """A page that shows the progress while another page is made. It reloads every second.

    Parameters
    ----------
    title : str
    said : str
        What is being computed.
    done, of : int
        Steps done, and steps in all.
    back : (str, str)
        Address and words of a link.
    modules : Markup
        The elements that load the script of the page, which shows the document once it is there.

    Returns
    -------
    Markup
    """
    body = [
        links_of([back]),
        tag("h1", text(title)),
        tag("p", text(said), role="status"),
        tag("progress", value=done, max=of, aria_label=said),
    ]
    without_script = tag("noscript", tag("meta", http_equiv="refresh", content="2"))
    return whole_page(title, "", body, without_script + modules)


def whole_page(
    title: str, running: str, body: Iterable[Markup], more_of_head: Markup = NOTHING, paper: Paper = A4
) -> Markup:
    """A whole page in the style of the documents.

    Parameters
    ----------
    title : str
        Of the window.
    running : str
        Printed at the foot of each page; may be empty.
    body : iterable of Markup
    more_of_head : Markup
        Further elements of the head.
    paper : Paper
        What it is printed on.

    Returns
    -------
    Markup
    """
    head = tag(
        "head", tag("meta", charset="utf-8"), more_of_head,
        tag("meta", name="viewport", content="width=device-width, initial-scale=1"),
        tag("title", text(title)), unescaped("style", _style(running, paper)),
    )  # fmt: skip
    return Markup("<!doctype html>\n") + tag("html", head, tag("body", tag("main", *body)), lang="en") + Markup("\n")


def links_of(links: Sequence[Link]) -> Markup:
    """Links at the top of a page, which are not printed.

    Parameters
    ----------
    links
        Address and words of each.

    Returns
    -------
    Markup
        Nothing when there are none.
    """
    if not links:
        return NOTHING
    return tag("nav", *(tag("a", text(label), href=address) for address, label in links), class_="links")


def _style(running: str, paper: Paper) -> str:
    margins = f"{paper.top:g}pt {paper.margin:g}pt {paper.bottom:g}pt"
    size = f"{paper.width:g}pt {paper.height:g}pt"
    return _STYLE.format(
        **LIGHT, font=SIZES["font"], running=_css_string(running), paper=size, margins=margins, edge=f"{paper.edge_text:g}"
    )


def _css_string(text: str) -> str:
    """The text as a CSS string, escaped so that it can end neither the string nor the style sheet."""
    return '"' + "".join(c if c.isalnum() or c in " .,;:-" else f"\\{ord(c):06x}" for c in text) + '"'


def _part(part: Part) -> Markup:
    if isinstance(part, Heading):
        return tag(f"h{part.level}", text(part.text), class_="page" if part.new_page else None)
    if isinstance(part, Paragraph):
        return tag("p", text(part.text), class_=None if part.kind == "normal" else part.kind)
    if isinstance(part, Picture):
        return tag("figure", *(svg(drawing) for drawing in part.drawings), tag("figcaption", text(part.caption)))
    return _table(part)


def _table(table: Table) -> Markup:
    widths = sum(column.share for column in table.columns)
    columns = tag("colgroup", *(tag("col", style=f"width:{100 * column.share / widths:.1f}%") for column in table.columns))
    head = tag("tr", *(_head(column) for column in table.columns))
    rows = (
        tag("tr", *(_cell(column, cell) for column, cell in zip(table.columns, row, strict=True)), class_=_classes(table, place))
        for place, row in enumerate(table.rows)
    )
    body = tag("table", columns, tag("thead", head), tag("tbody", joined(rows, Markup("\n"))))
    return tag("div", body, class_="scroll", tabindex="0")


def _head(column: Column) -> Markup:
    if not column.head:
        return tag("td")
    return tag("th", text(column.head), class_=_right(column), scope="col")


def _classes(table: Table, place: int) -> str | None:
    return " ".join(name for name, rows in (("strong", table.strong), ("changed", table.changed)) if place in rows) or None


def _cell(column: Column, cell: str) -> Markup:
    content = tag("span", class_="tick", role="img", aria_label="box to tick") if column.ticks else text(cell)
    return tag("td", content, class_=_right(column))


def _right(column: Column) -> str | None:
    return "n" if column.figures else None
