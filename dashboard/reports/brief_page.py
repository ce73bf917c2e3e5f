"""The page on which the plan is walked through: the lane sheet with the step on it, and the words of the step, large.

The server writes every step into the page. `assets/brief/` shows one at a time, or all that begin together.
"""

from __future__ import annotations

import json
import math

from dashboard import words
from dashboard.core.brief.facts import Brief, BriefStep
from dashboard.figures.brief_sheet import AXIS, SIDE, LaneSheet, lane_sheets
from dashboard.figures.svg import svg
from dashboard.figures.theme import LIGHT, SIZES
from dashboard.markup import NOTHING, Markup, joined, tag, text, unescaped
from dashboard.reports import brief_words as said

LANE_WIDTH, PT_A_MIN = 84.0, 3.6  # points
PX_A_PT = 1.6  # at least: a smaller drawing could not be read, so it is scrolled instead
LINKS = (
    ("/", "The board"), ("/brief.pdf", "Brief (PDF)"), ("/brief/cuff.pdf", "Cuff pages (PDF)"), ("/brief.json", "Facts (JSON)"),
)  # fmt: skip
NO_STEPS = "No task of the plan has a briefed start, so there is nothing to walk through."
KEYS = "Keys: arrows or space for the next step and the one before, Home and End, T for steps that begin together."

_STYLE = """
:root {{ color-scheme: light; }}
* {{ box-sizing: border-box; }}
body {{
  margin: 0; height: 100vh; display: grid; grid-template-rows: auto 1fr auto; background: {ground}; color: {text};
  font: 17px/1.4 {font};
}}
header {{ display: flex; flex-wrap: wrap; gap: .3rem 1rem; align-items: center; padding: .4rem 1rem; background: {band}; }}
header h1 {{ font-size: 20px; margin: 0; }}
header .place {{ font-weight: bold; font-variant-numeric: tabular-nums; }}
header nav {{ margin-left: auto; display: flex; flex-wrap: wrap; gap: .3rem .6rem; }}
button, nav a {{
  font: inherit; font-size: 15px; color: {text}; background: {panel}; border: 1px solid {secondary}; min-height: 32px;
  padding: .15rem .7rem; text-decoration: none; cursor: pointer;
}}
button:focus-visible, a:focus-visible {{ outline: 3px solid {focus}; outline-offset: 1px; }}
button[aria-pressed=true] {{ background: {text}; color: {panel}; }}
main {{ display: grid; grid-template-columns: 17rem minmax(22rem, 1fr) minmax(26rem, 1.15fr); min-height: 0; }}
.follow main {{ grid-template-columns: minmax(22rem, 1fr) minmax(30rem, 1.5fr); }}
main > * {{ overflow: auto; min-height: 0; padding: .6rem .8rem; }}
.list {{ margin: 0; padding: .4rem; list-style: none; background: {band}; }}
.list button {{ width: 100%; text-align: left; border-color: transparent; background: none; }}
.list button[aria-current=step] {{ background: {text}; color: {panel}; font-weight: bold; }}
.follow .list, .follow .moves {{ display: none; }}
#brief-drawing {{ position: relative; background: {panel}; }}
#brief-drawing svg {{ display: block; }}
.sheet {{ padding-top: 0; }}
.lanes {{ position: sticky; top: 0; height: 28px; z-index: 1; background: {panel}; border-bottom: 1px solid {line}; }}
.lanes span {{ position: absolute; padding-left: 5px; font-weight: bold; }}
.mark {{ position: absolute; outline: 4px solid {briefed}; outline-offset: 1px; pointer-events: none; }}
.words {{ background: {panel}; font-size: 22px; }}
.many .step {{ border-top: 3px solid {text}; margin-bottom: 1rem; padding-top: .6rem; }}
.step h2 {{ font-size: 34px; line-height: 1.15; margin: 0 0 .3rem; }}
.follow .step h2 {{ font-size: clamp(30px, 2.2vw, 54px); }}
.follow .words {{ font-size: clamp(22px, 1.36vw, 34px); }}
.step .when {{ margin: 0 0 .7rem; font-variant-numeric: tabular-nums; }}
dl {{ display: grid; grid-template-columns: max-content 1fr; gap: .35rem .9rem; margin: 0 0 .8rem; }}
dt {{ font-weight: bold; }}
dd {{ margin: 0; overflow-wrap: anywhere; }}
.notes {{ font-size: 1.15em; border-left: 6px solid {text}; padding: .2rem .8rem; margin: 0 0 .8rem; white-space: pre-line; }}
.next {{ color: {secondary}; font-size: 17px; }}
.follow .next {{ display: none; }}
[role=status] {{ min-height: 1.4em; }}
footer {{ padding: .3rem 1rem; font-size: 14px; background: {band}; }}
footer b {{ display: block; }}
@media (max-width: 1500px) {{
  main {{ grid-template-columns: 12rem minmax(20rem, max-content) minmax(24rem, 1fr); }}
  .follow main {{ grid-template-columns: minmax(20rem, max-content) minmax(24rem, 1fr); }}
}}
@media (max-width: 1100px) {{
  body {{ height: auto; }}
  main, .follow main {{ grid-template-columns: 1fr; }}
  .sheet {{ max-height: 50vh; order: 2; }}
  .list {{ max-height: 12rem; order: 3; }}
}}
"""


