"""What is read to people who do not see the page."""

from __future__ import annotations

from dashboard.core.state.model import Alert
from dashboard.screens import announce
from tests.scenario import follow_at
from tests.screens.plans import plain_plan


def test_alerts_are_told_by_their_id_and_notes_are_not() -> None:
    """With what to do."""
    state = follow_at(plain_plan(), "0:00 clock", "0:05")
    alerts = [Alert(id="a", what="EV1 is late", since_pet_min=1.0, by_pet_min=None, do="Look at the plan.", level=level)
              for level in ("alert", "note")]  # fmt: skip
    told = announce.snapshot(plain_plan(), state.model_copy(update={"alerts": alerts[:1]}))
    assert list(told["alerts"]) == ["a"] and "Look at the plan." in told["alerts"]["a"]
    assert announce.snapshot(plain_plan(), state.model_copy(update={"alerts": alerts[1:]}))["alerts"] == {}


def test_a_call_to_decide_is_told_with_its_time() -> None:
    """The time alone does not make it another call; while nothing is to be decided there is none."""
    state = follow_at(plain_plan(), "0:00 clock", "0:05")
    plan = plain_plan()

    def told(call: str, by: float) -> dict[str, object]:
        advice = state.advice.model_copy(update={"call": call, "call_by_pet_min": by})
        return announce.snapshot(plan, state.model_copy(update={"advice": advice}))

    first, later = told("decide", 60.0), told("decide", 61.0)
    assert str(first["said"]).startswith("Decide by PET 1:00") and first["said"] != later["said"]
    assert first["call"] and first["call"] == later["call"]
    assert told("none", 60.0)["call"] == ""
