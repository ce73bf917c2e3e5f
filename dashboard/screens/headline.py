"""The headline: when the crew is inside and why, each lane against the brief, the least suit margin, the call."""

from __future__ import annotations

from dash import html

from dashboard import story, words
from dashboard.core.base.times import minutes_between
from dashboard.core.plan.model import Plan
from dashboard.core.state.model import LaneState, SortieState, SuitState
from dashboard.figures.marks import ahead_mark, margin_mark, svg
from dashboard.markup import NOTHING, Markup, tag, text
from dashboard.screens.ids import Headline
from dashboard.screens.markup import badge, basis, extra, line, span, unbroken

BEHIND_CAUTION_MIN, BEHIND_WARNING_MIN = 10.0, 20.0
CLOSE_MARGIN_MIN = 15.0
OVER = ("done", "broken off")
# For a chance in time that is below the wanted one: least chance, kind of badge.
BANDS = ((0.5, "caution"), (0.0, "warning"))

_HEADS = (
    (Headline.END, "Crew inside"),
    (Headline.LANES, "Against the brief"),
    (Headline.SUIT, "Least suit margin to that end"),
    (Headline.DECISION, "Call"),
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
        **extra({"aria-label": "Headline"}),
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
        Headline.DECISION: _call(plan, state),
    }


def _withheld(doubt: str) -> Markup:
    """The text shown in place of the figures while PET zero is in doubt."""
    return span("figure-words", "withheld: enter PET zero") + tag("div", text(doubt), class_="figure-side")


def _figure(phrase: words.Phrase) -> Markup:
    if not phrase.figure:
        return span("figure-words", phrase.words)
    return span("figure", phrase.figure) + text(" ") + span("figure-unit", phrase.words)


def _end(state: SortieState) -> Markup:
    """One story: when the crew is inside, against which limit, how likely in time, and the largest cause."""
    end, limit = state.end, state.limit
    if end.actual_pet_min is not None:
        return _is_in(state)
    expected = story.expected_pet_min(end)
    if expected is None or end.plan_pace_pet_min is None:
        return span("figure-words", "no crew task in the plan of record")
    p10 = None if end.p90_pet_min is None else limit.pet_min - end.p90_pet_min
    p90 = None if end.p10_pet_min is None else limit.pet_min - end.p10_pet_min
    mark = svg(margin_mark(limit.pet_min - expected, p10, p90), f"Against the limit: {story.inside(end, limit)}")
    how = (
        f"{story.inside(end, limit)}. P50 of the projection that uses the pace so far; at plan pace "
        f"{words.pet_named(end.plan_pace_pet_min, 'up')}. Limit set by {limit.set_by}. "
        f"Chain at plan pace: {' > '.join(end.chain) or 'all done'}. "
        f"Rests on {state.basis.plan}, {state.basis.events} events, as of {words.pet_named(state.pet_min)}."
    )
    by = span("figure-lead", "Inside by ") + span("figure", words.pet_named(expected, "up"))
    held = story.against_limit(expected, limit.pet_min)
    row = tag("div", by + text(" ") + span("figure-held", unbroken(str(held))), class_="figure-row", **basis("end", how))
    spread = "" if end.p10_pet_min is None else words.between(end.p10_pet_min, end.p90_pet_min)
    pace = f"; at plan pace {words.pet_named(end.plan_pace_pet_min, 'up')}"
    basis_of_end, reason = f"{spread}{pace}", f"; limit: {limit.set_by}"
    if end.p50_pet_min is None:
        basis_of_end, pace = "this is the end at plan pace", ""
    if limit.set_by.startswith("planned"):  # with little room this reason goes; that of a suit goes before the plan pace
        first = tag("div", line(basis_of_end), span("wide-only second", reason), class_="figure-line")
    else:
        spread_alone = line(basis_of_end.removesuffix(pace))
        first = tag("div", spread_alone, span("wide-only second", pace), text(reason), class_="figure-line")
    marks = tag("div", mark, _how_sure(state), class_="mark-row")
    why = story.reconciled(end, limit, state.advice.confidence)
    cause = story.cause(end, limit, state.advice.confidence) or why or "On the brief: nothing moves the end"
    lines = first + _line(cause, strong=True) + (_line(why) if why and why != cause else NOTHING)
    shown = tag("div", row, marks, lines, class_="withheld-when-stale")
    withheld = tag("div", span("figure-words", f"withheld: {_silence(state)}"), class_="shown-when-stale")
    return shown + withheld


