"""A lane's card: what it says, and what each of its buttons would do."""

from __future__ import annotations

from typing import Any

import pytest

from dashboard.screens import lanes
from tests.core.suits.suited import FAR, LEGS, ON_LEG, SUITED, THERE
from tests.scenario import follow_at, plan_of
from tests.screens.html_text import attribute, said
from tests.screens.plans import plain_plan

BEGUN = "0:00 clock\n0:00 start T010\n0:30 done T010\n0:31 start T020"


def card(log: str, pet: str, lane: str = "EV1") -> str:
    """The words of a card."""
    return said(lanes.snapshot(plain_plan(), follow_at(plain_plan(), log, pet))[f"lane-body-{lane}"])


def acts(log: str, pet: str, lane: str = "EV1") -> dict[str, Any]:
    """What the buttons of a card would do."""
    return lanes.actions(follow_at(plain_plan(), log, pet))[lane]


def test_a_card_says_what_is_in_hand_and_for_how_long() -> None:
    """Task, elapsed of planned, worksite, minutes to the airlock."""
    words = card(BEGUN, "0:41")
    assert words.startswith("EV1 1 min behind mast T020 Release the bolts 10 of 45 min")
    assert "turn back PET" in words
    assert "airlock 12 min" in words


def test_a_card_says_by_when_to_leave_and_what_sets_the_turn_back_time() -> None:
    """The leave-by time stands in the line where it comes first; the full text has both, and that the lane is on its way."""
    plan = plan_of(SUITED + FAR + LEGS)
    there = lanes.snapshot(plan, follow_at(plan, THERE, "1:40"))["lane-body-EV1"]
    assert "leave by PET 5:10" in said(there)
    (told,) = attribute(there, "data-basis")
    assert "set by the planned limit less reserve, 40 min to the airlock. Leave far by PET 5:10." in told
    (on_leg,) = attribute(lanes.snapshot(plan, follow_at(plan, ON_LEG, "1:15"))["lane-body-EV1"], "data-basis")
    assert on_leg.startswith("EV1, on the way to far.") and "20 min to the airlock" in on_leg


def test_company_in_a_joint_task_is_named() -> None:
    """On both cards."""
    assert "with EV2" in card("0:00 clock\n0:00 start T010", "0:05")
    assert "with EV1" in card("0:00 clock\n0:00 start T010", "0:05", "EV2")


def test_an_estimate_is_minutes_to_go() -> None:
    """What was said less the work since, rounded up."""
    assert "10 of 45 min, 17 min to go" in card(BEGUN + "\n0:38 estimate T020 remaining=20", "0:41")


def test_an_overrun_raises_a_caution() -> None:
    """More than five minutes over what was planned."""
    assert "overrun" not in card(BEGUN, "1:20")
    assert "50 min, planned 45" in card(BEGUN, "1:21")
    assert "▲ overrun" in card(BEGUN, "1:23")


def test_a_hold_gives_its_reason() -> None:
    """The whole reason, of a task or of a lane without work; or that none was given."""
    long = "the-wire-is-loose-" * 12
    assert f"▲ on hold {long}" in card(f"{BEGUN}\n0:40 hold T020 reason={long}", "0:45")
    assert "▲ on hold no reason given" in card(BEGUN + "\n0:40 hold T020", "0:45")
    assert "Lane on hold ▲ on hold arm-looks-odd" in card("0:00 clock\n0:05 hold lane=ARM reason=arm-looks-odd", "0:10", "ARM")


def test_what_comes_next_says_what_it_waits_for() -> None:
    """And until when."""
    words = card("0:00 clock\n0:00 start T010", "0:10", "EV2")
    assert "next T030" in words and ": Tool count" in words
    assert "waits for T010 until PET 0:30" in words


HOLD = {"kind": "hold", "task": "T020", "label": "Hold", "lanes": ["EV1"]}


@pytest.mark.parametrize(
    ("log", "pet", "start", "done", "hold"),
    [
        ("0:00 clock", "0:01", "T010", None, None),
        (BEGUN, "0:40", None, "T020", HOLD),
        (BEGUN + "\n0:41 hold T020", "0:45", None, None, {**HOLD, "kind": "resume", "label": "Resume"}),
        (BEGUN + "\n1:20 done T020", "1:21", None, None, None),
        ("0:00 clock\n0:02 end", "0:05", None, None, None),
    ],
    ids=["nothing begun", "in work", "on hold", "finished", "sortie over"],
)
def test_a_button_does_what_fits_now(log: str, pet: str, start: str | None, done: str | None, hold: Any) -> None:
    """A button with nothing to do has no event behind it."""
    found = acts(log, pet)
    assert (found["start"] or {}).get("task") == start
    assert (found["done"] or {}).get("task") == done
    assert found["hold"] == hold


def test_a_held_lane_is_resumed_as_a_lane() -> None:
    """There is no task to name."""
    log = '0:00 clock\n0:00 start T010\n0:30 done T010\n0:31 hold lane=EV1'
    assert acts(log, "0:35")["hold"] == {"kind": "resume", "lane": "EV1", "label": "Resume", "lanes": ["EV1"]}
    assert "Lane on hold" in card(log, "0:35")


def test_done_and_next_ends_a_task_and_starts_what_comes_after_it_without_a_question() -> None:
    """The task that ends is no reason against the next. A joint task can be undone from the cards of all its lanes."""
    found = acts("0:00 clock\n0:00 start T010", "0:30", "EV2")["done-next"]
    assert (found["kind"], found["task"], found["lanes"], found["ask"]) == ("done", "T010", ["EV1", "EV2"], None)
    assert (found["then"]["kind"], found["then"]["task"], found["then"]["lanes"]) == ("start", "T030", ["EV2"])
    assert acts(BEGUN, "0:40")["done-next"] is None  # nothing comes after T020


def test_the_button_names_the_task_that_it_starts() -> None:
    """No guess at what is next."""
    assert acts("0:00 clock", "0:00")["start"]["task"] == "T010"


def test_starting_beside_work_in_hand_is_asked_about() -> None:
    """Two tasks in one lane is a slip more often than a wish."""
    asked = acts("0:00 clock\n0:00 start T010", "0:05")["start"]
    assert asked["task"] == "T020" and "T010 Leave the airlock is still in work on EV1" in asked["ask"]


def test_starting_what_is_next_in_a_free_lane_is_not_asked_about() -> None:
    """One press, as the voice loop says it."""
    assert acts("0:00 clock", "0:00")["start"]["ask"] is None


def test_what_is_next_and_on_hold_is_resumed_not_passed_over() -> None:
    """By the first button while other work is in hand; by the last when nothing is."""
    log = "0:00 clock\n0:00 start T010\n0:05 hold T010\n0:06 start T030"
    found = acts(log, "0:08", "EV2")
    assert (found["start"]["kind"], found["start"]["task"], found["start"]["label"]) == ("resume", "T010", "Resume")
    assert "T030 Tool count is still in work on EV2" in found["start"]["ask"]
    assert found["hold"]["kind"] == "hold"
    idle = acts(log, "0:08", "EV1")
    assert (idle["start"]["kind"], idle["hold"]["kind"], idle["hold"]["task"]) == ("start", "resume", "T010")
