"""The four headline figures: back in, against the brief, least suit margin, next decision."""

from __future__ import annotations

import math

from dash import html

from dashboard import words
from dashboard.core.base.times import minutes_between
from dashboard.core.plan.model import Plan
from dashboard.core.state.model import LaneState, SortieState
from dashboard.figures.marks import ahead_mark, margin_mark, svg
from dashboard.markup import NOTHING, Markup, tag, text
from dashboard.screens.ids import Headline
from dashboard.screens.markup import badge, basis, span

BEHIND_CAUTION_MIN, BEHIND_WARNING_MIN = 10.0, 20.0
CLOSE_MARGIN_MIN = 15.0
# For a probability of being in by the limit that is below the wanted one: least probability, kind of badge, word.
BANDS = ((0.5, "caution", "doubtful"), (0.1, "warning", "unlikely"), (0.0, "warning", "very unlikely"))

_HEADS = (
    (Headline.END, "Back in"),
    (Headline.LANES, "Against the brief"),
    (Headline.SUIT, "Least suit margin"),
    (Headline.DECISION, "Next decision"),
)


def layout(plan: Plan) -> html.Section:
    """Four fixed boxes.

    Parameters
    ----------
    plan
        Not used; the layout of every region takes it.

    Returns
    -------
    html.Section
    """
    return html.Section(
        id=Headline.REGION,
        className="headline",
        children=[
            html.Div(
                [html.H2(head), html.Div("no message yet", id=id_)],
                className="panel headline-box",
            )
            for id_, head in _HEADS
        ],
    )


def snapshot(plan: Plan, state: SortieState) -> dict[str, Markup]:
    """The content of each box.

    Parameters
    ----------
    plan
        As briefed.
    state
        While its PET zero is in doubt, the figures are withheld.

    Returns
    -------
    dict of str to Markup
        Id of a box -> its content.
    """
    if state.basis.pet_zero_doubt is not None and not state.ended:
        return dict.fromkeys((id_ for id_, _ in _HEADS), _withheld(state.basis.pet_zero_doubt))
    return {
        Headline.END: _end(state),
        Headline.LANES: _lanes(state),
        Headline.SUIT: _suit(plan, state),
        Headline.DECISION: _decision(state),
    }


def _withheld(doubt: str) -> Markup:
    """The text shown in place of the figures while PET zero is in doubt."""
    return span("figure-words", "withheld: enter PET zero") + tag("div", text(doubt), class_="figure-side")


def _figure(phrase: words.Phrase) -> Markup:
    if not phrase.figure:
        return span("figure-words", phrase.words)
    return span("figure", phrase.figure) + text(" ") + span("figure-unit", phrase.words)


def _end(state: SortieState) -> Markup:
    end, limit = state.end, state.limit
    if end.actual_pet_min is not None:
        return _is_in(state)
    if end.plan_pace_pet_min is None:
        return span("figure-words", "no crew task in the plan of record")
    projected_min, kind = (end.plan_pace_pet_min, "plan pace") if end.p50_pet_min is None else (end.p50_pet_min, "expected")
    margin_min = limit.pet_min - projected_min
    phrase = words.margin(margin_min)
    projected = _against_limit(f"{kind} {words.pet_named(projected_min, 'up')}", limit.pet_min)
    p10 = None if end.p90_pet_min is None else limit.pet_min - end.p90_pet_min
    p90 = None if end.p10_pet_min is None else limit.pet_min - end.p10_pet_min
    mark = svg(margin_mark(margin_min, p10, p90), f"Margin against the limit: {phrase}")
    alert = _how_sure(state, margin_min)
    how = (
        f"P50 of the projection that uses the pace so far; at plan pace {words.pet_named(end.plan_pace_pet_min, 'up')}. "
        f"Limit set by {limit.set_by}. Chain at plan pace: {' > '.join(end.chain) or 'all done'}. "
        f"Rests on {state.basis.plan}, {state.basis.events} events, as of {words.pet_named(state.pet_min)}."
    )
    body = tag("div", _figure(phrase), text(" "), projected, class_="figure-row", **basis("end", how))
    shown = tag("div", body, tag("div", mark, alert, class_="mark-row"), class_="withheld-when-stale")
    withheld = tag("div", span("figure-words", f"withheld: {_silence(state)}"), class_="shown-when-stale")
    return shown + withheld


def _against_limit(end: str, limit_min: float) -> Markup:
    """The end and the limit. A small screen leaves out the limit."""
    limit = f"(limit {words.pet_named(limit_min)})"
    return tag("span", text(f"{end} "), span("wide-only", limit), class_="figure-side", title=f"{end} {limit}")


def _is_in(state: SortieState) -> Markup:
    """The end as it was, once the sortie is over."""
    end = state.end
    row = tag("div", _figure(words.margin(end.margin_min)), text(" "),
              _against_limit(f"in at {words.pet_named(end.actual_pet_min, 'nearest')}", state.limit.pet_min),
              class_="figure-row", title=f"{words.is_in(end)}.")
    mark = svg(margin_mark(end.margin_min), "Margin against the limit")
    return row + tag("div", mark, span("quiet", "sortie over"), class_="mark-row")


