"""The four headline figures: what they say, and when they raise a badge."""

from __future__ import annotations

import re
from typing import Any

import pytest

from dashboard.core.deferral.advice_model import Advice, Choice, Item
from dashboard.core.events.change import Change
from dashboard.core.plan.model import Window
from dashboard.core.state.model import SortieState
from dashboard.screens import headline
from dashboard.screens.ids import Headline
from tests.scenario import SORTIE, follow_at, lanes, plan_of, task
from tests.screens.html_text import attribute, said
from tests.screens.plans import plain_plan, suited_plan

CAUTION = "Advisory only."
ON_TIME = "0:00 clock\n0:00 start T010"


def shown(state: SortieState, box: Headline, suited: bool = False) -> str:
    """The content of a box."""
    return headline.snapshot(suited_plan() if suited else plain_plan(), state)[box]


def test_the_end_is_told_against_a_named_limit_with_its_chance_and_its_cause() -> None:
    """When the crew is inside, how far that is from the limit, the chance in time, and the largest cause, in this order."""
    words = said(shown(follow_at(plain_plan(), ON_TIME, "0:10"), Headline.END))
    end = "Inside by PET 1:17 5 h 13 min before the limit PET 6:30 chance in time over 99 % "
    assert re.match(end + r"PET 1:0\d to 1:3\d \(P10 to P90\)", words)
    reason = "limit: planned limit less reserve"
    assert f"at plan pace PET 1:15 ; {reason} Mostly: the spread of what remains adds 3 min" in words


@pytest.mark.parametrize(
    ("in_by_limit", "words"),
    [(0.93, "chance in time 93 %"), (0.65, "▲ chance in time 65 %"), (0.31, "▌ chance in time 31 %")],
)
def test_the_chance_in_time_has_a_badge_while_it_is_below_the_wanted_one(in_by_limit: float, words: str) -> None:
    """A caution, and a warning below one half. With an end before the limit, a sentence says how the two go together."""
    state = follow_at(plain_plan(), ON_TIME, "0:10")
    needed = in_by_limit < 0.9
    advice = Advice(needed=needed, confidence=0.9, in_by_limit=in_by_limit, caution=CAUTION)
    state = state.model_copy(update={"advice": advice, "end": state.end.model_copy(update={"in_by_limit": in_by_limit})})
    assert words in said(shown(state, Headline.END))
    assert ("▲" in shown(state, Headline.END) or "▌" in shown(state, Headline.END)) is needed
    assert ("simulated run" in said(shown(state, Headline.END))) is needed


def test_at_stale_the_length_of_the_silence_stands_ready() -> None:
    """The words that replace the projected end say for how long nothing came in."""
    words = said(shown(follow_at(plain_plan(), ON_TIME, "0:36"), Headline.END))
    assert words.endswith("withheld: no event for 36 min")


def test_the_crew_lanes_keep_their_places_and_the_worse_one_is_marked() -> None:
    """EV2 is behind, EV1 on the brief; the arm is not shown."""
    log = "0:00 clock\n0:00 start T010\n0:30 done T010\n0:30 start T020"
    words = said(shown(follow_at(plain_plan(), log, "0:55"), Headline.LANES))
    assert words == "EV1 on the brief EV2 25 min behind ▌ behind greatest delay"


@pytest.mark.parametrize(
    ("hold", "words"),
    [("hold T020 reason=grip", "T020 on hold 12 min"), ("hold lane=EV1 reason=glove", "lane on hold 12 min"),
     ("hold T020\n0:50 resume T020", "")],
)
def test_a_hold_is_said_beside_the_lane_with_its_length(hold: str, words: str) -> None:
    """Where it is on hold no more, nothing is said of it."""
    log = f"0:00 clock\n0:00 start T010\n0:30 done T010\n0:30 start T020\n0:43 {hold}"
    beside_ev1, _, beside_ev2 = said(shown(follow_at(plain_plan(), log, "0:55"), Headline.LANES)).partition(" EV2")
    assert beside_ev1.endswith(words) and ("on hold" in beside_ev1) is bool(words)
    assert "on hold" not in beside_ev2


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


def item(task: str, by: float, *, now: bool) -> Item:
    return Item(task=task, how="defer", decide_by_pet_min=by, now=now)


CHOICE = Choice(
    defer=["T020", "T030"], items=[item("T020", 45.0, now=True), item("T030", 90.0, now=False)], end_pet_min=60.0,
    in_by_limit=0.9, decide_by_pet_min=45.0, value_lost={"2": 2.0}, why="So.",
)


STALE = " withheld: no event for 10 min"  # shown in place of the words before it once the log is stale


