"""The words of the story: end, call and choices, the same on the board, the command line and in the reports."""

from __future__ import annotations

from typing import Any

import pytest

from dashboard import story
from dashboard.core.deferral.advice_model import Advice, Choice, IfNotDecided, Item, Rung
from dashboard.core.events.change import Change
from dashboard.core.schedule.because import Because, MayMiss
from dashboard.core.state.model import EndState, LimitState

LIMIT = LimitState(pet_min=390.4, set_by="planned limit less reserve")


def end(**given: Any) -> EndState:
    usual = {"p50_pet_min": 446.2, "plan_pace_pet_min": 389.0, "in_by_limit": 0.06, "actual_pet_min": None, "because": []}
    return EndState.model_construct(**{**usual, "p10_pet_min": 391.0, "p90_pet_min": 457.0, **given})


@pytest.mark.parametrize(
    ("at", "text"),
    [(446.2, "57 min past the limit PET 6:30"), (380.4, "9 min before the limit PET 6:30"), (389.2, "at the limit PET 6:30"),
     (450.0, "1 h past the limit PET 6:30")],
)  # fmt: skip
def test_the_distance_to_the_limit_is_that_of_the_two_times_as_they_are_shown(at: float, text: str) -> None:
    """PET 7:26.2 is shown as 7:27 and the limit 6:30.4 as 6:30: 57 min apart, and not 56."""
    assert str(story.against_limit(at, LIMIT.pet_min)) == text


def test_the_end_is_one_sentence() -> None:
    """Expected, at plan pace, and as it was."""
    assert story.inside(end(), LIMIT) == "Inside by PET 7:27: 57 min past the limit PET 6:30; chance in time 6 %"
    paced = end(p50_pet_min=None, in_by_limit=None)
    assert story.inside(paced, LIMIT) == "Inside by PET 6:29 at plan pace: 1 min before the limit PET 6:30"
    assert story.inside(end(actual_pet_min=380.6), LIMIT) == "Inside at PET 6:20, 10 min before the limit PET 6:30"


@pytest.mark.parametrize(
    ("given", "text"),
    [
        ({"p50_pet_min": 380.0, "in_by_limit": 0.62}, "One simulated run in ten ends after PET 7:37."),
        ({"p50_pet_min": 380.0, "in_by_limit": 0.05}, "Most simulated runs end past the limit"),
        ({"p50_pet_min": 380.0, "p90_pet_min": 388.0, "in_by_limit": 0.7}, "Some simulated runs end past the limit"),
        (
            {"p50_pet_min": 380.0, "p90_pet_min": 388.0, "in_by_limit": 0.7, "short_of": "suit A water"},
            "In some simulated runs suit A water reaches its reserve first.",
        ),
        (
            {"p50_pet_min": 380.0, "p90_pet_min": 395.0, "in_by_limit": 0.6, "short_of": "suit A water"},
            "In some simulated runs suit A water reaches its reserve first.",
        ),
        ({"p50_pet_min": 380.0, "in_by_limit": 0.93}, None),
        ({}, None),
    ],
)
def test_a_low_chance_beside_an_end_in_time_is_explained(given: dict[str, Any], text: str | None) -> None:
    """Nothing is said where the end is past the limit, or the chance is as wanted."""
    said = story.reconciled(end(**given), LIMIT, 0.9)
    assert text in said if text else said == ""


SAVED = Because(what="waits", min=-14.0)
RISK = MayMiss(task="T370", window="daylight", until_pet_min=353.0, next_pet_min=390.0, share=0.19)
WATER = LIMIT.model_copy(update={"pet_min": 367.0, "set_by": "suit B water"})
WAITING = "Mostly: 14 min of briefed waiting is not needed"
MISSED = "Mostly: T370 misses daylight until PET 5:53 in 19 % of simulated runs"


