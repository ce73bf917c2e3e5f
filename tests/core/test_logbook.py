"""The log in words: times far off the sortie, and what a decision was made on."""

from __future__ import annotations

from dashboard.core.logbook import logbook
from dashboard.core.times import parse_instant
from dashboard.words import entry_marks
from tests.scenario import at, log_of, plan_of, task

PLAN = plan_of(task("A", "EV1", 0, 30))


def entries(log: str, pet: str = "1:00"):
    return {entry.id: entry for entry in logbook(PLAN, log_of(log), parse_instant(at(pet)))}


def test_an_event_amended_to_a_time_far_off_stays_in_the_log_and_says_so():
    """A slip of PET 99:00 in a sortie of 7 h does not make the event vanish."""
    found = entries(f"0:00 clock\n0:01 start A\n0:05 amend e2 changes={{\"at\":\"{at('99:00')}\"}}")
    assert found["e2"].far_off == "dated PET 99:00, the limit is PET 7:00"
    assert "time far off" in entry_marks(found["e2"])
    assert found["e1"].far_off is None


def test_an_event_of_another_day_is_marked():
    """Before the day of the sortie, or long after its limit; a late entry or an early note is ordinary."""
    found = entries("0:00 clock\n-30:00 note early\n99:00 start A\n-2:00 note suiting-up")
    assert found["e2"].far_off and found["e3"].far_off
    assert found["e4"].far_off is None


def test_pet_zero_far_from_the_planned_start_is_marked():
    """And everything else is judged by that PET zero."""
    found = entries("-48:00 clock\n-47:50 start A")
    assert found["e1"].far_off == "PET zero -48:00 from the planned start"
    assert found["e2"].far_off is None


def test_a_decision_says_what_it_was_made_on():
    """The figures that the server stored with it, rounded towards danger."""
    figures = '{"pet_min":62.9,"end_p50_pet_min":400.1,"in_by_limit":0.839,"limit_pet_min":366.4,"margin_min":{"A":15.7}}'
    text = entries(f"0:00 clock\n0:30 decision text=Drop-A defer=A figures={figures}")["e2"].text
    assert text.endswith("[on the figures of PET 1:02, end P50 PET 6:41, limit PET 6:06, 83 % sure, suit A 15 min in hand]")


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
