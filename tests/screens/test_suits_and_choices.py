"""The suits' bars, the choices, and what recording a choice sends."""

from __future__ import annotations

import json
import re
from typing import Any

import pytest

from dashboard.core.deferral.advice_model import Advice, Choice
from dashboard.core.events.kinds import parse_event
from dashboard.core.state.model import SortieState
from dashboard.screens import band, choices, suits
from dashboard.screens.ids import Choices, Suits
from dashboard.words import suit_margin_short
from tests.scenario import at, follow_at, plan_of
from tests.screens.html_text import attribute, said
from tests.screens.plans import SUITED, plain_plan, suited_plan

CAUTION = "Advisory only."
LOG = "0:00 clock\n0:00 start T010"


def suit_panel(log: str, pet: str) -> str:
    """The suits at a PET."""
    return suits.snapshot(suited_plan(), follow_at(suited_plan(), log, pet))[Suits.BODY]


def test_a_suit_names_its_wearer_and_the_age_of_its_reading() -> None:
    """And that there is none yet."""
    assert said(suit_panel(LOG, "0:20")).startswith("EV1 limiting: water, no reading yet, suit A")
    assert "read 8 min ago" in said(suit_panel(LOG + "\n0:12 reading A water=3.2", "0:20"))


def test_a_consumable_is_compared_with_its_need() -> None:
    """What is left, and how much time is in hand or short; the basis names the reading."""
    piece = suit_panel(LOG + "\n0:12 reading A water=3.2", "0:20")
    assert "in hand" in said(piece)
    (basis,) = attribute(piece, "data-basis")
    assert basis.startswith("Rests on 3.2 kg read at PET 0:12")
    assert "reserve 0.30 kg" in basis


def test_a_short_consumable_says_so_with_a_shape() -> None:
    """A warning beside the figure, whose word is in its name."""
    piece = suit_panel(LOG + "\n0:12 reading A water=0.9", "0:20")
    assert "short" in said(piece)
    assert "short" in attribute(piece, "aria-label")
    assert "▌" in said(piece)


def test_a_reading_that_cannot_be_says_so_in_its_row() -> None:
    """A word and a shape in place of the margin; where it is short, that stays beside it."""
    rises = said(suit_panel(LOG + "\n0:06 reading A water=3.4\n0:12 reading A water=3.55", "0:20"))
    assert "water 3.1 kg reading rises ▲" in rises
    above = said(suit_panel(LOG + "\n0:12 reading A water=3.9", "0:20"))
    assert "reading too high ▲" in above
    short = said(suit_panel(LOG + "\n0:06 reading A water=0.9\n0:12 reading A water=1.1", "0:20"))
    assert re.search(r"rises, \d\d min short ▌", short)


def test_a_suit_below_its_reserve_says_so_in_its_row() -> None:
    """In place of the margin, which no longer matters."""
    piece = suit_panel(LOG + "\n0:12 reading A water=0.2", "0:20")
    assert "below reserve ▌" in said(piece) and "in hand" not in said(piece)


def test_a_margin_of_days_is_not_counted_in_hours() -> None:
    """Nothing that a narrow row would cut."""
    assert suit_margin_short(1112 * 60.0) == "over 24 h in hand"
    assert suit_margin_short(150.0) == "over 2 h in hand"


def test_a_plan_without_suits_says_what_to_add() -> None:
    """An empty place says what to do."""
    made = suits.snapshot(plain_plan(), follow_at(plain_plan(), LOG, "0:10"))[Suits.BODY]
    assert "Add [[suit]] tables" in said(made)


def advised(**more: Any) -> SortieState:
    """A state with this advice."""
    advice = Advice(**{"needed": True, "confidence": 0.9, "in_by_limit": 0.31, "caution": CAUTION, **more})
    return follow_at(suited_plan(), LOG, "0:10").model_copy(update={"advice": advice})


def choice(**more: Any) -> Choice:
    """A choice that gives up T030."""
    given = {
        "defer": ["T030"], "end_pet_min": 372.2, "in_by_limit": 0.934, "decide_by_pet_min": 30.0, "why": "Least lost.",
        "value_lost": {"2": 1.0, "3": 2.27949}, "margin_min": {"A": 19.0}, "limiting": {"A": "water"}, "proven": True,
    }  # fmt: skip
    return Choice(**{**given, **more})


def shown(state: SortieState) -> tuple[str, str]:
    """Head and body of the choices."""
    made = choices.snapshot(suited_plan(), state)
    return said(made[Choices.HEAD]), said(made[Choices.BODY])


