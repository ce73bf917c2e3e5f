"""The suits' bars, the choices, and what recording a choice sends."""

from __future__ import annotations

import json
import re
from typing import Any

import pytest

from dashboard.core.deferral.advice_model import Advice, Choice, IfNotDecided, Item, Rung
from dashboard.core.events.change import Part
from dashboard.core.events.kinds import parse_event
from dashboard.core.state.model import SortieState
from dashboard.screens import band, choices, suits
from dashboard.screens.ids import Choices, Suits
from dashboard.words import suit_margin_short
from tests.scenario import SORTIE, at, follow_at, lanes, plan_of, suit, task
from tests.screens.html_text import attribute, said
from tests.screens.plans import SUITED, plain_plan, suited_plan

CAUTION = "Advisory only."
LOG = "0:00 clock\n0:00 start T010"


def suit_panel(log: str, pet: str) -> str:
    """The suits at a PET."""
    return suits.snapshot(suited_plan(), follow_at(suited_plan(), log, pet))[Suits.BODY]


def test_a_suit_names_its_wearer_and_the_age_of_its_reading() -> None:
    """And that there is none yet."""
    assert said(suit_panel(LOG, "0:20")).startswith("EV1 water limits, no reading yet , suit A")
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


def test_a_doubted_reading_stands_beside_what_was_expected() -> None:
    """In the row that it is in doubt, in the basis both values."""
    piece = suit_panel(LOG + "\n0:12 reading A water=0.9", "0:20")
    assert re.search(r"read 8 min ago .* in doubt, \d+ min short ▌", said(piece))
    (basis,) = attribute(piece, "data-basis")
    assert basis.startswith("Rests on 0.90 kg read at PET 0:12, where 3.4 kg was to be expected: read it again.")


def test_an_assumed_rate_says_so_in_place_of_a_margin() -> None:
    """No shape, no minutes: it sets no limit, and the basis says why."""
    plan = plan_of(
        f"[sortie]\n{SORTIE}" + lanes({"EV1": "A"}) + suit("A", battery={"loaded": 100, "reserve": 40}) + task("A", "EV1", 0, 120)
    )
    piece = suits.snapshot(plan, follow_at(plan, "0:00 clock\n0:00 start A", "1:30"))[Suits.BODY]
    assert "battery" in said(piece) and said(piece).endswith("rate assumed")
    assert "▌" not in said(piece) and "▲" not in said(piece)
    assert "its rate is assumed, so it sets no limit" in attribute(piece, "data-basis")[0]


def test_a_reading_that_cannot_be_says_so_in_its_row() -> None:
    """A word and a shape in place of the margin; where it is short, that stays beside it."""
    rises = said(suit_panel(LOG + "\n0:06 reading A water=3.4\n0:12 reading A water=3.55", "0:20"))
    assert "water 3.1 kg reading rises ▲" in rises
    above = said(suit_panel(LOG + "\n0:12 reading A water=3.9", "0:20"))
    assert "reading too high ▲" in above
    short = said(suit_panel(LOG + "\n0:06 reading A water=2.2\n0:07 reading A water=2.2\n0:12 reading A water=2.4", "0:20"))
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


def item(task: str, by: float, *, now: bool, **more: Any) -> Item:
    return Item(**{"task": task, "how": "defer", "decide_by_pet_min": by, "now": now, **more})


NOW_AND_LATER = {
    "defer": ["T030"], "trim": {"T020": 30.0},
    "items": [item("T020", 60.0, now=False, how="trim", to=30.0, wins_min=12.4), item("T030", 30.0, now=True, wins_min=11.9)],
}


