"""The log, the forms of entry, the problems and the row of buttons of a small screen."""

from __future__ import annotations

import json
from typing import Any

import pytest

from dashboard.core.base.findings import Unread
from dashboard.core.base.times import parse_instant
from dashboard.core.events.kinds import KINDS, parse_event
from dashboard.core.state.log_in_words import logbook
from dashboard.core.state.model import Alert
from dashboard.screens import log, offers, problems, tabs
from dashboard.screens.ids import Log, Problems, Tabs
from dashboard.service.access.roles import LEAD_KINDS
from tests.scenario import at, follow_at, log_of, plan_of, task
from tests.screens.html_text import attribute, said
from tests.screens.plans import plain_plan, suited_plan

STORY = """
    0:00 clock
    0:02 start T010
    0:30 done T010
    0:31 note text=first
    0:32 amend e4 changes={"text":"second"}
    0:33 note text=third
    0:34 withdraw e6
"""
EMPTY = logbook(plain_plan(), [], parse_instant(at("0:10")))
ANSWERED_ELSEWHERE = {"amend", "withdraw"}  # from the row that they answer
SAMPLES = {
    "tasks": "T010", "to_start": "T010", "in_hand": "T010", "before": "T010", "movable": "T010", "can_move_to": "EV1",
    "deferred": "T010", "trimmable": "T010", "extendable": "T010", "held": "lane:EV1",
    "lanes": "EV1", "scopes": "lane:EV1", "suits": "A", "checks": "c", "contingencies": "c",
    "alternatives": "a", "options": "o", "minutes": 12, "text": "words", "number": 1.5,
}  # fmt: skip


def rows(text: str, pet: str) -> str:
    """The rows of the log at a PET."""
    events = log_of(text)
    entries = logbook(plain_plan(), events, parse_instant(at(pet)))
    return log.snapshot(plain_plan(), follow_at(plain_plan(), events, pet), entries)[Log.ROWS]


def test_a_row_changes_with_what_is_said_of_its_event() -> None:
    """It is kept from version to version, but never beyond an amendment or a withdrawal of its event."""
    before = rows("0:00 clock\n0:10 note text=first", "1:00")
    assert said(before).startswith("PET what · by 0:10 first correct")
    assert rows("0:00 clock\n0:10 note text=first", "1:00") == before
    amended = said(rows("0:00 clock\n0:10 note text=first\n0:20 amend e2 text=second", "1:00"))
    assert "0:10 second amended correct" in amended
    withdrawn = rows("0:00 clock\n0:10 note text=first\n0:20 withdraw e2", "1:00")
    assert "0:10 first withdrawn" in said(withdrawn) and 'class="withdrawn"' in withdrawn


def test_newest_is_on_top_under_heads_that_name_the_clock() -> None:
    """PET stands in the head, so the column may leave it out."""
    words = said(rows(STORY, "1:00"))
    assert words.startswith("PET what · by 0:34 withdraw 'third' of PET 0:33")
    assert words.index("done T010") < words.index("start T010")


def test_what_became_of_an_event_stands_in_its_row() -> None:
    """An amended one shows its new words; a withdrawn one is struck through, and cannot be answered again."""
    piece = rows(STORY, "1:00")
    assert "second amended" in said(piece)
    assert "third withdrawn" in said(piece)
    assert attribute(piece, "class").count("withdrawn") == 1
    assert {"e4", "e1"} <= set(attribute(piece, "data-event"))
    assert "e6" not in attribute(piece, "data-event")


def test_a_decision_that_changed_the_plan_can_be_taken_back_by_who_decides() -> None:
    """One button in its row, for the lead only; a decision in words alone has none."""
    piece = rows("0:00 decision text=cut defer=T030\n0:01 decision text=go-on", "1:00")
    assert attribute(piece, "data-act").count("take-back-decision") == 1
    assert len([name for name in attribute(piece, "class") if "may-decide" in name]) == 1


def test_a_withdrawal_names_what_it_took_back_and_can_be_taken_back() -> None:
    """Its row repeats the words of the event; what it took back has no button of its own."""
    piece = rows(STORY, "1:00")
    assert "withdraw 'third' of PET 0:33" in said(piece)
    assert attribute(piece, "data-act").count("take-back") == 1


def test_the_form_knows_which_kinds_the_server_keeps_for_the_lead() -> None:
    """What the lead alone may enter is marked; each that weighs says in its row what taking it back undoes."""
    assert set(log.LEAD_ENTRY) == LEAD_KINDS
    assert list(log.ENTRY)[-2:] == ["clock", "end"]
    assert "PET zero goes back" in attribute(rows("0:00 clock", "0:10"), "data-undoes")[0]


