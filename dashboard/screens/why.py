"""The dialog Why these numbers: the drift so far, and what each derived number rests on. It is made on request only."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from dash import html

from dashboard import story, words
from dashboard.core.plan.model import Plan, Suit
from dashboard.core.schedule.expected import PACE
from dashboard.core.state.history import DriftPoint
from dashboard.core.state.model import ConsumableState, Driver, SortieState, SuitState
from dashboard.core.suits.budget import rate_origin
from dashboard.figures.drift import drift_svg
from dashboard.markup import NOTHING, Markup, joined, tag, text
from dashboard.screens.ids import Why
from dashboard.screens.markup import badge, extra

SUIT_HEADS = ("Consumable", "Left now", "Last read", "Reserve", "Need to the end", "Use per hour", "Against the model",
              "Reserve reached", "Margin", "At plan pace", "Findings")  # fmt: skip


def button() -> html.Button:
    """The button that opens the dialog."""
    return html.Button("Why these numbers", id=Why.OPEN, className="sheet-button why-open", title="Or press y")


def dialog() -> html.Dialog:
    """The dialog before it is opened."""
    return html.Dialog(
        id=Why.DIALOG,
        className="form why",
        **extra({"aria-labelledby": Why.TITLE}),
        children=[
            html.Div(
                className="why-head",
                children=[
                    html.H2("Why these numbers", id=Why.TITLE),
                    html.Button("Refresh", id=Why.RENEW, className="button"),
                    html.Button("Close", id=Why.CLOSE, className="button strong"),
                ],
            ),
            html.Div(id=Why.BODY, className="why-body", tabIndex="0"),
        ],
    )


def why_html(plan: Plan, state: SortieState, drift: Sequence[DriftPoint]) -> Markup:
    """The content of the dialog for one state.

    Parameters
    ----------
    plan : Plan
        As briefed.
    state : SortieState
    drift : sequence of DriftPoint
        Up to this state; empty before PET zero.

    Returns
    -------
    Markup
    """
    return joined((_basis(state), _drift(state, drift), _end(state), _pace(state), _suits(plan, state)))


def _basis(state: SortieState) -> Markup:
    basis = state.basis
    said = [f"As of {words.pet_named(state.pet_min)}, {words.utc_named(state.now)}."]
    said.append(f"Rests on {basis.plan}, and on {words.how_many(basis.events, 'event')}.")
    if basis.last_event_at is not None:
        said.append(f"Last event: {basis.last_event}, {words.utc_named(basis.last_event_at)}.")
    said.append(f"PET zero: {words.utc_named(basis.pet_zero)}, from the {basis.pet_zero_from}.")
    return tag("p", text(" ".join(said)), class_="why-basis") + tag(
        "p", text(state.advice.caution), class_="caution-line"
    )


def _drift(state: SortieState, drift: Sequence[DriftPoint]) -> Markup:
    if not drift:
        return _part("Drift so far", _said("Nothing to draw before PET zero."))
    how = (
        f"Computed at {words.how_many(len(drift), 'instant')} from the events known at each: at every event, or at a selection "
        f"if there are many, and now."
    )
    return _part("Drift so far", tag("div", drift_svg(drift), class_="why-strip rests-on-events"), _said(how))


def _end(state: SortieState) -> Markup:
    end, limit = state.end, f"Limit: {words.pet_named(state.limit.pet_min)}, set by {state.limit.set_by}."
    if end.actual_pet_min is not None:
        return _part("The end", _said(f"{words.is_in(end)}. {limit}"))
    why = state.not_known.get("end.in_by_limit")
    pace = f"At plan pace: {words.pet_named(end.plan_pace_pet_min, 'up')}, {words.margin(end.margin_min)}. {limit}"
    if end.p50_pet_min is None:
        spread = f"Spread and chance: {why or words.NOT_KNOWN}."
    else:
        spread = (
            f"Expected: P50 {words.pet_named(end.p50_pet_min, 'up')}, {words.between(end.p10_pet_min, end.p90_pet_min)}. "
            f"In by the planned limit less reserve, and before any suit reserve is reached: "
            f"{story.chance_in_time(end.in_by_limit)}, wanted {words.chance(state.advice.confidence)}."
        )
    causes = _said(_because(state))
    shown = tag("div", _said(pace), _said(spread), causes, _said(_chain(state)), class_="withheld-when-stale")
    withheld = tag("div", _said("Withheld: the log is stale."), class_="shown-when-stale")
    drivers = (
        _table("What drives the end and its spread", ("Task", "Sets the end in", "Share of the spread"),
               [[text(said) for said in _driver(one, state)] for one in end.drivers])
        if end.drivers else _said(f"What drives the spread: {why or words.NOT_KNOWN}.")
    )  # fmt: skip
    return _part("The end", shown, withheld, tag("div", drivers, class_="rests-on-events"))


def _because(state: SortieState) -> str:
    """Every cause of the difference between the briefed and the projected end, with its minutes."""
    named = [f"{words.because_said(one)} ({one.min:+.0f} min)" for one in state.end.because if round(one.min)]
    return f"Against the brief: {'; '.join(named)}." if named else "Against the brief: no difference."


def _chain(state: SortieState) -> str:
    chain, waits = state.end.chain, state.end.chain_starts_with
    if not chain:
        return "No task of the crew remains that sets the end."
    titles = {name: task.title for name, task in state.tasks.items()}
    named = ", then ".join(f"{name} {titles.get(name, '')}".strip() for name in chain)
    first = state.tasks[chain[0]].state
    held = words.waits_for(waits, titles, state.tasks) or ("in work now" if first == "in work" else "free to start now")
    return f"Sets the end: {named}. It starts with {chain[0]}, {held}."


def _driver(one: Driver, state: SortieState) -> tuple[str, str, str]:
    spread = words.share(one.spread_share)
    if one.task == PACE:
        return "the pace that all tasks share", "does not apply", spread
    return f"{one.task} {state.tasks[one.task].title}".strip(), f"{words.share(one.sets_end)} of simulated runs", spread


def _pace(state: SortieState) -> Markup:
    rows = []
    for name, lane in state.lanes.items():
        rows.append([text(name), text(words.pace(lane)), text(words.how_many(lane.pace_tasks, "finished task"))])
    return _part("Pace", tag("div", _table("Learned from this sortie", ("Lane", "Durations", "From"), rows),
                             class_="rests-on-events"))  # fmt: skip


def _suits(plan: Plan, state: SortieState) -> Markup:
    if not plan.suits:
        return _part("Suits", _said("The plan names no suit. Add [[suit]] tables to follow the suit budget."))
    shown = [tag("div", _suit(suit, state.suits[suit.id]), class_="rests-on-readings") for suit in plan.suits]
    origins = {
        f"{words.NAMES[name]}: {rate_origin(name, given)}": None
        for suit in plan.suits for name, given in suit.consumables().items()
    }  # fmt: skip
    listed = tag("ul", *(tag("li", text(said)) for said in origins))
    return _part("Suits", *shown, tag("h4", text("Where the rates come from")), listed)


def _suit(suit: Suit, seen: SuitState) -> Markup:
    wearer = ", ".join(seen.lanes) or "worn by nobody"
    limiting = f", limiting: {words.NAMES[seen.limiting]}" if seen.limiting else ""
    rows = [_consumable(name, seen.consumables[name]) for name in suit.consumables()]
    return _table(f"Suit {suit.id}, {wearer}{limiting}", SUIT_HEADS, rows)


def _consumable(name: str, one: ConsumableState) -> list[Markup]:
    read = "none yet"
    if one.reading is not None:
        read = f"{words.amount(one.reading, name)} at {words.pet_named(one.reading_pet_min)}"
    if one.doubted is not None:
        expected = words.amount(one.doubted.expected, name)
        read = f"{words.amount(one.doubted.value, name)} at {words.pet_named(one.doubted.pet_min)}, {expected} expected"
    is_short = one.margin_min is not None and one.margin_min < 0 and not one.assumed
    margin = "sets no limit" if one.assumed else words.suit_margin(one.margin_min)
    short = text(" ") + badge("warning", "short") if is_short else NOTHING
    return [
        text(words.NAMES[name]), text(words.amount(one.left, name)), text(read),
        text(words.amount(one.reserve, name, "up")), text(words.amount(one.need, name, "up")),
        text(words.amount(one.rate_per_h, name, "up")), text(words.against(one.factor)),
        text(words.pet_named(one.reserve_reached_pet_min)), text(margin) + short,
        text("" if one.assumed else words.suit_margin(one.margin_plan_pace_min)),
        text("; ".join(one.flags) or "none"),
    ]  # fmt: skip


def _part(head: str, *body: Markup) -> Markup:
    return tag("section", tag("h3", text(head)), *body)


def _said(sentence: str) -> Markup:
    return tag("p", text(sentence))


def _table(caption: str, heads: Sequence[str], rows: Iterable[Sequence[Markup]]) -> Markup:
    head = tag("tr", *(tag("th", text(one), scope="col") for one in heads))
    body = joined(tag("tr", tag("th", row[0], scope="row"), *(tag("td", cell) for cell in row[1:])) for row in rows)
    return tag("table", tag("caption", text(caption)), tag("thead", head), tag("tbody", body))