def test_a_choice_lists_what_goes_one_thing_per_line_with_what_it_wins_and_its_time() -> None:
    """What goes now first, apart from what can wait; the end against the limit, each suit, and the cost in tasks."""
    head, body = shown(advised(call="decide", choices=[choice(**NOW_AND_LATER)]))
    assert head == "Choices: chance in time 31 %, wanted 90 % chance withheld"  # one of the two, as the log is fresh or stale
    assert (
        "Choice 1: what costs least. Inside by PET 6:13 at plan pace: 17 min before the limit PET 6:30; chance in time 93 %. "
        "Record what goes now Record all what goes wins decide by now defer T030 Tool count 11 min PET 0:30 "
        "can wait trim T020 Release the bolts to 30 min 12 min PET 1:00 EV1 water 19 min in hand loses "
    ) in body
    assert "2.3 in value of priority 3" in body
    hints = {}
    for call in ("decide", "expect"):
        made = choices.snapshot(suited_plan(), advised(call=call, choices=[choice(**NOW_AND_LATER)]))
        hints[call] = attribute(made[Choices.BODY], "title")
    told = {call: [one for one in titles if one != choices.WINS] for call, titles in hints.items()}
    assert told["decide"] == ["now", "can wait until then, and may prove needless"]
    assert told["expect"] == ["closes first, though nothing has to be decided yet", "can wait until then"]
    assert "Choice 1: the least cost found." in shown(advised(choices=[choice(proven=False)]))[1]


def test_the_ladder_says_what_would_have_to_go_for_each_chance_and_what_that_costs() -> None:
    """In tasks; the wanted step is named, and one that nothing reaches says so."""
    ladder = [
        Rung(wanted=None, reached=True, value_lost={}),
        Rung(wanted=0.9, reached=True, defer=("T030",), trim={"T040": 25.0}, value_lost={"2": 1.5}),
        Rung(wanted=0.95, reached=False),
    ]
    body = shown(advised(choices=[choice()], ladder=ladder))[1]
    assert (
        "What certainty costs chance in time what would have to go in time at plan pace nothing loses nothing of value "
        "90 % wanted defer T030; trim T040 to 25 min loses 1 of 4 priority-2 tasks; 1 of 4 priority-2 tasks cut short "
        "95 % nothing that may go is enough"
    ) in body


def test_what_goes_now_can_be_recorded_alone() -> None:
    """One decision with exactly that part; the question names it, and what is not recorded with it."""
    made = choices.snapshot(suited_plan(), advised(call="decide", choices=[choice(**NOW_AND_LATER)]))[Choices.BODY]
    now, whole = (json.loads(events) for events in attribute(made, "data-events"))
    (decision,) = (parse_event({**event, "id": "d", "at": at("0:10")}) for event in now)
    assert (decision.defer, decision.trim, decision.change().parts()) == (("T030",), {}, [Part("defer", "T030")])
    assert whole[0]["trim"] == {"T020": 30.0}
    assert attribute(made, "data-text")[0] == (
        "What goes now of choice 1: defer T030. This can wait and is not recorded: trim T020 to 30 min."
    )
    assert "Record what goes now Record all" in said(made)


def test_a_choice_that_does_not_reach_the_limit_says_so() -> None:
    """It is the earliest way in, not a way out."""
    one = choice(reached=False, items=[item("T030", 30.0, now=True)])
    assert "Choice 1: the earliest way in." in shown(advised(choices=[one]))[1]


def test_what_is_missing_is_said_only_where_no_choice_reaches_the_confidence() -> None:
    """Beside a choice that reaches it, the minutes missing would contradict the few minutes that the choice wins."""
    then = IfNotDecided(end_pet_min=400.0, p50_pet_min=410.0, p90_pet_min=450.0, in_by_limit=0.04, short_by_min=75.0)
    missing = "As things stand, for a chance of 90 % it would have to end 1 h 15 min earlier."
    assert missing in shown(advised(choices=[choice(if_not_decided=then, reached=False)]))[1]
    assert missing not in shown(advised(choices=[choice(if_not_decided=then)]))[1]


def test_choices_that_nobody_is_asked_to_take_say_so() -> None:
    """What they would do is said, and not what happens if nobody takes them."""
    told = shown(advised(choices=[choice()], call="none", call_why="87 %."))[1]
    assert told.startswith("Nothing to decide. 87 %. Not asked for. This would bring the chance to 90 %:")
    assert "If nothing is decided" not in told
    assert "This would raise the chance:" in shown(advised(choices=[choice(reached=False)], call="none", call_why="87 %."))[1]