def _line(said: str, *, strong: bool = False) -> Markup:
    return tag("div", line(said), class_="figure-line strong" if strong else "figure-line")


def _is_in(state: SortieState) -> Markup:
    """The end as it was, once the sortie is over."""
    end, limit = state.end, state.limit
    at = end.actual_pet_min
    held = "" if at is None else str(story.against_limit(at, limit.pet_min, "down"))
    row = tag("div", span("figure-lead", "Inside at "), span("figure", words.pet_named(at)), text(" "),
              span("figure-held", unbroken(held)), class_="figure-row", title=f"{words.is_in(end)}.")
    mark = svg(margin_mark(end.margin_min), "Against the limit")
    closed = _line(f"sortie closed at {words.pet_named(end.closed_pet_min)}")
    late = sum(one.min for one in end.because) >= words.ON_THE_BRIEF_WITHIN_MIN
    cause = _line(story.cause(end), strong=True) if late else NOTHING
    return row + tag("div", mark, span("quiet", "sortie over"), class_="mark-row") + closed + cause


def _how_sure(state: SortieState) -> Markup:
    """The chance in time; a badge while it is below the wanted one."""
    end = state.end
    said = "spread not known yet" if end.in_by_limit is None else story.chance_in_time(end.in_by_limit)
    if end.in_by_limit is not None:
        if not state.advice.needed:
            return span("quiet", said)
        return badge(next(kind for least, kind in BANDS if end.in_by_limit >= least), said)
    margin_min = state.limit.pet_min - (end.plan_pace_pet_min or 0.0)
    if margin_min < 0:
        return badge("warning", f"past the limit, {said}")
    return badge("caution", f"low margin, {said}") if margin_min < CLOSE_MARGIN_MIN else span("quiet", said)


def _silence(state: SortieState) -> str:
    """The time since the last event, in words."""
    if state.basis.last_event_at is None:
        return "no event yet"
    return f"no event for {words.duration(minutes_between(state.basis.last_event_at, state.now), 'down')}"


def _lanes(state: SortieState) -> Markup:
    """The crew lanes in the order of the plan: their places never change. The one with the greatest delay is marked."""
    crew = {name: lane for name, lane in state.lanes.items() if lane.kind == "crew"}
    shown = {name: words.whole(lane.ahead_min, "down") for name, lane in crew.items() if lane.ahead_min is not None}
    least = min(shown.values(), default=0)
    worst = [name for name, ahead in shown.items() if ahead == least and least < 0]
    marked = worst[0] if len(worst) == 1 and len(crew) > 1 else None
    return tag("div", *(_lane(name, lane, state, is_worst=name == marked) for name, lane in crew.items()), class_="headline-pair")


def _named(name: str) -> Markup:
    return span("figure-name", name) + text(" ")


def _lane(name: str, lane: LaneState, state: SortieState, *, is_worst: bool) -> Markup:
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
    worst = tag("div", line("greatest delay"), class_="figure-line strong greatest") if is_worst else NOTHING
    shown = tag("div", head, class_="figure-row") + row + (_held(lane, state) or worst)
    return tag("div", shown, class_="rests-on-events", **basis(f"lane-{name}", how))


def _held(lane: LaneState, state: SortieState) -> Markup:
    """What of a lane is on hold, and for how long; nothing while it is not on hold. The reason stands on its card."""
    if lane.state != "on hold":
        return NOTHING
    task = state.tasks.get(lane.task or "")
    what = "lane" if lane.held or task is None else lane.task
    said = f"{what} {words.on_hold(None if task is None else task.hold_since_pet_min, state.pet_min)}"
    return tag("div", line(said), class_="figure-line strong held")