@pytest.mark.parametrize(
    ("given", "limit", "text"),
    [
        ({"in_by_limit": 0.97, "may_miss": [RISK]}, LIMIT, WAITING),
        ({"in_by_limit": 0.81, "may_miss": [RISK]}, LIMIT, MISSED),
        ({"in_by_limit": 0.81}, LIMIT, ""),
        ({"in_by_limit": 0.44, "p50_pet_min": 369.0}, WATER, "Mostly: suit B water lasts only to PET 6:07 with its reserve kept"),
        ({"because": [Because(what="holds", min=57.0)], "p50_pet_min": 447.0, "may_miss": [RISK]}, LIMIT,
         "Mostly: holds cost 57 min"),
        ({"because": [Because(what="spread", min=57.0)], "p50_pet_min": 447.0, "may_miss": [RISK]}, LIMIT, MISSED),
    ],
)
def test_a_low_chance_is_told_with_the_cause_of_it(given: dict[str, Any], limit: LimitState, text: str) -> None:
    """What made the end earlier than briefed is the cause of no trouble."""
    assert story.cause(end(**{"p50_pet_min": 373.0, "because": [SAVED], **given}), limit, 0.9) == text


@pytest.mark.parametrize(
    ("reached", "to", "text"),
    [(398.9, 447.2, "50 min short"), (398.0, 390.2, "7 min in hand"), (391.5, 390.2, "under 1 min in hand")],
)
def test_a_suit_is_short_by_the_minutes_between_the_times_shown(reached: float, to: float, text: str) -> None:
    """Lasting to PET 6:38 against an end of PET 7:28."""
    assert str(story.suit_lasts(reached - to, reached, to)) == text


def test_what_is_missing_for_the_wanted_chance_is_said() -> None:
    """With the chance that it is missing for."""
    assert story.certain_enough(67.2, 0.9) == "for a chance of 90 % it would have to end 1 h 08 min earlier"
    assert story.certain_enough(0.0, 0.9) == ""


def test_costs_are_counted_in_tasks() -> None:
    """Whole ones and cut ones apart, of all of the class; a class without a named task is told by its value."""
    priorities = {"A": 1, "B": 1, "C": 3, "D": 3, "E": 3}
    assert story.cost(Change(defer=("A",), break_off=("B",)), {"1": 3.0}, priorities) == "2 of 2 priority-1 tasks"
    cut = Change(defer=("C",), trim={"D": 5.0})
    assert story.cost(cut, {"3": 1.4}, priorities) == "1 of 3 priority-3 tasks; 1 of 3 priority-3 tasks cut short"
    assert story.cost(Change(choose={"x": "y"}), {"2": 1.03}, priorities) == "1.1 in value of priority 2"
    assert story.cost(Change(move={"A": "EV2"}), {}, priorities) == "nothing of value"


CHOICE = Choice(
    defer=("A", "C"), end_pet_min=380.0, in_by_limit=0.9, decide_by_pet_min=281.0, value_lost={}, why="So.",
    items=[
        Item(task="A", how="defer", decide_by_pet_min=281.0, now=True),
        Item(task="C", how="defer", decide_by_pet_min=320.0, now=False),
    ],
    if_not_decided=IfNotDecided(end_pet_min=390.0, short_by_min=5.0),
)


def advice(**given: Any) -> Advice:
    told = {"needed": True, "confidence": 0.9, "in_by_limit": 0.06, "caution": "Advisory.", "call_why": "Because.", **given}
    return Advice(**told)