def brief_page(facts: Brief, modules: Markup, *, may_present: bool, why_not: str, follow: bool) -> Markup:
    """The page.

    Parameters
    ----------
    facts
        The brief.
    modules
        The elements that load the browser's modules.
    may_present
        Whether the visitor may show steps to everyone.
    why_not
        Why the visitor may not; empty: they may.
    follow
        Whether the page shows what the presenter shows.

    Returns
    -------
    Markup
        A whole HTML document.
    """
    title = f"{'Brief, following along' if follow else 'Brief'}: {facts.title or facts.sortie}"
    head = tag(
        "head", tag("meta", charset="utf-8"), tag("meta", name="viewport", content="width=device-width, initial-scale=1"),
        tag("title", text(title)), tag("link", rel="icon", href="data:,"),
        unescaped("style", _STYLE.format(**LIGHT, font=SIZES["font"])), modules,
    )  # fmt: skip
    sheets = lane_sheets(facts, AXIS + SIDE + LANE_WIDTH * max(3, len(facts.lanes)), most_min=math.inf, pt_a_min=PT_A_MIN)
    steps = [_step(facts, step, sheets[0], hidden=number > 0) for number, step in enumerate(facts.steps)]
    said_large = tag(
        "section", *(steps or [tag("p", text(NO_STEPS))]), class_="words", id="brief-words", aria_label="The step in words",
        aria_live="polite",
    )  # fmt: skip
    body = tag(
        "body", _header(facts, may_present=may_present, why_not=why_not, follow=follow),
        tag("main", _list(facts), _sheet(sheets), said_large),
        tag("footer", tag("b", text(facts.caution)),
            text(f"Sortie {facts.sortie}, revision {facts.revision}. {'' if follow else KEYS}")),
        class_="follow" if follow else "own", data_revision=facts.revision, data_follow="yes" if follow else "no",
    )  # fmt: skip
    return Markup("<!doctype html>\n") + tag("html", head, body, lang="en") + Markup("\n")