@pytest.mark.parametrize(
    "state",
    [advised(needed=None), advised(), advised(needed=False), advised(choices=[choice()]),
     advised(needed=False, get_ahead=["T030"], get_ahead_from={"T030": 10.0}, get_ahead_until={"T030": 245.0})],
)  # fmt: skip
def test_the_caution_stands_whatever_is_shown(state: SortieState) -> None:
    """Wherever advice may stand."""
    assert shown(state)[1].endswith(CAUTION)


def test_a_choice_says_what_it_gives_up_brings_and_costs_and_until_when() -> None:
    """Value lost rounds up to one decimal; the chance rounds down; the end rounds up."""
    head, body = shown(advised(choices=[choice()]))
    assert head == "Choices: 31 % sure of being in, wanted 90 %"
    assert body.startswith("1: what costs least. Defer Tool count back at plan pace PET 6:13, 93 % sure EV1 water 19")
    unproven = shown(advised(choices=[choice(proven=False)]))[1]
    assert unproven.startswith("1: the least cost found.")
    made = choices.snapshot(suited_plan(), advised(choices=[choice()]))[Choices.BODY]
    assert "Loses 1 of priority 2, 2.3 of priority 3." in attribute(made, "data-basis")[0]
    assert "loses 1 of priority 2, 2.3 of priority 3 Record decision by PET 0:30" in body


def test_what_sets_choices_apart_stands_in_their_heads_with_titles() -> None:
    """Two choices that begin alike can be told apart at a glance."""
    body = shown(advised(choices=[choice(), choice(differs="keeps T030, T020")]))[1]
    assert "2: keeps Tool count, Release the bolts" in body


def test_several_tasks_are_counted_first() -> None:
    """Where the list is cut on screen, the number still says how many go."""
    body = shown(advised(choices=[choice(defer=["T020", "T030"], trim={"T040": 25.0})]))[1]
    assert "Defer 2 tasks: Release the bolts, Tool count; trim Fetch the tray to 25 min" in body


def test_a_choice_that_does_not_reach_the_limit_says_so() -> None:
    """It is the earliest way in, not a way out."""
    assert "Earliest way in: Defer Tool count" in shown(advised(choices=[choice(reached=False)]))[1]


def test_recording_a_choice_sends_events_that_say_all_of_it() -> None:
    """One decision with what it defers and trims, and an event for each thing a decision cannot carry."""
    whole = choice(trim={"T020": 30.0}, break_off=["T010"], move={"T040": "EV1"}, choose={"ending": "inside"})
    made = choices.snapshot(suited_plan(), advised(choices=[whole]))[Choices.BODY]
    (sent,) = attribute(made, "data-events")
    events = [parse_event({**event, "id": f"d{n}", "at": at("0:10")}) for n, event in enumerate(json.loads(sent))]
    assert [event.kind for event in events] == ["decision", "choose", "break_off", "move"]
    assert events[0].defer == ("T030",)
    assert events[0].trim == {"T020": 30.0}
    assert (events[3].task, events[3].lane) == ("T040", "EV1")


def test_the_browser_counts_from_what_the_server_says() -> None:
    """Instants of the last event and reading, and thresholds that come late before stale."""
    made = band.snapshot(suited_plan(), follow_at(suited_plan(), LOG + "\n0:04 reading A water=3.4", "0:20"))
    assert made["last_event_at"] == made["last_reading_at"] == at("0:04")
    assert made["sortie"] == "t"
    for late, stale in (made["event_ages_min"], made["reading_ages_min"]):
        assert 0 < late < stale


def test_what_all_choices_do_is_said_once_and_each_card_says_what_sets_it_apart() -> None:
    """Three that defer the same task are not three times the same title."""
    three = [choice(defer=["T030", "T020"]), choice(defer=["T030", "T040"]), choice()]
    body = shown(advised(choices=three))[1]
    assert body.startswith("in every choice: defer Tool count 1: what costs least. Defer Release the bolts back at plan pace")
    assert "Defer Fetch the tray" in body and "Nothing more" in body
    assert body.count("Tool count") == 1


def test_what_happens_if_nobody_decides_is_said() -> None:
    """Which choice closes first, and the end that then stays, against the limit."""
    three = [choice(), choice(decide_by_pet_min=30.7), choice(decide_by_pet_min=30.9)]
    assert "If nobody decides by PET 0:30, choices 1, 2 and 3 are gone: the end stays" in shown(advised(choices=three))[1]
    body = shown(advised(choices=[choice(), choice(decide_by_pet_min=60.0)]))[1]
    assert "If nobody decides by PET 0:30, choice 1 is gone: the end stays expected PET 1:17" in body
    over = advised(choices=[choice()])
    over = over.model_copy(update={"end": over.end.model_copy(update={"p50_pet_min": 402.0})})
    body = shown(over)[1]
    assert "choice 1 is gone" in body and "stays expected PET 6:42, 46 min over," in body


