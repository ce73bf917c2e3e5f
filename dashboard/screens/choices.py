"""The choices: whether something must be given up, and the ways to do it."""

from __future__ import annotations

from dash import html

from dashboard import words
from dashboard.core.plan import Plan
from dashboard.core.sortie_state import Choice, SortieState
from dashboard.screens.ids import Choices
from dashboard.screens.markup import Piece, span, tag, text


def layout(plan: Plan) -> html.Section:
    """One panel; the caution stands in it whatever it shows."""
    return html.Section(
        id=Choices.REGION,
        className="panel choices",
        children=[html.H2("Choices"), html.Div("no message yet", id=Choices.BODY, className="choices-body")],
    )


def snapshot(plan: Plan, state: SortieState) -> dict[str, Piece]:
    """The cards of the choices, or why there are none."""
    advice = state.advice
    caution = tag("p", text(advice.caution), class_="caution-line")
    if advice.needed is None:
        said = "Deferral advice is not computed yet. Decide from the lane sheet; enter it as a decision in the log."
        return {Choices.BODY: tag("p", text(said)) + caution}
    if not advice.choices:
        return {Choices.BODY: tag("p", text("Nothing needs to be given up.")) + caution}
    cards = tag("div", *(_card(choice, state) for choice in advice.choices), class_="choice-cards")
    return {Choices.BODY: cards + caution}


def _card(choice: Choice, state: SortieState) -> Piece:
    rows = [
        ("back in", f"{words.pet_named(choice.end_pet_min, 'up')}, {words.chance(choice.in_by_limit)} sure"),
        ("gives up", ", ".join(f"{lost:g} of priority {c}" for c, lost in choice.value_lost.items()) or "nothing"),
        ("decide by", words.pet_named(choice.decide_by_pet_min)),
    ]
    table = "".join(tag("div", span("quiet", head), span("", said), class_="choice-row") for head, said in rows)
    return tag("div", tag("div", text(choice.why), class_="choice-why"), table, class_="choice")
