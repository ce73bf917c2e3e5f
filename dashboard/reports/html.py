"""A document as one HTML file that needs nothing from outside, for the screen and for the printer."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

from dashboard.figures.svg import svg
from dashboard.figures.theme import LIGHT, SIZES
from dashboard.reports.document import Column, Document, Heading, Paragraph, Part, Picture, Table

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
tr.strong td {{ font-weight: bold; border-top: 2px solid {text}; }}
figure {{ margin: .8rem 0; }}
svg {{ display: block; }}
footer {{ margin-top: 2rem; font-size: 14px; color: {secondary}; }}
@page {{
  size: A4; margin: 14mm 12mm 20mm;
  @bottom-left {{ content: {running}; font: 7pt {font}; white-space: pre-line; text-align: left; }}
  @bottom-right {{ content: "page " counter(page) " of " counter(pages); font: 7pt {font}; }}
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


def html(document: Document, links: Sequence[Link] = ()) -> str:
    """The file. `links` stand at the top of the page and are not printed."""
    bar = "".join(f'<a href="{escape(address)}">{escape(label)}</a>' for address, label in links)
    return "".join(
        (
            '<!doctype html>\n<html lang="en"><head><meta charset="utf-8">',
            '<meta name="viewport" content="width=device-width, initial-scale=1">',
            f"<title>{escape(document.title)}</title><style>{_style(document)}</style></head>",
            f"<body><main>{f'<nav class=links>{bar}</nav>' if bar else ''}<h1>{escape(document.title)}</h1>",
            f'<p>{escape(document.subtitle)}</p><p class="small">{escape(document.made)}.</p>',
            f'<p class="caution">{escape(document.caution)}</p>',
            *(_part(part) for part in document.parts),
            f"<footer>{escape(document.running)}. {escape(document.made)}. {escape(document.caution)}</footer>",
            "</main></body></html>\n",
        )
    )


def waiting_html(title: str, said: str, done: int, of: int, back: Link) -> str:
    """A page for as long as another is made: what is being worked out, and how far it is. It asks again every second."""
    return "".join(
        (
            '<!doctype html>\n<html lang="en"><head><meta charset="utf-8"><meta http-equiv="refresh" content="1">',
            '<meta name="viewport" content="width=device-width, initial-scale=1">',
            f"<title>{escape(title)}</title><style>{_styled('')}</style></head><body><main>",
            f'<nav class=links><a href="{escape(back[0])}">{escape(back[1])}</a></nav><h1>{escape(title)}</h1>',
            f'<p role="status">{escape(said)}</p>',
            f'<progress value="{done}" max="{of}" aria-label="{escape(said)}"></progress></main></body></html>\n',
        )
    )


def _style(document: Document) -> str:
    return _styled(f"{document.running}. {document.made}.\n{document.caution}")


def _styled(running: str) -> str:
    return _STYLE.format(**LIGHT, font=SIZES["font"], running=_css_string(running))


def _css_string(text: str) -> str:
    """The text as a string of a style sheet that can end neither the string nor the style sheet."""
    return '"' + "".join(c if c.isalnum() or c in " .,;:-" else f"\\{ord(c):06x}" for c in text) + '"'


def _part(part: Part) -> str:
    if isinstance(part, Heading):
        page = ' class="page"' if part.new_page else ""
        return f"<h{part.level}{page}>{escape(part.text)}</h{part.level}>\n"
    if isinstance(part, Paragraph):
        kind = "" if part.kind == "normal" else f' class="{part.kind}"'
        return f"<p{kind}>{escape(part.text)}</p>\n"
    if isinstance(part, Picture):
        drawn = "".join(svg(drawing) for drawing in part.drawings)
        return f"<figure>{drawn}<figcaption>{escape(part.caption)}</figcaption></figure>\n"
    return _table(part)


def _table(table: Table) -> str:
    widths = sum(column.share for column in table.columns)
    columns = "".join(f'<col style="width:{100 * column.share / widths:.1f}%">' for column in table.columns)
    head = "".join(f"<th{_right(column)} scope=col>{escape(column.head)}</th>" for column in table.columns)
    rows = "".join(
        f"<tr{' class=strong' if place in table.strong else ''}>"
        + "".join(f"<td{_right(column)}>{escape(cell)}</td>" for column, cell in zip(table.columns, row, strict=True))
        + "</tr>\n"
        for place, row in enumerate(table.rows)
    )
    return (
        f'<div class="scroll"><table><colgroup>{columns}</colgroup><thead><tr>{head}</tr></thead>'
        f"<tbody>{rows}</tbody></table></div>\n"
    )


def _right(column: Column) -> str:
    return " class=n" if column.figures else ""
