"""Alerts: each rule raises its own, says what to do, and falls silent once it is done."""

from __future__ import annotations

import pytest

from dashboard.core.state.alerts import RULES
from tests.scenario import SORTIE, follow_at, lanes, plan_of, suit, task

WATER = {"loaded": 4.0, "reserve": 0.4, "base": 0.6, "per_watt": 0}
PLAN = plan_of(
    f"[sortie]\n{SORTIE}\n"
    + lanes({"EV1": "A", "EV2": None})
    + suit("A", water=WATER, battery={"loaded": 450})
    + task("A", "EV1", 0, 30, title="Unstow", required=True, obliges=["B"])
    + task("B", "EV1", 30, 60, title="Carry", after=["A"], worksite="mast")
    + task("W", "EV2", 100, 20, title="Look", needs=["sun"])
    + '[[window]]\nkind = "sun"\nfrom = 90\nto = 130\n'
    + '[[worksite]]\nid = "mast"\nreturn = 10\nleave_by = "4:00"\n'
)
BEGUN = "0:00 clock\n0:00 start A\n"
DEFERRED = "0:00 clock\n0:00 defer A\n"

# Name of the rule: log, PET, then the alert: its id, words of it, and since when it stands.
RAISED = {
    "no clock": ("0:00 start A", "0:05", "no-clock", "PET zero is the planned start", 0.0),
    "ahead of now": (
        BEGUN + "0:30 done A received=2031-04-12T09:15:00Z", "0:05", "ahead-of-now",
        "An event is dated after now, by up to 25 min, and will count only then", None,
    ),
    "below the reserve": (
        BEGUN + "0:20 reading A water=0.3", "0:20", "below-reserve-A-water", "Suit A (EV1) is below its reserve of water", 20.0,
    ),
    "required": (DEFERRED, "0:05", "required-out-A", "A Unstow is required and is not in the plan of record", None),
    "no sense": (
        BEGUN + "0:10 defer B", "0:12", "no-sense-B", "B Carry goes although A, which obliges it, has begun", None,
    ),
    "limit": (
        BEGUN + "0:05 estimate A remaining=400", "0:05", "over-limit",
        "At plan pace the crew is in after the limit, PET 6:00, set by suit A water", None,
    ),
    "suit short": (
        BEGUN + "0:20 reading A water=0.8", "0:20", "suit-short-A-water",
        "Suit A (EV1): the expected end is ", None,
    ),
    "leave by": (
        BEGUN + "0:05 estimate A remaining=200", "0:05", "leave-by-mast",
        "after the time to have left mast, PET 4:00, set by the plan", None,
    ),
    "reading": (
        BEGUN + "0:10 reading A water=9.5", "0:10", "reading-A-water",
        "is above the 4 kg that were loaded and is not believed", 10.0,
    ),
    "first reading": (
        BEGUN, "0:50", "first-reading-A", "Suit A (EV1): the rate of battery is assumed, and no reading shows the use", 45.0,
    ),
    "window": (BEGUN + "1:45 note x", "1:55", "no-window-W", "No sun left that holds W Look", None),
    "broken off": (
        BEGUN + "0:10 break_off A", "0:10", "after-broken-off-B", "B Carry comes after A, which was broken off", 10.0,
    ),
}  # fmt: skip


@pytest.mark.parametrize(("log", "pet", "alert", "words", "since"), RAISED.values(), ids=RAISED)
def test_each_rule_raises_its_alert(log: str, pet: str, alert: str, words: str, since: float | None):
    """With what, since when, and what to do."""
    raised = {one.id: one for one in follow_at(PLAN, log, pet).alerts}
    assert alert in raised, raised
    assert words in raised[alert].what
    assert raised[alert].since_pet_min == (pytest.approx(since) if since is not None else None)
    assert raised[alert].do.endswith(".")


def test_every_rule_is_raised_here():
    """A new rule needs its line in the table above."""
    assert len(RAISED) == len(RULES)


def test_a_sound_sortie_has_none():
    """PET zero is known, all is in time, and nothing is short."""
    assert follow_at(PLAN, BEGUN, "0:05").alerts == []


def test_the_gravest_come_first():
    """In the order of the rules: the reserve, the limit, what was broken off."""
    log = BEGUN + "0:05 break_off A\n0:05 estimate B remaining=500\n0:05 reading A water=0.3"
    ids = [alert.id for alert in follow_at(PLAN, log, "0:06").alerts]
    assert ids == ["below-reserve-A-water", "over-limit", "leave-by-mast", "reading-A-water", "after-broken-off-B"]


def test_none_stands_once_the_sortie_is_over():
    """There is nothing left to do about them."""
    log = BEGUN + "0:05 break_off A\n0:05 reading A water=0.3\n0:20 end"
    assert follow_at(PLAN, log, "0:21").alerts == []


@pytest.mark.parametrize(
    ("log", "done", "alert"),
    [
        ("0:00 start A", "0:01 clock", "no-clock"),
        (DEFERRED, "0:04 reinstate A", "required-out-A"),
        (BEGUN + "0:03 break_off A", "0:04 defer B", "after-broken-off-B"),
        (BEGUN + "0:03 estimate A remaining=400", "0:04 estimate A remaining=20", "over-limit"),
        (BEGUN + "0:03 reading A water=9.5", "0:04 withdraw e3", "reading-A-water"),
    ],
)
def test_an_alert_goes_when_what_it_asks_for_is_done(log: str, done: str, alert: str):
    """It stands before, and is gone after."""
    before, after = (
        {one.id for one in follow_at(PLAN, text, "0:05").alerts} for text in (log, f"{log.rstrip()}\n{done}")
    )
    assert alert in before and alert not in after
