"""Apollo 16, first sortie, at the second stop: what the advice says when the room cut it.

What the room did, READ (sources in `README.md`): at GET 124:14:38, PET 5:21, leaving station 1 about 24 min behind, with the
LMP's cooling water running high, it cut station 2 from 56 to about 19 min; the stop then took 27. The water is as the room
knew it: one reading, the tone at PET 4:41. The limit of 7:30 is ours, and so is the shortest useful stop, the 19 min that
the room went down to.

Ours, with the room's marks: from the tone on, 40 min before the room's call, advice is needed. On likely durations the stop
is to be cut; with 90 % confidence even the shortest stop is not enough and it is to be dropped (at the tone, so early, with
the drive to it: 90 %). The room cut it, and the
LMP came in with 0.42 lb of 12.04 left: it held, by less than we would have advised.
"""

from __future__ import annotations

import pytest

from dashboard.core.deferral.advise import advise
from dashboard.core.deferral.validate import faults
from dashboard.core.record.fold import reconcile
from tests.published.test_apollo16_eva1 import instant, plan_and_log

TONE, BEFORE_THE_CUT = "123:34:23", "124:14:37"


def advised(get, **more):
    plan, log = plan_and_log()
    record = reconcile(plan, log.events, instant(get))
    return record, advise(record, **more)


@pytest.mark.parametrize("get", [TONE, BEFORE_THE_CUT])
def test_with_confidence_every_choice_gives_up_the_second_stop(get):
    """From the tone to the room's call: needed, and no choice leaves the stop as briefed. It is enough.

    With nothing given up, four of five draws end short of water.
    """
    _, advice = advised(get, confidence=0.9)
    assert advice.needed
    assert advice.now.in_by_limit < 0.20
    for proposal in advice.proposals:
        assert "STATION-2" in proposal.figures.change.given_up()
        assert proposal.reached
        assert proposal.figures.margins_min["LMP"] > 0
        assert proposal.figures.limiting["LMP"] == "water"


def test_the_decision_is_due_before_the_stop_begins():
    """By when: the projected beginning of station 2, PET 5:25; the room called at 5:21:05 and arrived at 5:27:37."""
    _, advice = advised(BEFORE_THE_CUT, confidence=0.9)
    by = advice.proposals[0].figures.decide_by_pet_min
    assert 5 * 60 + 21 < by <= 5 * 60 + 27.6


def test_on_likely_durations_the_stop_is_cut_as_the_room_cut_it():
    """At plan pace nothing is dropped: the stop is cut, to no less than the 19 min that the room named."""
    record, advice = advised(BEFORE_THE_CUT, basis="plan-pace")
    change = advice.proposals[0].figures.change
    assert set(change.trim) == {"STATION-2"}
    assert change.defer == ()
    assert 19 <= change.trim["STATION-2"] < 56
    assert faults(record, change, record.plan.sortie.limit) == []


def test_on_likely_durations_it_is_the_tone_that_asks_for_it():
    """A second before the tone there is no word of the water and nothing is needed; with the tone there is."""
    assert not advised("123:34:22", basis="plan-pace")[1].needed
    assert advised(TONE, basis="plan-pace")[1].needed