def test_the_call_rests_on_the_choice_that_holds_what_goes_now_or_has_its_time() -> None:
    """With B to go now it is the second choice, and what of that can wait. Else the one with the time of the call."""
    def one(task: str, by: float) -> Choice:
        items = [Item(task=t, how="defer", decide_by_pet_min=at, now=t == task) for t, at in ((task, by), ("Z", 90.0))]
        given = {"end_pet_min": None, "in_by_limit": None, "value_lost": {}, "why": ""}
        return Choice(**given, defer=[task, "Z"], decide_by_pet_min=by, items=items)

    given = {"needed": True, "caution": "", "choices": [one("A", 60.0), one("B", 40.0)]}
    asks = Advice(**given, call="decide", call_by_pet_min=40.0, call_for_now=Change(defer=("B",)))
    assert story.choice_of_call(asks) == (2, given["choices"][1])
    assert story.can_wait(asks) == "1 more of choice 2 can wait until PET 1:30 and may prove needless"
    assert story.choice_of_call(Advice(**given, call="expect", call_by_pet_min=40.2)) == (2, given["choices"][1])
    assert story.choice_of_call(Advice(**given, call="expect", call_by_pet_min=50.0)) == (1, given["choices"][0])
    assert story.choice_of_call(Advice(needed=True, caution="")) is None


def test_what_a_part_wins_is_said_in_minutes() -> None:
    """Less than a minute is not told as none: it may still make the wanted chance."""
    part = Item(task="A", how="defer", decide_by_pet_min=60.0, now=True)
    assert [story.item_wins(part.model_copy(update={"wins_min": w})) for w in (None, 0.2, -3.0, 1.9, 75.0)] == [
        "", "under 1 min", "under 1 min", "1 min", "1 h 15 min"]
    assert story.item_wins(part.model_copy(update={"along_with": "B"})) == "with B"


def test_the_call_is_told_with_what_goes_now_what_can_wait_and_what_changed_it() -> None:
    """An expected cut takes nothing now, so nothing of it is called needless; a call that is not judged says only that."""
    told = advice(
        call="decide", call_by_pet_min=281.0, call_for_now=Change(defer=("A",)), call_since_pet_min=224.0, call_changed_by="hold",
        choices=[CHOICE],
    )
    assert story.call_lines(told) == [
        "Decide by PET 4:41: defer A; 1 more of choice 1 can wait until PET 5:20 and may prove needless. Because.",
        "The call stands since PET 3:44: hold.",
    ]
    expected = story.call_lines(advice(call="expect", call_by_pet_min=281.0, call_since_pet_min=224.0, choices=[CHOICE]))
    assert expected == [
        "Expect a cut: nothing goes now; the first decision is due by PET 4:41. Because.",
        "The call stands since PET 3:44, when it was first judged.",
    ]
    assert story.call_lines(advice(call=None)) == ["Because."]
    assert story.call_lines(advice(call="none", needed=False, finding="As briefed 61 %.")) == ["As briefed 61 %."]


def test_where_the_chance_is_too_low_and_nobody_is_called_the_reason_is_said() -> None:
    """An alert that points to the call would else point to nothing."""
    assert story.call_lines(advice(call="none")) == ["No cut is called for. Because."]


@pytest.mark.parametrize(("wanted", "reached", "inside"), [(None, True, "PET 6:00"), (0.9, True, "PET 6:11"), (0.9, False, "")])
def test_a_rung_at_plan_pace_ends_at_plan_pace(wanted: float | None, reached: bool, inside: str) -> None:
    """The others end as expected."""
    rung = Rung(wanted=wanted, reached=reached, end_pet_min=360.0, p50_pet_min=371.0)
    assert story.rung_inside(rung) == inside


def test_a_choice_is_held_against_the_limit_that_comes_first_with_it():
    """The limit of the sortie, or the reserve of a suit."""
    margins = {"A": 200.0, "B": 45.0}
    one = Choice(
        end_pet_min=360.0, in_by_limit=0.9, decide_by_pet_min=None, value_lost={}, why="So.", margin_min=margins,
    )
    assert story.choice_inside(one, 390.0).startswith("Inside by PET 6:00 at plan pace: 30 min before the limit PET 6:30")
    short = one.model_copy(update={"margin_min": {"A": 200.0, "B": 15.0}})
    assert story.choice_inside(short, 390.0).startswith("Inside by PET 6:00 at plan pace: 15 min before the limit PET 6:15")