def _header(facts: Brief, *, may_present: bool, why_not: str, follow: bool) -> Markup:
    moves = tag(
        "span", tag("button", text("Back"), id="brief-previous", type="button", title="The step before (arrow left)"), text(" "),
        tag("button", text("Next"), id="brief-next", type="button", title="The next step (arrow right)"), text(" "),
        tag("button", text("In time"), id="brief-in-time", type="button", aria_pressed="false",
            title="Show the steps that begin together (T)"), text(" "),
        tag("button", text("Present"), id="brief-present", type="button", aria_pressed="false", disabled=not may_present,
            title=why_not or "Everyone who follows along sees the step that you show"),
        class_="moves",
    )  # fmt: skip
    other = ("/brief", "Walk through alone") if follow else ("/brief?follow=1", "Follow along")
    links = [tag("a", text(label), href=address) for address, label in (other, *(() if follow else LINKS))]
    return tag(
        "header", tag("h1", text(facts.title or facts.sortie)), tag("span", id="brief-place", class_="place"), moves,
        tag("span", id="brief-said", role="status"), tag("nav", *links),
    )  # fmt: skip


def _list(facts: Brief) -> Markup:
    rows = (
        tag("li", tag("button", text(f"{words.pet(step.from_pet_min, 'nearest')}  {step.task} {step.title}"), type="button",
                      data_step=step.number))
        for step in facts.steps
    )
    return tag("ol", *rows, class_="list", aria_label="Steps, with their briefed PET")


def _sheet(sheets: list[LaneSheet]) -> Markup:
    drawn = NOTHING
    if sheets:
        least = f"min-width: {PX_A_PT * sheets[0].drawing.width:.0f}px"
        heads = (
            tag("span", text(lane), style=f"left: {100 * left / sheets[0].drawing.width:.2f}%")
            for lane, left in sheets[0].columns.items()
        )
        lanes = tag("div", *heads, class_="lanes", style=least, aria_hidden="true")
        drawn = lanes + tag("div", svg(sheets[0].drawing), id="brief-drawing", style=least)
    return tag("section", drawn, class_="sheet", id="brief-sheet", tabindex="0", aria_label="Lane sheet as briefed")


def _step(facts: Brief, step: BriefStep, sheet: LaneSheet, *, hidden: bool) -> Markup:
    length = said.lengths(step.low_min, step.likely_min, step.high_min)
    when = f"PET {said.span(step.from_pet_min, step.to_pet_min)}. {words.listed(step.lanes)}, {length}"
    place = facts.place(step.worksite)
    where = f", {'to' if step.is_leg else 'at'} {place}" if place else ""
    rows = [(words.listed(lanes), what) for lanes, what in said.who_is_where(facts, step)]
    spoken = [(word, what) for word, what in said.spoken(facts, step) if word != "Notes"]
    waits = [
        (f"{one.lane} waits", f"{said.waited_for(facts, one.wait)}; fits: {said.fills(facts, one)}")
        for one in facts.waits if one.fills and one.from_pet_min <= step.from_pet_min < one.to_pet_min
    ]
    following = next((one for one in facts.steps if one.number == step.number + 1), None)
    after = "This is the last step."
    if following is not None:
        after = f"Next, at {words.pet_named(following.from_pet_min, 'nearest')}: {said.named(facts, following.task)}"
    return tag(
        "article", tag("h2", text(f"{step.task} {step.title}")), tag("p", text(f"{when}{where}."), class_="when"),
        tag("p", text(step.notes), class_="notes") if step.notes else NOTHING,
        _rows(rows), _rows([*spoken, *waits]), tag("p", text(after), class_="next"),
        class_="step", data_step=step.number, data_pet=step.from_pet_min, hidden=hidden,
        data_boxes=json.dumps(_shares(sheet, step.task)),
    )  # fmt: skip


def _shares(sheet: LaneSheet, task: str) -> list[list[float]]:
    """Left, top, width and height of the blocks of a task in percent of the drawing."""
    wide, high = sheet.drawing.width, sheet.drawing.height
    whole = (wide, high, wide, high)
    return [[round(100 * part / of, 3) for part, of in zip(box, whole, strict=True)] for box in sheet.blocks.get(task, ())]


def _rows(rows: list[tuple[str, str]]) -> Markup:
    return tag("dl", joined(tag("dt", text(word)) + tag("dd", text(what)) for word, what in rows)) if rows else NOTHING