def test_only_events_with_words_offer_them_for_correction() -> None:
    """A note has a text, a start has none."""
    assert attribute(rows("0:00 note text=first", "0:10"), "data-words") == ["text"]
    assert attribute(rows("0:00 start T010", "0:10"), "data-words") == []


def test_an_empty_log_says_what_to_do() -> None:
    """Not a blank."""
    assert "Enter an event" in said(rows("", "0:10"))


def test_a_long_log_says_how_much_it_leaves_out() -> None:
    """The newest rows are shown, the rest is counted."""
    text = "\n".join(f"0:01 note text=n{n}" for n in range(log.MOST_ROWS + 3))
    words = said(rows(text, "1:00"))
    assert "3 more events are not shown here." in words
    assert f"n{log.MOST_ROWS + 2} " in words


def test_every_kind_of_event_can_be_entered() -> None:
    """By the form, or from the row of the event that it answers."""
    assert set(log.ENTRY) | ANSWERED_ELSEWHERE == set(KINDS)


def source_of(field_source: str) -> str:
    """Where a field's choices come from, without how many and on what they hang."""
    return field_source.rpartition(":")[2].rstrip("?").partition("@")[0]


def filled(kind: str) -> dict[str, Any]:
    """An event as the form of this kind would send it, every field filled in."""
    event: dict[str, Any] = {"id": "x", "kind": kind, "at": at("0:10")}
    for field in log.ENTRY[kind].fields:
        name, source = field.name, field.source
        value = SAMPLES[source_of(source)]
        if name == "subject":
            what, _, rest = str(value).partition(":")
            event[what] = rest
        else:
            event[name] = [value] if source.startswith("many") else value
    if kind == "add":
        before = event.pop("before")
        table = {key: event.pop(key) for key in ("title", "lanes", "duration")}
        event |= {"task": {**table, "id": "A001"}, "before": before}
    return event


@pytest.mark.parametrize("kind", log.ENTRY)
def test_what_a_form_sends_is_an_event(kind: str) -> None:
    """The fields of each form are the fields of its kind."""
    assert parse_event(filled(kind)).kind == kind


def test_the_form_offers_what_fits_the_moment_first() -> None:
    """To be done: in work, on hold, not started, done. To be started: not started first."""
    state = follow_at(plain_plan(), "0:00 clock\n0:00 start T010\n0:30 done T010\n0:30 start T030", "0:35")
    offered = offers.choices_of(plain_plan(), state)
    assert [offered["tasks"][0][0], offered["tasks"][-1][0]] == ["T030", "T010"]
    assert offered["to_start"][0][0] == "T040"
    assert [one[0] for one in offered["before"]] == ["T040", "T020"]


def test_the_form_offers_what_the_plan_names() -> None:
    """Every source of a field exists, and its choices are pairs of value and label, three where they hang on another."""
    offered = offers.choices_of(suited_plan(), follow_at(suited_plan(), "0:00 clock", "0:10"))
    sources = {source_of(field.source) for entry in log.ENTRY.values() for field in entry.fields}
    assert sources - set(offered) == {"minutes", "text", "number"}
    assert ["A", "suit A, EV1"] in offered["suits"]
    assert ["lane:ARM", "lane ARM"] in offered["scopes"]
    assert json.dumps(offered)


CHANGING = plan_of(
    task("T010", "EV1", 0, 30, title="Tray", can_move_to=["EV2"], shortest=20)
    + task("T020", "EV1 EV2", 30, 20, title="Bolts")
    + task("T030", "EV2", 60, 10, title="Lash") + task("T040", "EV2", 60, 15, title="Bring in")
    + '[[contingency]]\nid = "leak"\ntrigger = "Leak seen"\nhold = ["T020"]\n[[contingency.task]]\nid = "C010"\n'
    'title = "Close the valve"\nlanes = ["EV1"]\nduration = 5\n'
    + '[[alternative]]\nid = "old"\ntitle = "Old tray"\ndefault = "out"\n[alternative.options]\nout = ["T030"]\nin = ["T040"]\n'
)


def test_what_the_plan_does_not_allow_is_not_offered() -> None:
    """A lane that cannot take the task, a trim without a shortest length, a reinstatement of what was not deferred."""
    offered = offers.choices_of(CHANGING, follow_at(CHANGING, "0:00 clock\n0:01 defer T020", "0:02"))
    assert offered["can_move_to"] == [["EV2", "EV2", "T010"]]
    assert [one[0] for one in offered["trimmable"]] == ["T010"]
    assert [one[0] for one in offered["deferred"]] == ["T020"]
    assert offered["options"] == [["out", "out: T030 Lash", "old"], ["in", "in: T040 Bring in", "old"]]
    assert offered["new_task"] == [["A001", ""]]


