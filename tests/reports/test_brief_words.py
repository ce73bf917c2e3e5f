"""The words of a brief."""

from __future__ import annotations

import pytest

from dashboard.core.brief.facts import BriefChange, Decision, LaneThen, Wait
from dashboard.core.brief.look_ahead import brief
from dashboard.reports import brief_words as said
from tests.core.brief.made import PLAN, changed

FACTS = brief(PLAN, draws=200)
STEP = {step.task: step for step in FACTS.steps}


@pytest.mark.parametrize(
    ("at", "words"),
    [
        (LaneThen(task="LAMP", worksite="mast", until_pet_min=50), "LAMP Change the lamp (Lamp mast), until PET 0:50"),
        (LaneThen(task="PREP", worksite="airlock", going_to="mast", until_pet_min=35),
         "PREP from airlock to Lamp mast, until PET 0:35"),
        (LaneThen(task="PREP", worksite=None, going_to="mast", until_pet_min=35), "PREP to Lamp mast, until PET 0:35"),
        (LaneThen(task=None, worksite="mast", until_pet_min=70, wait=Wait(kind="task", name="CARRY")),
         "waits for ARM: CARRY (Lamp mast), until PET 1:10"),
        (LaneThen(task=None, worksite=None, until_pet_min=70, wait=Wait(kind="window", name="daylight")),
         "waits for daylight, until PET 1:10"),
        (LaneThen(task=None, worksite=None, until_pet_min=70, wait=Wait(kind="not before")),
         "waits for the time from which the next task may begin, until PET 1:10"),
        (LaneThen(task=None, worksite=None, until_pet_min=70), "nothing briefed yet, until PET 1:10"),
        (LaneThen(task=None, worksite="airlock", until_pet_min=None), "nothing more briefed (airlock)"),
    ],
)  # fmt: skip
def test_what_a_lane_does_when_a_step_begins(at: LaneThen, words: str) -> None:
    """Work with its place and its end, a leg with both its ends, a wait with its reason, and nothing as such."""
    assert said.then(FACTS, at) == words


def test_lanes_that_do_the_same_are_named_together() -> None:
    """Those of the step first; its own title is not said again."""
    assert said.who_is_where(FACTS, STEP["JOIN"]) == [(["EV1", "EV2", "ARM"], "this step (Lamp mast), until PET 1:30")]
    assert [lanes for lanes, _ in said.who_is_where(FACTS, STEP["CARRY"])] == [["ARM"], ["EV1"], ["EV2"]]


@pytest.mark.parametrize(
    ("length", "words", "column"),
    [((20, 30, 50), "30 min (20 to 50)", "30 (20 to 50)"), ((30, 30, 30), "30 min", "30"),
     ((60, 90, 120), "1 h 30 min (60 to 120)", "90 (60 to 120)")],
)  # fmt: skip
def test_a_length_with_its_range(length: tuple[float, float, float], words: str, column: str) -> None:
    """The likely length leads; without a range there is none."""
    assert (said.lengths(*length), said.minutes(*length)) == (words, column)


def test_a_window_that_does_not_hold_the_step_is_said() -> None:
    """And when there is no later one, that."""
    late = brief(changed(('start = "0:20"', "start = 60")), draws=0)
    assert said.windows(late.steps[[one.task for one in late.steps].index("LAMP")]) == (
        "no window of daylight holds it as briefed; the next is from PET 1:50"
    )
    last = brief(changed(("from = 110\nto = 160", "from = 110\nto = 120")), draws=0)
    assert said.windows(last.steps[1]) == "daylight PET 0:20 to 1:20: begin by PET 0:50; there is no later one"


def test_how_a_step_is_given_up() -> None:
    """Everything that the plan allows, with what goes along; what is required in no way."""
    assert said.give_up(STEP["OUT"]) == ""
    words = said.give_up(STEP["LAMP"])
    assert words.startswith("may be deferred until PET 0:") and "(with it JOIN)" in words
    assert words.endswith("may be trimmed to 15 min; may be broken off with 4 min to leave it safe; may be handed to EV2")
    many = STEP["LAMP"].model_copy(update={"give_up": STEP["LAMP"].give_up.model_copy(update={"with_it": list("ABCDE")})})
    assert "(with it 5 more tasks)" in said.give_up(many)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"kind": "added"}, "added"), ({"kind": "removed"}, "removed"),
        ({"kind": "moved", "field": "start", "before": "PET 0:10", "after": "PET 0:20"}, "moved from PET 0:10 to PET 0:20"),
        ({"kind": "changed", "field": "notes", "before": "one", "after": "two"}, "notes changed from one to two"),
        ({"kind": "changed", "field": "notes", "after": "two"}, "notes now given: two"),
        ({"kind": "changed", "field": "notes", "before": "one"}, "notes no longer given, before: one"),
    ],
)  # fmt: skip
def test_a_change_is_said_with_both_values(change: dict[str, str], words: str) -> None:
    """Or with the one that there is."""
    assert said.change(BriefChange(part="task", name="T", title="Title", **change)) == ("task T Title", words)


def test_every_kind_of_decision_has_its_words() -> None:
    """What is decided, and what follows."""
    found = {one.kind: said.decision(FACTS, one) for one in FACTS.decisions}
    assert found["ending"] == ("Ending: Keep or lash", "keep (as briefed) and lash; when KEEP is projected to begin")
    assert found["window"] == ("LAMP Change the lamp begun", "else daylight is missed; the next is from PET 1:50")
    assert found["leave by"][0] == "Lamp mast left" and found["turn back"][0] == "Turn back: EV1 and EV2"
    lamp = said.decision(FACTS, Decision(by_pet_min=5, kind="give up", name="LAMP"))
    assert lamp[1] == "then it may only be trimmed to 15 min or broken off with 4 min to leave it safe"
    assert said.decision(FACTS, Decision(by_pet_min=5, kind="give up", name="KEEP"))[1] == "then it stays"
