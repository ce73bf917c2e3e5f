"""The log in words: times far off the sortie, and what a decision was made on."""

from __future__ import annotations

import pytest

from dashboard.core.base.times import instant_text, parse_instant
from dashboard.core.state.log_in_words import logbook
from dashboard.words import entry_marks
from tests.scenario import SORTIE, at, follow_at, lanes, log_of, plan_of, suit, task

SUIT = f"[sortie]\n{SORTIE}\n" + lanes({"EV1": "A", "EV2": None}) + suit("A", water={"loaded": 4.0})
PLAN = plan_of(task("A", "EV1", 0, 30))


def entries(log: str, pet: str = "1:00"):
    return {entry.id: entry for entry in logbook(PLAN, log_of(log), parse_instant(at(pet)))}


def test_an_event_amended_to_a_time_far_off_stays_in_the_log_and_says_so():
    """A slip of PET 99:00 in a sortie of 7 h does not make the event vanish."""
    found = entries(f"0:00 clock\n0:01 start A\n0:05 amend e2 changes={{\"at\":\"{at('99:00')}\"}}")
    assert found["e2"].far_off == "dated PET 99:00, the limit is PET 7:00"
    assert "time far off" in entry_marks(found["e2"])
    assert found["e1"].far_off is None


@pytest.mark.parametrize(
    ("line", "counts"),
    [
        ("-900:00 start B", "does not count"),
        ("-900:00 done B", "does not count"),
        ("-100:00 hold all", "does not count"),
        ("-100:00 reading A water=1.0", "does not count"),
        ("900:00 start B", "does not count"),
        ("-100:00 defer B", "counts all the same"),
        ("900:00 defer B", "counts from then on"),
    ],
)
def test_what_is_dated_far_off_the_sortie_is_listed_and_makes_no_figures(line, counts):
    """With what was expected and what was found; the projection is that of the log without it."""
    plan = plan_of(SUIT + task("A", "EV1", 0, 30) + task("B", "EV2", 0, 30))
    log = "0:00 clock\n0:00 start A"
    plain, found = follow_at(plan, log, "0:10"), follow_at(plan, f"{log}\n{line}", "0:10")
    (one,) = found.discrepancies
    assert (one.event, one.expected) == ("e3", "a time within 12 h of the sortie")
    assert f"it {counts}: amend its time" in one.found and instant_text(one.at) in one.found
    if counts != "counts all the same":
        assert (found.end, found.lanes, found.suits) == (plain.end, plain.lanes, plain.suits)
        assert found.basis == plain.basis


def test_amending_its_time_brings_it_back():
    """Then it counts, and nothing is listed."""
    log = f"0:00 clock\n-900:00 start A\n0:05 amend e2 changes={{\"at\":\"{at('0:02')}\"}}"
    state = follow_at(PLAN, log, "0:10")
    assert state.discrepancies == []
    assert state.tasks["A"].start_pet_min == 2


def test_a_log_of_another_day_throughout_speaks_against_the_planned_start():
    """Without a clock event the work counts, and PET zero is in doubt; one slip among work of the day is a slip."""
    moved = follow_at(PLAN, "48:00 start A", "48:10")
    assert moved.discrepancies == [] and moved.basis.pet_zero_doubt
    slip = follow_at(plan_of(task("A", "EV1", 0, 30) + task("B", "EV2", 0, 30)), "0:00 start A\n-900:00 start B", "0:10")
    assert [one.event for one in slip.discrepancies] == ["e2"] and slip.basis.pet_zero_doubt is None


def test_an_event_of_another_day_is_marked():
    """Before the day of the sortie, or long after its limit; a late entry or an early note is ordinary."""
    found = entries("0:00 clock\n-30:00 note early\n99:00 start A\n-2:00 note suiting-up")
    assert found["e2"].far_off and found["e3"].far_off
    assert found["e4"].far_off is None


@pytest.mark.parametrize(
    ("log", "marked"),
    [
        ("-48:00 clock", "PET zero 2 days before the planned start"),
        ("-13:00 clock", "PET zero 13 h before the planned start"),
        ("48:00 clock\n0:01 start A", "PET zero 2 days after the planned start"),
        ("-984:00 clock\n-983:59 start A", None),
        ("-984:00 clock\n-983:59 start A\n0:01 done A\n0:02 start B", "PET zero 41 days before the planned start"),
    ],
    ids=["no work yet", "hours", "other work", "a training day", "most of the work speaks against it"],
)
def test_pet_zero_of_another_day_is_marked_unless_the_work_agrees_with_it(log: str, marked: str | None):
    """A training run weeks before the flight is ordinary; everything else is judged by its PET zero."""
    assert entries(log, "72:00")["e1"].far_off == marked


def test_what_is_dated_weeks_off_is_told_in_days():
    """Nobody reads a PET of a thousand hours."""
    found = entries("0:00 clock\n-984:00 start A\n-30:00 done A")
    assert found["e2"].far_off == "dated 41 days before PET zero"
    assert found["e3"].far_off == "dated PET -30:00, the limit is PET 7:00"


def test_a_decision_says_what_it_was_made_on():
    """The figures that the server stored with it, rounded towards danger."""
    figures = '{"pet_min":62.9,"end_p50_pet_min":400.1,"in_by_limit":0.839,"limit_pet_min":366.4,"margin_min":{"A":15.7}}'
    text = entries(f"0:00 clock\n0:30 decision text=Drop-A defer=A figures={figures}")["e2"].text
    known = "the figures of PET 1:02, end P50 PET 6:41, limit PET 6:06, chance in time 83 %, suit A 15 min in hand"
    assert text.endswith(f"[on {known}]")


def test_an_event_dated_after_now_is_in_the_log_as_soon_as_it_came_in():
    """It says from when on it counts; one that has not come in yet is not there."""
    later = [event.model_copy(update={"received": parse_instant(at("0:10"))}) for event in log_of("0:00 clock\n2:30 start A")]
    found = {entry.id: entry for entry in logbook(PLAN, later, parse_instant(at("0:20")))}
    assert found["e2"].pending and "not yet: counts from PET 2:30 on" in entry_marks(found["e2"])
    assert "e2" not in {entry.id for entry in logbook(PLAN, later, parse_instant(at("0:05")))}
    assert "e2" not in entries("0:00 clock\n2:30 start A", "0:20")


def test_an_answer_says_what_it_answers():
    """In the words of the event, with its PET; an amended time from when to when."""
    log = f"0:00 clock\n0:01 start A\n0:05 amend e2 changes={{\"at\":\"{at('0:03')}\"}}\n0:06 withdraw e2"
    found = entries(log)
    assert found["e3"].text == "amend 'start A' of PET 0:01: time to PET 0:03"
    assert found["e4"].text == "withdraw 'start A' of PET 0:01"


def test_an_entry_is_found_by_its_event_or_by_what_takes_it_back():
    """Without going through the log; what is not in it is not found."""
    book = logbook(PLAN, log_of("0:00 clock\n0:01 start A\n0:05 withdraw e2\n0:30 note text=later"), parse_instant(at("0:10")))
    assert book.of("e2") == list(book)[1] == book.taken_back_by("e3")
    assert book.of("e4") is None and book.taken_back_by("e2") is None
    assert [entry.id for entry in book.newest(2)] == ["e2", "e3"]
