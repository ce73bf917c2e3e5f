"""The problems region: a long list of them stays short on the board."""

from __future__ import annotations

from dashboard.core.base.times import parse_instant
from dashboard.core.state.log_in_words import logbook
from dashboard.screens import problems
from dashboard.screens.ids import Problems
from tests.scenario import at, follow_at, log_of, plan_of, task
from tests.screens.html_text import said

PLAN = plan_of(task("A", "EV1", 0, 30))


def body(log: str) -> str:
    """What the region lists at PET 1:00."""
    events = log_of(log)
    shown = problems.snapshot(PLAN, follow_at(PLAN, events, "1:00"), logbook(PLAN, events, parse_instant(at("1:00"))))
    return f"{shown[Problems.HEAD]} {shown[Problems.BODY]}"


def test_of_many_the_newest_are_shown_and_the_rest_counted() -> None:
    """The heading counts all of them; of a few nothing is left out."""
    log = "0:00 clock\n0:00 start A\n0:01 done A"
    many = body(log + "\n0:02 estimate A remaining=1" * (problems.MOST_SHOWN + 7) + "\n0:03 start NOBODY" * 2)
    assert f"{problems.MOST_SHOWN + 7} discrepancies, 2 lines not understood" in many
    assert many.count('class="problem"') == problems.MOST_SHOWN + 2
    assert "Of earlier events, 7 discrepancies and no lines not understood are not shown here." in many
    assert f"problem-e{problems.MOST_SHOWN + 10}-0" in many and "problem-e4-" not in many
    assert "not shown here" not in body(log + "\n0:02 estimate A remaining=1")


def test_the_words_of_an_entry_may_end_in_a_full_stop() -> None:
    """A colon follows them, and no full stop before it."""
    shown = said(body("0:00 clock\n0:01 done A note=Unseen."))
    assert "Unseen: expected" in shown
