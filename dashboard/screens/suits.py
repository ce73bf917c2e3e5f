"""The suits region: for each consumable of each suit a bar with the amount left, the reserve and the need."""

from __future__ import annotations

from dash import html

from dashboard import story, words
from dashboard.core.plan.model import Plan
from dashboard.core.state.model import ConsumableState, SortieState, SuitState
from dashboard.core.suits.budget import BELOW_RESERVE
from dashboard.core.suits.readings import ABOVE_LOADED, IN_DOUBT, RISES
from dashboard.markup import NOTHING, Markup, joined, tag, text
from dashboard.screens.ids import Suits
from dashboard.screens.markup import basis, shape, span

CLOSE_MARGIN_MIN = 15.0
# For readings that cannot be right: the word in the row. The full explanation is shown on pointing at the row.
ODD = {IN_DOUBT: "reading in doubt", RISES: "reading rises", ABOVE_LOADED: "reading too high"}


def layout(plan: Plan) -> html.Section:
    """One panel.

    Parameters
    ----------
    plan
        Not used; the layout of every region takes it.

    Returns
    -------
    html.Section
    """
    return html.Section(
        id=Suits.REGION,
        className="panel suits",
        children=[
            html.H2("Suits: left, reserve, need to the projected end"),
            html.Div("no message yet", id=Suits.BODY, className="suits-body rests-on-readings"),
        ],
    )


def snapshot(plan: Plan, state: SortieState) -> dict[str, Markup]:
    """One block per suit.

    Parameters
    ----------
    plan
        Not used; the snapshot of every region takes it.
    state
        Of the current cycle.

    Returns
    -------
    dict of str to Markup
        Id of an element -> its content.
    """
    if not state.suits:
        return {Suits.BODY: text("The plan names no suit. Add [[suit]] tables to follow the suit budget.")}
    return {Suits.BODY: joined(_suit(name, suit, state) for name, suit in state.suits.items())}


def _suit(name: str, suit: SuitState, state: SortieState) -> Markup:
    wearer = ", ".join(suit.lanes) or "worn by nobody"
    read = [c.reading_pet_min for c in suit.consumables.values() if c.reading_pet_min is not None]
    read += [c.doubted.pet_min for c in suit.consumables.values() if c.doubted is not None]
    age = f"read {words.age((state.pet_min - max(read)) * 60)}" if read else "no reading yet"
    limiting = f"{words.NAMES.get(suit.limiting, suit.limiting)} limits, " if suit.limiting else ""
    head = tag("div", span("suit-name", wearer), span("quiet", f" {limiting}{age}"), span("quiet wide-only", f", suit {name}"),
               class_="suit-head")
    rows = [_row(name, consumable, one, suit, state) for consumable, one in suit.consumables.items()]
    return tag("div", head, *rows, class_="suit")


def _row(suit_name: str, name: str, one: ConsumableState, suit: SuitState, state: SortieState) -> Markup:
    said = words.amount(one.left, name) if one.left is not None else "no reading"
    margin = None if one.assumed else one.margin_min
    if one.assumed:
        verdict = span("quiet", "rate assumed")
    elif margin is None:
        verdict = span("quiet", f"of {words.amount(one.loaded, name, 'nearest')}")
    else:
        end = story.expected_pet_min(state.end)
        held = story.suit_lasts(margin, one.reserve_reached_pet_min, end)
        phrase = words.suit_margin_short(margin) if margin >= 60 else str(held).replace("under 1 min", "0 min")
        low = shape("caution", "low margin") if margin < CLOSE_MARGIN_MIN else NOTHING
        short = shape("warning", "short") if margin < 0 else low
        verdict = text(phrase + " ") + short
    if BELOW_RESERVE in one.flags:
        verdict = text("below reserve ") + shape("warning", "below reserve")
    elif odd := next((word for flag, word in ODD.items() if flag in one.flags), None):
        is_short = margin is not None and margin < 0
        short_odd = odd.removeprefix("reading ")
        verdict = text(f"{short_odd}, ") + verdict if is_short else text(f"{odd} ") + shape("caution", odd)
    first = "limiting" if suit.limiting == name else None
    called, _, rest = words.NAMES.get(name, name).partition(" ")
    named = text(called) + (span("wide-only", f" {rest}") if rest else NOTHING)
    how = (
        f"{_why(name, one)} Left {said}, reserve {words.amount(one.reserve, name, 'up')}, "
        f"need to the {words.which_end(state.end)} {words.amount(one.need, name, 'up')}, to its P90 "
        f"{words.amount(one.need_p90, name, 'up')}, loaded {words.amount(one.loaded, name, 'nearest')}"
        f"{'' if one.assumed else words.at_plan_pace(state.end, one.margin_plan_pace_min)}."
    )
    return tag(
        "div", tag("span", tag("span", named, class_=first), class_="suit-what"), span("suit-left", said), _bar(one),
        tag("span", verdict, class_="suit-verdict"), class_="suit-row", **basis(f"{suit_name}-{name}", how),
    )


def _bar(one: ConsumableState) -> Markup:
    """The amount left as a bar, the reserve as a zone at its start, the reserve plus the need as a line."""
    def place(value: float) -> str:
        return f"{max(0.0, min(100.0, 100 * value / one.loaded)):.1f}%"

    parts = [tag("rect", class_="bar-ground", x=0, width="100%", y=3, height=12)]
    if one.left is not None:
        parts.append(tag("rect", class_="bar-left", x=0, width=place(one.left), y=5, height=8))
    parts.append(tag("rect", class_="bar-reserve", x=0, width=place(one.reserve), y=3, height=12))
    for value, name in ((one.need, "bar-need"), (one.need_p90, "bar-need-late")):
        if value is not None:
            at = place(value + one.reserve)
            parts.append(tag("line", class_=name, x1=at, x2=at, y1=0, y2=18))
    return tag("svg", *parts, class_="suit-bar", aria_hidden="true", width="100%", height=18)


def _why(name: str, one: ConsumableState) -> str:
    """In words, what the figures of a consumable rest on."""
    if one.reading is None:
        rests = "No reading yet: rests on the amount loaded and on the model."
    else:
        factor = f", use {100 * (one.factor - 1):+.0f} % against the model" if one.factor is not None else ""
        rests = f"Rests on {words.amount(one.reading, name)} read at {words.pet_named(one.reading_pet_min)}{factor}."
    if one.doubted is not None:
        read, expected = words.amount(one.doubted.value, name), words.amount(one.doubted.expected, name)
        at = words.pet_named(one.doubted.pet_min)
        rests = f"Rests on {read} read at {at}, where {expected} was to be expected: read it again."
    odd = f" {'; '.join(one.flags)}." if one.flags else ""
    return rests + odd
