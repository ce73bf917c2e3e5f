"""What an entry did, in words."""

from __future__ import annotations

import pytest

from dashboard.service.trial.effect import EntryFigures, Misfit, discrepancy_words, moved, new_misfits

BEFORE = EntryFigures(370.0, 372.0, 0.93, 390.0, "the plan", False, None, False, {"EV1": 2.0, "EV2": -3.0}, ())


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({}, []),
        ({"p50_pet_min": 380.2}, ["the expected end (P50) moves from PET 6:12 to PET 6:21, 8 min later"]),
        ({"p50_pet_min": None, "plan_pace_pet_min": 360.0},
         ["the end at plan pace moves from PET 6:10 to PET 6:00, 10 min earlier"]),
        ({"p50_pet_min": 371.9}, []),
        ({"p50_pet_min": 372.3}, ["the expected end (P50) moves from PET 6:12 to PET 6:13, less than 1 min later"]),
        ({"p50_pet_min": 370.9}, ["the expected end (P50) moves from PET 6:12 to PET 6:11, 1 min earlier"]),
        ({"in_by_limit": 0.81}, ["the chance to be in by the limit goes from 93 % to 81 %"]),
        ({"limit_pet_min": 366.0, "limit_set_by": "suit A water"},
         ["the limit goes from PET 6:30 (the plan) to PET 6:06 (suit A water)"]),
        ({"advice_needed": True}, ["the chance in time is below the wanted one from here on"]),
        ({"call": "decide", "advice_needed": True}, ["the chance in time is below the wanted one from here on"]),
        ({"ahead_min": {"EV1": -6.0, "EV2": -3.4}}, ["EV1 is 6 min behind, was 2 min ahead"]),
        ({"ahead_min": {"EV1": None, "EV2": -3.0}}, ["EV1 is not known yet, was 2 min ahead"]),
        ({"ended": True}, ["the sortie is closed"]),
    ],
)  # fmt: skip
def test_what_moved_is_said(change: dict, said: list[str]):
    """Only what a reader of whole minutes and percent would see move."""
    assert moved(BEFORE, BEFORE._replace(**change)) == said


def test_a_call_that_is_not_known_yet_has_not_moved():
    """The trial of an entry makes no advice: its call is known only where nothing need be given up."""
    asked = BEFORE._replace(call="expect", advice_needed=True)
    assert moved(asked, asked._replace(call=None)) == []
    assert moved(asked, asked._replace(call="none", advice_needed=False)) == ["the call goes from expect to none"]


def test_discrepancies_that_came_with_an_entry_are_told_apart_from_older_ones():
    """Those of another event name it."""
    old, own, other = Misfit("a", "x", "y"), Misfit("b", "a start before done", "none"), Misfit("c", "x", "z")
    before, after = BEFORE._replace(misfits=(old,)), BEFORE._replace(misfits=(old, own, other))
    found = new_misfits(before, after)
    assert found == [own, other]
    assert discrepancy_words(found, "b") == ["expected a start before done; found none", "c: expected x; found z"]