def _contingency(plan: Plan, state: SortieState) -> str:
    """The contingencies of which a step still remains: ``contingency: Arm stopped``; empty when there is none."""
    left = {name for name, task in state.tasks.items() if task.in_plan and task.state not in OVER}
    going_on = [
        one.title or one.id for one in plan.contingencies
        if state.contingencies.get(one.id) and any(step.id in left for step in one.tasks)
    ]
    return f"contingency: {'; '.join(going_on)}" if going_on else ""


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
    suit = state.suits[name]
    phrase = story.suit_lasts(margin, suit.limit_pet_min, story.expected_pet_min(state.end))
    wearer = ", ".join(suit.lanes) or f"suit {name}"
    consumable = words.NAMES.get(limiting or "", limiting or "")
    alert = badge("warning", "short") if margin < 0 else badge("caution", "low margin") if margin < CLOSE_MARGIN_MIN else NOTHING
    head = _named(f"{wearer} {consumable.partition(' ')[0]}") + _figure(phrase)
    mark = svg(margin_mark(margin), f"{wearer} {consumable}: {phrase}")
    how = (
        f"When the reserve of suit {name}'s {consumable} is reached, less the {words.which_end(state.end)}"
        f"{words.at_plan_pace(state.end, suit.margin_plan_pace_min)}; the least of all suits and consumables, as of "
        f"{words.pet_named(state.pet_min)}. The rows of the suits say what each rests on."
    )
    lasts = f"lasts to {words.pet_named(suit.limit_pet_min)} with its reserve kept"
    return tag(
        "div", tag("div", head, class_="figure-row"), tag("div", mark, alert, class_="mark-row"),
        _line(lasts), _line(_measured(suit, limiting, state)), class_="rests-on-readings", **basis("suit", how),
    )


def _measured(suit: SuitState, limiting: str | None, state: SortieState) -> str:
    """Whether the figure rests on a reading, and how old that is."""
    one = suit.consumables.get(limiting or "")
    if one is None or one.reading_pet_min is None:
        return "modelled, not measured: no reading yet"
    return f"read {words.age((state.pet_min - one.reading_pet_min) * 60)}, modelled since"


def _call(plan: Plan, state: SortieState) -> Markup:
    """The call, what goes now and by when, what can wait, and what changed the call."""
    advice = state.advice
    how = (
        f"Judged at every event and at least every minute. {advice.call_why} {story.call_changed(advice)}".strip()
        + f" As of {words.pet_named(state.pet_min)}."
    )
    if state.ended:
        return span("figure-words", "the sortie is over")
    contingency = _contingency(plan, state)
    going_on = _line(contingency, strong=True) if contingency else NOTHING
    comm = story.no_comm_at(plan, advice.call_by_pet_min, state.pet_min)
    room = " wide-only" if comm or contingency else ""  # where there is little room, these come first
    since = tag("div", line(story.call_changed(advice)), class_=f"figure-line call-since{room}")
    if advice.call == "decide":
        by = advice.call_by_pet_min
        head = badge("caution", "decide") + text(" ") + span("figure", "now" if by is None else f"by {words.pet_named(by)}")
        row = tag("div", head, class_="figure-row")
        lines = _line(story.goes_now(advice, state.pet_min), strong=True) + (_line(comm, strong=True) if comm else NOTHING)
        lines += _line(story.can_wait(advice))
        return tag("div", row, lines, going_on, since, class_="rests-on-events", **basis("decision", how))
    row = tag("div", span("figure-words", story.CALLS[advice.call]), class_="figure-row")
    said = story.goes_now(advice) or advice.finding or ("" if advice.call is not None else advice.call_why)
    lines = _line(said) if said else NOTHING
    if advice.call == "none" and advice.needed and not advice.finding:
        lines += _line(advice.call_why)
    if advice.call == "none":  # that there is nothing to decide may no longer be so
        silent = tag("div", span("figure-words", f"withheld: {_silence(state)}"), class_="shown-when-stale")
        return tag("div", row, lines, class_="withheld-when-stale", **basis("decision", how)) + silent + going_on
    lines += _line(comm, strong=True) if comm else NOTHING
    return tag("div", row, lines, going_on, since if advice.call == "expect" else NOTHING,
               class_="rests-on-events", **basis("decision", how))