def test_when_the_sortie_is_over_nothing_is_left_to_decide() -> None:
    """And nothing of it is called not known yet."""
    over = follow_at(suited_plan(), f"{LOG}\n0:30 end", "0:40")
    assert shown(over)[1].startswith("The sortie is over: nothing is left to decide. Advisory only.")


def test_choices_that_could_not_be_made_say_why() -> None:
    """In the words of the state."""
    state = advised().model_copy(update={"not_known": {"advice.choices": "the advice could not be computed"}})
    assert "wanted 90 %. The advice could not be computed." in shown(state)[1]


def test_a_get_ahead_that_fits_can_be_started_from_here() -> None:
    """The button names the lane and sends the task."""
    fits = {"get_ahead": ["T030"], "get_ahead_after": {"T030": None}, "get_ahead_until": {"T030": 245.0}}
    made = choices.snapshot(suited_plan(), advised(needed=False, **fits, get_ahead_from={"T030": 10.0}))[Choices.BODY]
    assert attribute(made, "data-task") == ["T030"]
    assert "Start on EV2 T030 Tool count, 40 min, from PET 0:10, begun by PET 4:05" in said(made)


def test_a_get_ahead_that_fits_later_says_after_what_and_has_no_button_yet() -> None:
    """It is to wait for its place."""
    fits = {"get_ahead": ["T030"], "get_ahead_after": {"T030": "T020"}, "get_ahead_until": {"T030": 245.0}}
    made = choices.snapshot(suited_plan(), advised(needed=False, **fits, get_ahead_from={"T030": 75.0}))[Choices.BODY]
    assert attribute(made, "data-task") == []
    assert "T030 Tool count, 40 min, after T020 Release the bolts from PET 1:15, begun by PET 4:05" in said(made)


def test_the_button_of_a_decision_repeats_what_it_brings() -> None:
    """What goes, end, chance, suits and cost stand in the words that are asked about."""
    made = choices.snapshot(suited_plan(), advised(choices=[choice()]))[Choices.BODY]
    (asked,) = attribute(made, "data-text")
    assert asked == ("Defer Tool count; back at plan pace PET 6:13, 93 % sure; EV1 water 19 min in hand; "
                     "loses 1 of priority 2, 2.3 of priority 3.")  # fmt: skip


def test_what_if_offers_the_lanes_that_a_task_may_go_to_and_the_other_endings() -> None:
    """Until the task has begun, and until an ending has."""
    ending = '[[alternative]]\nid = "end"\ntitle = "The end"\ndefault = "bolts"\n[alternative.options]\n'
    tables = SUITED.replace('id = "T030"', 'id = "T030"\ncan_move_to = ["EV1"]')
    plan = plan_of(tables + ending + 'bolts = ["T020"]\ntray = ["T040"]\n')

    def offered(log: str) -> tuple[str, list[str]]:
        made = choices.snapshot(plan, follow_at(plan, log, "0:35"))[Choices.WHAT_IF_TASKS]
        return said(made), attribute(made, "id")

    words, ids = offered(LOG + "\n0:30 done T010")
    assert words.startswith("The end: 'bolts' take 'tray'")
    assert "hand T030 over to EV1" in words
    assert {"what-if-choose-end-tray", "what-if-move-T030-EV1"} <= set(ids)
    words, ids = offered(LOG + "\n0:30 done T010\n0:30 start T030\n0:30 start T020")
    assert not [name for name in ids if "choose" in name or "move" in name]


def test_what_if_offers_what_the_state_of_each_task_allows() -> None:
    """Not started: defer, and a trim where there is a shortest length. In work: break off. Over: nothing."""
    made = choices.snapshot(suited_plan(), follow_at(suited_plan(), LOG + "\n0:30 done T010\n0:30 start T020", "0:31"))
    ticks = attribute(made[Choices.WHAT_IF_TASKS], "data-what-if")
    assert list(zip(attribute(made[Choices.WHAT_IF_TASKS], "data-task"), ticks, strict=True)) == [
        ("T020", "break_off"), ("T030", "defer"), ("T040", "defer"),
    ]  # fmt: skip
