"""The result of `advise` as the model that the state carries."""

from __future__ import annotations

import math

from dashboard.core.base.caution import CAUTION
from dashboard.core.deferral.advise import Advised, Proposal
from dashboard.core.deferral.figures import Figures
from dashboard.core.deferral.time_in_hand import GetAheadPlace
from dashboard.core.deferral.to_advice_model import advice_of, choice_of
from dashboard.core.deferral.when_to_decide import PartInTime
from dashboard.core.deferral.wins import Win
from dashboard.core.events.change import Change

CHANGE = Change(defer=("A",), trim={"B": 20.0}, choose={"ending": "short"})


def figures(change: Change, first: float) -> Figures:
    """Figures in which no two numbers are equal, so that none can stand in the place of another."""
    return Figures(
        change, first, first + 1, first + 2, first / 1000, first + 3, f"suit of {first}", {"A": first + 4, "B": math.inf},
        {"A": "water", "B": "oxygen"}, {3: first + 1 / 3}, first + 5, f"because of {first}",
        [PartInTime(part, first + 6, f"by {first}", part.kind == "trim") for part in change.parts()], [],
        {"ending": f"open {first}"},
    )


NOW, THEN = figures(Change(), 100.0), figures(CHANGE, 200.0)
ADVISED = Advised(
    True, "expected", 0.9, NOW, [Proposal(THEN, True, "proof", False, "differs", "why")],
    {"G": GetAheadPlace(None, 1.0, 2.0), "K": GetAheadPlace("A", 3.0, 4.0)}, "obstacle",
)


def test_the_figures_of_a_choice_go_over_field_by_field() -> None:
    """Each in its own field. A margin without end is left out, and classes are named by text, as JSON wants it."""
    choice = advice_of(ADVISED).choices[0]
    assert choice.change() == CHANGE
    assert (choice.end_pet_min, choice.p50_pet_min, choice.p90_pet_min, choice.in_by_limit) == (200, 201, 202, 0.2)
    # Against the expected end, which is a minute after the plan-pace end.
    assert (choice.margin_min, choice.limiting) == ({"A": 203}, {"A": "water", "B": "oxygen"})
    assert (choice.decide_by_pet_min, choice.decide_by) == (205, "because of 200.0")
    assert [item.model_dump() for item in choice.items] == [
        {"task": task, "how": how, "to": to, "decide_by_pet_min": 206, "decide_by": "by 200.0", "wins_min": None,
         "along_with": None, "now": how == "trim"}
        for task, how, to in (("A", "defer", None), ("B", "trim", 20.0), ("ending", "choose", "short"))
    ]
    assert choice.value_lost == {"3": 200.333333}
    assert choice.leaves_open == {"ending": "open 200.0"}
    assert (choice.why, choice.differs, choice.proof) == ("why", "differs", "proof")
    assert (choice.proven, choice.reached) == (True, False)


def test_a_part_closes_earlier_where_the_rest_of_the_choice_lets_its_task_begin_earlier() -> None:
    """A begins at 205.5 min once the rest goes, and not at 206. What begins later with it, or is no deferral, stays as it is."""
    wins = {("defer", "A"): Win(4.0, 205.5), ("trim", "B"): Win(5.0, None)}
    first, second, third = choice_of(THEN, None, why="", wins=wins).items
    assert (first.decide_by_pet_min, second.decide_by_pet_min, third.decide_by_pet_min) == (205.5, 206, 206)
    assert (first.wins_min, second.wins_min, third.wins_min) == (4, 5, None)
    along = choice_of(THEN, None, why="", wins={**wins, ("trim", "B"): Win(None, None, ("defer", "A"))}).items[1]
    assert (along.decide_by_pet_min, along.decide_by, along.along_with) == (205.5, "with A, along with which it goes", "A")
    chain = {**wins, ("trim", "B"): Win(None, None, ("defer", "A")), ("choose", "ending"): Win(None, None, ("trim", "B"))}
    assert [item.decide_by_pet_min for item in choice_of(THEN, None, why="", wins=chain).items] == [205.5, 205.5, 205.5]
    around = {("defer", "A"): Win(None, 205.5, ("trim", "B")), ("trim", "B"): Win(None, None, ("defer", "A"))}
    assert [item.decide_by_pet_min for item in choice_of(THEN, None, why="", wins=around).items] == [205.5, 205.5, 206]
    gone = choice_of(THEN, None, why="", wins={("defer", "A"): Win(None, None, ("defer", "X"))})
    assert gone.items[0].decide_by_pet_min == 206  # X is no part of the choice any more
    assert first.decide_by == "when A would begin, or its lane goes on without it, once the rest is given up"
    before = choice_of(THEN, None, why="", wins={("defer", "A"): Win(4.0, 150.0)})
    assert before.items[0].decide_by_pet_min == before.decide_by_pet_min == 205  # no part closes before its choice
    later = choice_of(THEN, None, why="", wins={("defer", "A"): Win(4.0, 300.0)})
    assert (later.items[0].decide_by_pet_min, later.items[0].decide_by) == (206, "by 200.0")


def test_what_comes_if_nobody_decides_is_that_of_giving_nothing_up() -> None:
    """The figures of now; None when they were not worked out."""
    later = advice_of(ADVISED).choices[0].if_not_decided
    assert later is not None
    assert later.model_dump() == {
        "end_pet_min": 100, "p50_pet_min": 101, "p90_pet_min": 102, "in_by_limit": 0.1, "margin_min": {"A": 103},
        "short_by_min": 103, "short_of": "suit of 100.0",
    }
    assert choice_of(THEN, None, why="").if_not_decided is None


def test_the_advice_itself_goes_over_field_by_field() -> None:
    """With the probability of now, the get-aheads in their order, and the caution."""
    advice = advice_of(ADVISED)
    assert (advice.needed, advice.basis, advice.confidence, advice.in_by_limit) == (True, "expected", 0.9, 0.1)
    assert advice.get_ahead == ["G", "K"]
    assert advice.get_ahead_after == {"G": None, "K": "A"}
    assert (advice.get_ahead_from, advice.get_ahead_until) == ({"G": 1.0, "K": 3.0}, {"G": 2.0, "K": 4.0})
    assert (advice.obstacle, advice.caution) == ("obstacle", CAUTION)