@pytest.mark.parametrize(
    ("advice", "words"),
    [
        ({"needed": False, "call": "none"}, "nothing to decide" + STALE),
        ({"needed": True, "call": None, "call_why": "The call is being worked out."},
         "not judged yet The call is being worked out."),
        ({"needed": True, "call": "none", "call_why": "The best gains too little."},
         "nothing to decide The best gains too little." + STALE),
        ({"needed": True, "call": "none", "finding": "As briefed 61 % likely inside by the limit."},
         "nothing to decide As briefed 61 % likely inside by the limit." + STALE),
        ({"needed": True, "call": "expect", "call_by_pet_min": 45.0, "call_since_pet_min": 5.0, "call_changed_by": "done T010"},
         "expect a cut nothing goes now; the first decision is due by PET 0:45 since PET 0:05: done T010"),
        ({"needed": True, "call": "decide", "call_by_pet_min": 45.0, "call_since_pet_min": 9.0, "choices": [CHOICE],
          "call_for_now": Change(defer=("T020",))},
         "▲ decide by PET 0:45 35 min left: defer T020 1 more of choice 1 can wait until PET 1:30 and may prove needless "
         "since PET 0:09, when it was first judged"),
    ],
)  # fmt: skip
def test_the_call_says_what_goes_now_what_can_wait_and_what_changed_it(advice: dict[str, Any], words: str) -> None:
    """In the words of the command line; a call that is not judged yet is not taken for none."""
    told = Advice(**{"confidence": 0.9, "in_by_limit": 0.31, "caution": CAUTION, **advice})
    state = follow_at(plain_plan(), ON_TIME, "0:10").model_copy(update={"advice": told})
    assert said(shown(state, Headline.DECISION)) == words


def test_a_decision_that_is_due_without_comm_says_so() -> None:
    """There is no link from 0:40 to 0:55: by 0:45 the crew must have been told before. At 0:30 they can be reached."""
    links = [Window.model_validate({"kind": "link", "from": a, "to": b}) for a, b in ((0, 40), (55, 90))]
    told = {"needed": True, "confidence": 0.9, "caution": CAUTION, "call": "expect", "call_since_pet_min": 5.0}

    def call(by: float, pet: str = "0:10", windows: list[Window] = links) -> str:
        plan = plain_plan().model_copy(update={"windows": windows})
        state = follow_at(plan, ON_TIME, pet).model_copy(update={"advice": Advice(**told, call_by_pet_min=by)})
        return said(headline.snapshot(plan, state)[Headline.DECISION])

    assert "no comm from PET 0:40 to 0:55: tell the crew before" in call(45.0)
    assert "no comm from PET 1:30: tell the crew before" in call(95.0)
    assert "no comm" not in call(30.0)
    within = call(45.0, "0:42")
    assert "no comm until PET 0:55" in within and "tell the crew" not in within
    assert "no comm until PET 0:55" in call(30.0, windows=links[1:])  # before the first link of the sortie


def test_a_contingency_is_named_as_long_as_a_step_of_it_remains() -> None:
    """From the moment it is inserted until its last step is done."""
    plan = plan_of(
        f"[sortie]\n{SORTIE}" + lanes({"EV1": None}) + task("A", "EV1", 0, 60)
        + '[[contingency]]\nid = "leak"\ntitle = "Leak seen"\n[[contingency.task]]\nid = "C"\nlanes = ["EV1"]\nduration = 5\n'
    )
    log = "0:00 clock\n0:00 start A\n0:10 insert leak"
    named = "contingency: Leak seen"
    begun = "\n0:10 hold A\n0:11 start C"
    for more, is_named in (("", True), (begun, True), (begun + "\n0:16 done C", False)):
        assert (named in said(headline.snapshot(plan, follow_at(plan, log + more, "0:20"))[Headline.DECISION])) is is_named
    calm = follow_at(plan, log, "0:20")
    calm = calm.model_copy(update={"advice": calm.advice.model_copy(update={"call": "none"})})
    box = headline.snapshot(plan, calm)[Headline.DECISION]
    assert said(box).endswith(named)  # behind what is withheld while the log is stale: it is shown then as well
    assert named not in said(headline.snapshot(plan, follow_at(plan, "0:00 clock", "0:20"))[Headline.DECISION])


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
    assert words.startswith("Inside by PET 7:30 1 h past the limit PET 6:30 ")


def test_a_sortie_that_is_over_is_told_as_it_was() -> None:
    """No word of spread or chance."""
    words = said(shown(follow_at(plain_plan(), ON_TIME + "\n0:08 done T010\n0:09 end", "0:10"), Headline.END))
    assert words == "Inside at PET 0:08 6 h 22 min before the limit PET 6:30 sortie over sortie closed at PET 0:09"