def test_that_nothing_is_enough_stands_first() -> None:
    """Before the choice that is nearest to it; beside a choice that reaches the chance there is no such sentence."""
    why = "Nothing that may go is enough."
    assert shown(advised(choices=[choice(reached=False)], call="expect", obstacle=why))[1].startswith(why)
    assert why not in shown(advised(choices=[choice()], call="expect"))[1]


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


def test_what_happens_if_nothing_is_decided_is_said() -> None:
    """When each choice closes, and the end that then stays, in the words of the headline."""
    stays = "If nothing is decided at all: inside by PET 1:17: 3 h 30 min before the limit PET 4:47; chance in time over 99 %."
    three = [choice(), choice(decide_by_pet_min=30.7), choice(decide_by_pet_min=30.9)]
    assert f"Choices 1, 2 and 3 close at PET 0:30. {stays}" in shown(advised(choices=three))[1]
    body = shown(advised(choices=[choice(), choice(decide_by_pet_min=60.0)]))[1]
    assert f"Choice 1 closes at PET 0:30; choice 2 closes at PET 1:00. {stays}" in body


def test_when_the_sortie_is_over_nothing_is_left_to_decide() -> None:
    """And nothing of it is called not known yet."""
    over = follow_at(suited_plan(), f"{LOG}\n0:30 end", "0:40")
    assert shown(over)[1].startswith("The sortie is over: nothing is left to decide. Advisory only.")


def test_in_calm_times_the_place_of_the_choices_says_what_could_still_go() -> None:
    """Not what is required or a get-ahead; the least priority first, each until it begins; at most four."""
    tasks = "".join(task(f"T{n}", "EV1", 20 * n, [20, 20, 20], priority=1 + n % 3, title=f"Work {n}") for n in range(7))
    never = task("T8", "EV1", 140, [10, 10, 10], required=True) + task("T9", "EV1", None, [10, 10, 10], get_ahead=True)
    plan = plan_of(tasks + never)
    state = follow_at(plan, "0:00 clock\n0:00 start T0", "0:10")
    calm = state.model_copy(update={"advice": state.advice.model_copy(update={"needed": False, "get_ahead": [], "call": "none"})})
    found = re.findall(r"T\d Work \d", text := said(choices.snapshot(plan, calm)[Choices.BODY]))
    assert [one.split()[0] for one in found] == ["T2", "T5", "T1", "T4"]
    assert "3 T2 Work 2 20 min PET 0:40" in " ".join(text.split())


def test_choices_that_could_not_be_made_say_why() -> None:
    """In the words of the state."""
    state = advised().model_copy(update={"not_known": {"advice.choices": "the advice could not be computed"}})
    assert shown(state)[1].startswith("The advice could not be computed.")


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
    assert asked == (
        "Defer T030 Tool count; with it inside by PET 6:13 at plan pace: 17 min before the limit PET 6:30; chance in time 93 %; "
        "EV1 water 19 min in hand; loses 1 of 4 priority-2 tasks; 2.3 in value of priority 3."
    )


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


def test_a_trim_that_leaves_a_worksite_in_time_is_offered_with_its_button() -> None:
    """The last task there runs 20 min past the leave-by time; cut to 20 min it ends in time, and that is one decision."""
    tables = SUITED.replace('id = "T030"', 'id = "T030"\nshortest = 10\nworksite = "rack"')
    plan = plan_of(tables + '[[worksite]]\nid = "rack"\nreturn = 10\nleave_by = "0:20"\n')
    state = follow_at(plan, LOG + "\n0:00 start T030", "0:10")
    made = choices.snapshot(plan, state)[Choices.BODY]
    assert "To leave in time: Record this trim Trim T030 Tool count to 20 min, so that rack is left by PET 0:20." in said(made)
    (sent,) = attribute(made, "data-events")
    assert json.loads(sent)[0]["trim"] == {"T030": 20.0}
