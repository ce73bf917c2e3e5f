"""The four headline figures: what they say, and when they raise a badge."""

from __future__ import annotations

import pytest

from dashboard.core.deferral.advice_model import Advice, Choice
from dashboard.core.state.model import SortieState
from dashboard.screens import headline
from dashboard.screens.ids import Headline
from tests.scenario import follow_at
from tests.screens.html_text import attribute, said
from tests.screens.plans import plain_plan, suited_plan

CAUTION = "Advisory only."
ON_TIME = "0:00 clock\n0:00 start T010"


def shown(state: SortieState, box: Headline, suited: bool = False) -> str:
    """The content of a box."""
    return headline.snapshot(suited_plan() if suited else plain_plan(), state)[box]


def test_the_end_is_a_margin_against_a_named_limit() -> None:
    """The figure comes with the projected end, the limit, and how sure."""
    words = said(shown(follow_at(plain_plan(), ON_TIME, "0:10"), Headline.END))
    assert words.startswith("5 h 13 min in hand expected PET 1:17 (limit PET 6:30)")
    assert "sure" in words


@pytest.mark.parametrize(
    ("in_by_limit", "words"),
    [(0.93, "93 % sure"), (0.65, "▲ doubtful, 65 % sure"), (0.31, "▌ unlikely, 31 % sure"), (0.04, "▌ very unlikely, 4 % sure")],
)
def test_the_badge_of_the_end_agrees_with_whether_a_decision_waits(in_by_limit: float, words: str) -> None:
    """None while it is as sure as wanted; below that a word for how far below."""
    state = follow_at(plain_plan(), ON_TIME, "0:10")
    needed = in_by_limit < 0.9
    advice = Advice(needed=needed, confidence=0.9, in_by_limit=in_by_limit, caution=CAUTION)
    state = state.model_copy(update={"advice": advice, "end": state.end.model_copy(update={"in_by_limit": in_by_limit})})
    assert words in said(shown(state, Headline.END))
    assert ("▲" in shown(state, Headline.END) or "▌" in shown(state, Headline.END)) is needed


def test_at_stale_the_length_of_the_silence_stands_ready() -> None:
    """The words that replace the projected end say for how long nothing came in."""
    words = said(shown(follow_at(plain_plan(), ON_TIME, "0:36"), Headline.END))
    assert words.endswith("withheld: no event for 36 min")


def test_the_worse_crew_lane_comes_first_and_the_arm_not_at_all() -> None:
    """EV2 is behind, EV1 on the brief."""
    log = "0:00 clock\n0:00 start T010\n0:30 done T010\n0:30 start T020"
    words = said(shown(follow_at(plain_plan(), log, "0:55"), Headline.LANES))
    assert words == "EV2 25 min behind ▌ behind EV1 on the brief"


@pytest.mark.parametrize(("pet", "badge"), [("0:35", None), ("0:45", "▲ behind"), ("0:55", "▌ behind")])
def test_lateness_raises_first_a_caution_then_a_warning(pet: str, badge: str | None) -> None:
    """Under 10 min none, from 10 min a caution, from 20 min a warning; each with its shape and word."""
    log = "0:00 clock\n0:00 start T010\n0:30 done T010"
    words = said(shown(follow_at(plain_plan(), log, pet), Headline.LANES))
    assert [sign for sign in ("▲ behind", "▌ behind") if sign in words] == ([badge] if badge else [])


def test_before_pet_zero_nothing_is_ahead_or_behind() -> None:
    """The word instead of a figure."""
    words = said(shown(follow_at(plain_plan(), "", "-0:10"), Headline.LANES))
    assert words == "EV1 before PET zero EV2 before PET zero"


def test_the_least_suit_margin_names_who_and_what() -> None:
    """Suit and consumable, and the comparison."""
    words = said(shown(follow_at(suited_plan(), ON_TIME, "0:10"), Headline.SUIT, suited=True))
    assert words.startswith("EV1 water")
    assert "in hand" in words or "short" in words


def test_a_plan_without_suits_says_so() -> None:
    """Never a zero in its place."""
    assert said(shown(follow_at(plain_plan(), ON_TIME, "0:10"), Headline.SUIT)) == "no suit in the plan"


def choice(decide_by: float | None) -> Choice:
    return Choice(
        defer=["T030"], end_pet_min=60.0, in_by_limit=0.9, decide_by_pet_min=decide_by, value_lost={"2": 1.0}, why="So."
    )


@pytest.mark.parametrize(
    ("advice", "words"),
    [
        (Advice(needed=False, caution=CAUTION), "no decision waits"),
        (Advice(needed=None, caution=CAUTION), "no decision waits"),
        (Advice(needed=True, confidence=0.9, in_by_limit=0.31, caution=CAUTION),
         "advice is needed ▲ decide 31 % sure, wanted 90 %"),
        (Advice(needed=True, confidence=0.9, in_by_limit=0.31, caution=CAUTION, choices=[choice(90.0), choice(45.0)]),
         "by PET 0:45 in 35 min ▲ decide 31 % sure, wanted 90 %"),
    ],
)  # fmt: skip
def test_the_next_decision_is_the_earliest_that_closes(advice: Advice, words: str) -> None:
    """Or the words that none waits."""
    state = follow_at(plain_plan(), ON_TIME, "0:10").model_copy(update={"advice": advice})
    assert said(shown(state, Headline.DECISION)) == words


def test_every_figure_says_what_it_rests_on() -> None:
    """The basis names plan and instant, and can take the focus."""
    state = follow_at(suited_plan(), ON_TIME, "0:10")
    for box, name in ((Headline.END, "basis-end"), (Headline.LANES, "basis-lane-EV1"), (Headline.SUIT, "basis-suit")):
        piece = shown(state, box, suited=True)
        assert name in attribute(piece, "id")
        assert "0" in attribute(piece, "tabindex")
        assert any("as of PET 0:10" in words for words in attribute(piece, "data-basis"))


def test_the_figure_is_that_of_the_end_as_expected() -> None:
    """The middle of what is expected leads, also where the plan pace looks better."""
    state = follow_at(plain_plan(), ON_TIME, "0:10")
    late = state.model_copy(update={"end": state.end.model_copy(update={"p50_pet_min": 450.0, "in_by_limit": 0.03})})
    words = said(shown(late, Headline.END))
    assert words.startswith("1 h over expected PET 7:30 (limit PET 6:30)")
    assert "over, 3 % sure" in words


def test_a_sortie_that_is_over_is_told_as_it_was() -> None:
    """No word of spread or chance."""
    words = said(shown(follow_at(plain_plan(), ON_TIME + "\n0:08 done T010\n0:09 end", "0:10"), Headline.END))
    assert "in at PET" in words and "sortie over" in words and "sure" not in words