def test_only_what_is_on_hold_is_offered_to_be_resumed() -> None:
    """With its reason; nothing while nothing is on hold."""
    assert offers.choices_of(CHANGING, follow_at(CHANGING, "0:00 clock", "0:02"))["held"] == []
    log_ = "0:00 clock\n0:00 start T010\n0:05 hold T010 reason=leak"
    offered = offers.choices_of(CHANGING, follow_at(CHANGING, log_, "0:06"))["held"]
    assert offered[1:] == [["task:T010", "T010 Tray: leak"]]


def test_inserting_says_beforehand_what_it_will_do() -> None:
    """The tasks that come in and what goes on hold, by title."""
    offered = offers.choices_of(CHANGING, follow_at(CHANGING, "0:00 clock", "0:02"))["insert_words"]
    assert offered == [["leak", "contingency leak is inserted, ahead of the rest of its lanes: C010 Close the valve. "
                                "Put on hold until they are done: T020 Bolts."]]  # fmt: skip


def test_problems_stand_gravest_first_and_are_counted() -> None:
    """Alerts, then what does not fit, then what could not be read."""
    state = follow_at(plain_plan(), "0:00 clock\n0:20 done T030", "0:30")
    alert = Alert(id="a", what="The end is over", since_pet_min=20.0, by_pet_min=390.0, do="Decide.")
    unread = Unread(line='{"kind": "strat"}', why="expected a known 'kind'", where="run.jsonl, line 7")
    state = state.model_copy(update={"alerts": [alert], "unread": [unread]})
    made = problems.snapshot(plain_plan(), state, EMPTY)
    assert said(made[Problems.HEAD]) == "1 alert, 1 discrepancy, 1 line not understood"
    words = said(made[Problems.BODY])
    assert words.startswith("▌ act The end is over. Since PET 0:20. By PET 6:30: Decide.")
    assert words.index("Decide.") < words.index("PET 0:20 e2: expected") < words.index("not understood, run.jsonl, line 7:")
    assert words.endswith('{"kind": "strat"}')


def test_a_note_is_counted_apart_from_alerts() -> None:
    """It stands in the list with its own word, and a small screen does not count it."""
    state = follow_at(plain_plan(), "0:00 clock", "0:30")
    note = Alert(id="a", level="note", what="No reading", since_pet_min=45.0, by_pet_min=90.0, do="Ask.")
    state = state.model_copy(update={"alerts": [note]})
    made = problems.snapshot(plain_plan(), state, EMPTY)
    assert said(made[Problems.HEAD]).startswith("No alerts, 1 note, ")
    assert said(made[Problems.BODY]).startswith("▲ note No reading. Since PET 0:45. By PET 1:30: Ask.")
    assert said(tabs.snapshot(plain_plan(), state)[Tabs.PROBLEMS]) == "Alerts"


def test_no_problem_is_said_in_words() -> None:
    """The place is kept, and not blank."""
    words = said(problems.snapshot(plain_plan(), follow_at(plain_plan(), "0:00 clock", "0:10"), EMPTY)[Problems.BODY])
    assert words == "No alert, no discrepancy, and every line is understood."


def test_a_small_screen_says_what_waits_behind_its_buttons() -> None:
    """A decision, an alert, how many problems, and a suit that is short or nearly so."""
    state = follow_at(plain_plan(), "0:00 clock\n0:20 done T030", "0:30")
    needed = state.model_copy(update={"advice": state.advice.model_copy(update={"needed": True, "call": "decide"})})
    assert said(tabs.snapshot(plain_plan(), needed)[Tabs.CHOICES]) == "Choices ▲ decide"
    made = tabs.snapshot(plain_plan(), state.model_copy(update={"alerts": []}))
    assert said(made[Tabs.CHOICES]) == "Choices"
    assert said(made[Tabs.PROBLEMS]) == "Alerts 1"
    for read, words in (("0.9", "Suits ▌ short"), ("1.2", "Suits ▲ low margin"), ("3.2", "Suits")):
        log = f"0:00 clock\n0:00 start T010\n0:12 reading A water={read}"
        worn = follow_at(suited_plan(), log, "0:20")
        assert said(tabs.snapshot(suited_plan(), worn)[Tabs.SUITS]) == words