def _how_sure(state: SortieState, margin_min: float) -> Markup:
    """A badge while the projected end is over the limit or the probability is below the wanted one."""
    end = state.end
    sure = "spread not known yet" if end.in_by_limit is None else f"{words.chance(end.in_by_limit)} sure"
    if margin_min < 0:
        return badge("warning", f"over, {sure}")
    if state.advice.needed and end.in_by_limit is not None:
        kind, word = next((kind, word) for least, kind, word in BANDS if end.in_by_limit >= least)
        return badge(kind, f"{word}, {sure}")
    if end.in_by_limit is None and margin_min < CLOSE_MARGIN_MIN:
        return badge("caution", f"close, {sure}")
    return span("quiet", sure)


def _silence(state: SortieState) -> str:
    """The time since the last event, in words."""
    if state.basis.last_event_at is None:
        return "no event yet"
    return f"no event for {words.duration(minutes_between(state.basis.last_event_at, state.now), 'down')}"


def _lanes(state: SortieState) -> Markup:
    crew = {name: lane for name, lane in state.lanes.items() if lane.kind == "crew"}
    worst = sorted(crew, key=lambda name: math.inf if (ahead := crew[name].ahead_min) is None else ahead)
    return tag("div", *(_lane(name, crew[name], state) for name in worst), class_="headline-pair")


def _named(name: str) -> Markup:
    return span("figure-name", name) + text(" ")


def _lane(name: str, lane: LaneState, state: SortieState) -> Markup:
    phrase = words.ahead(lane.ahead_min)
    unknown = lane.ahead_min is None
    said = "before PET zero" if unknown and state.pet_min < 0 else phrase.words
    if phrase.figure:
        head = _named(name) + span("figure", phrase.figure) + text(" ") + span("figure-unit", phrase.words)
    else:
        head = _named(name) + span("figure-unit", said)
    alert = NOTHING
    if lane.ahead_min is not None and lane.ahead_min <= -BEHIND_CAUTION_MIN:
        alert = badge("warning" if lane.ahead_min <= -BEHIND_WARNING_MIN else "caution", "behind")
    frozen = " The lane is finished: the figure no longer moves." if lane.ahead_frozen else ""
    how = f"Earned PET less now, against {state.basis.plan}, as of {words.pet_named(state.pet_min)}.{frozen}"
    mark = svg(ahead_mark(lane.ahead_min), f"{name}: {phrase}")
    row = tag("div", mark, alert, class_="mark-row")
    return tag("div", tag("div", head, class_="figure-row"), row, class_="rests-on-events", **basis(f"lane-{name}", how))


def _suit(plan: Plan, state: SortieState) -> Markup:
    known = [
        (suit.margin_min, name, suit.limiting) for name, suit in state.suits.items() if suit.margin_min is not None
    ]
    if not state.suits:
        return span("figure-words", "no suit in the plan")
    if not known:
        return span("figure-words", "not known yet") + tag(
            "div", text("the suit budget is not computed; readings are shown below as logged"), class_="figure-side"
        )
    margin, name, limiting = min(known, key=lambda one: one[0])
    phrase = words.suit_margin(margin)
    wearer = ", ".join(state.suits[name].lanes) or f"suit {name}"
    consumable = words.NAMES.get(limiting or "", limiting or "")
    alert = badge("warning", "short") if margin < 0 else badge("caution", "close") if margin < CLOSE_MARGIN_MIN else NOTHING
    head = _named(f"{wearer} {consumable.partition(' ')[0]}") + _figure(phrase)
    mark = svg(margin_mark(margin), f"{wearer} {consumable}: {phrase}")
    how = (
        f"When the reserve of suit {name}'s {consumable} is reached, less the {words.which_end(state.end)}"
        f"{words.at_plan_pace(state.end, state.suits[name].margin_plan_pace_min)}; the least of all suits and consumables, as of "
        f"{words.pet_named(state.pet_min)}. The rows of the suits say what each rests on."
    )
    return tag(
        "div", tag("div", head, class_="figure-row"), tag("div", mark, alert, class_="mark-row"),
        class_="rests-on-readings", **basis("suit", how),
    )


def _decision(state: SortieState) -> Markup:
    advice = state.advice
    if not advice.needed:
        return span("figure-words", "no decision waits")
    sure = f"{words.chance(advice.in_by_limit)} sure, wanted {words.chance(advice.confidence)}"
    alert = tag("div", badge("caution", "decide"), span("figure-side", sure), class_="mark-row decide-row")
    by = [choice.decide_by_pet_min for choice in advice.choices if choice.decide_by_pet_min is not None]
    if not by:
        said = "advice is needed" if not advice.choices else "open now"
        return span("figure-words", said) + alert
    first = min(by)
    head = span("figure", f"by {words.pet_named(first)}") + text(" ")
    row = tag("div", head, span("figure-unit", words.countdown(first - state.pet_min)), class_="figure-row")
    how = (
        "The earliest PET after which one of the choices below is no longer open: the earliest projected start of "
        f"anything it gives up. As of {words.pet_named(state.pet_min)}."
    )
    return tag("div", row, alert, class_="rests-on-events", **basis("decision", how))
