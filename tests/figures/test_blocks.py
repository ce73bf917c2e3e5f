"""What is drawn of a task says what became of it."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dashboard.core.deferral.advice_model import Choice
from dashboard.core.events.change import Change
from dashboard.core.state.model import SortieState
from dashboard.figures.blocks import Block, blocks_of, free_stretches, out_of_sortie
from tests.scenario import follow_at, plan_of, task

ORDER = ["EV1", "EV2", "ARM"]
PLAN = plan_of(
    task("T010", "EV1", 0, 30, title="Unstow pump")
    + task("T020", "EV1", 30, 40, title="Carry pump", closeout=6)
    + task("T030", "EV2", 0, 60, title="Prepare tray")
    + task("T040", "EV1 EV2", 70, 90, title="Swap tray", after=["T020"])
    + task("T050", "EV1 ARM", 160, 20, title="Stow arm")
    + task("T060", "EV2", 160, 25, title="Tie down <loose> line")
    + task("G010", "EV2", None, 20, title="Inspect radiator", get_ahead=True)
    + '[[contingency]]\nid = "leak"\ntrigger = "Leak seen"\nhold = ["T020"]\n'
    '[[contingency.task]]\nid = "C010"\ntitle = "Wipe fitting"\nlanes = ["EV1"]\nduration = 12\n'
)
STARTED = "0:00 clock\n0:05 start T010\n0:00 start T030\n"


def _blocks(log: str, pet: str) -> dict[str, list[Block]]:
    by_task: dict[str, list[Block]] = {}
    for block in blocks_of(follow_at(PLAN, log, pet), ORDER):
        by_task.setdefault(block.task, []).append(block)
    return by_task


def test_work_in_hand_is_solid_to_now_and_hatched_from_there() -> None:
    """A task in work is drawn to now as worked and from now as remaining, under one strong edge."""
    worked, rest = _blocks(STARTED, "0:20")["T010"]
    assert (worked.form, worked.start, worked.end, worked.outline_end) == ("work", 5.0, 20.0, 35.0)
    assert (rest.form, rest.start, rest.end, rest.labelled) == ("work rest", 20.0, 35.0, False)
    assert (worked.second, worked.right) == ("15 of 30 min", "began 5 min late")


def test_an_estimate_replaces_the_planned_rest() -> None:
    """With an estimate standing the block says how much is to go by it."""
    worked, rest = _blocks(STARTED + "0:20 estimate T010 remaining=12", "0:24")["T010"]
    assert worked.second == "8 min to go by estimate"
    assert rest.end == 32.0


def test_done_work_says_what_it_took() -> None:
    """A finished task is solid from its start to its finish, with its minutes against the briefed ones."""
    (done,) = _blocks(STARTED + "0:42 done T010", "0:50")["T010"]
    assert (done.form, done.start, done.end) == ("done", 5.0, 42.0)
    assert (done.title, done.second) == ("Unstow pump", "37 min, briefed 30")


def test_a_start_that_nobody_logged_is_said() -> None:
    """A task done without a start is drawn with its planned length and the words that its start is not known."""
    (done,) = _blocks("0:00 clock\n0:30 done T010", "0:50")["T010"]
    assert (done.end, done.second, done.right) == (30.0, "start not known, briefed 30 min", "")


def test_what_is_to_come_is_projected() -> None:
    """A task not started is hatched where it is projected, and keeps the place where it was briefed."""
    (block,) = _blocks(STARTED, "0:20")["T020"]
    assert (block.form, block.start, block.end, block.briefed_start) == ("projected", 35.0, 75.0, 30.0)
    assert (block.second, block.right) == ("40 min", "starts 5 min late")


def test_a_joint_task_is_one_block_over_neighbouring_columns() -> None:
    """EV1 and EV2 stand side by side: their task is one block with one briefed tick."""
    (block,) = _blocks(STARTED, "0:20")["T040"]
    assert (block.first, block.last) == (0, 1)
    assert block.briefed_start == 70.0


def test_a_joint_task_apart_is_two_halves_that_name_each_other() -> None:
    """EV1 and the arm stand apart: each half names the other lane, and only one has the briefed tick."""
    left, right = _blocks(STARTED, "0:20")["T050"]
    assert [(left.first, left.last), (right.first, right.last)] == [(0, 0), (2, 2)]
    assert (left.second, right.second) == ("with ARM, 20 min", "with EV1, 20 min")
    assert (left.briefed_start, right.briefed_start) == (160.0, None)


def test_work_on_hold_keeps_its_place_and_says_so() -> None:
    """On hold: what was worked, the stretch since, and the rest where it is projected, each its own form."""
    worked, held, rest = _blocks(STARTED + "0:15 hold T010 reason=grip", "0:25")["T010"]
    assert [(b.form, b.start, b.end) for b in (worked, held)] == [("hold", 5.0, 15.0), ("held", 15.0, 25.0)]
    assert worked.second == "on hold: grip, 10 of 30 min"
    assert (worked.room_end, held.labelled) == (25.0, False)
    assert (rest.form, rest.title, rest.second) == ("projected", "Resume: Unstow pump", "20 min to go")


def test_a_second_hold_is_drawn_from_where_it_began() -> None:
    """Worked 0:05 to 0:15 and from 0:20, when the first hold was over; on hold again from 0:30."""
    worked, held = _blocks(STARTED + "0:15 hold T010\n0:20 resume T010\n0:30 hold T010", "0:45")["T010"][:2]
    assert (worked.start, worked.end, held.start, held.end) == (5.0, 30.0, 30.0, 45.0)


def test_a_rest_of_a_minute_or_three_on_hold_is_not_drawn() -> None:
    """Between the hold and the next work lie three minutes: too little to draw, and the work block says on hold."""
    blocks = _blocks(STARTED + "0:15 hold T010\n0:18 start T020", "0:30")["T010"]
    assert [b.form for b in blocks] == ["hold", "projected"]
    assert blocks[0].word == "on hold"


def test_a_stretch_on_hold_gives_way_to_other_work_in_its_lane() -> None:
    """While EV1 does other work, the held task is not drawn over it."""
    log = STARTED + "0:15 hold T010\n0:20 start T020"
    assert [(b.start, b.end) for b in _blocks(log, "0:30")["T010"] if b.form == "held"] == [(15.0, 20.0)]


def test_a_joint_task_on_hold_is_drawn_in_each_lane_that_waits() -> None:
    """While EV2 does other work and EV1 waits, the stretch on hold stands in the column of EV1 only."""
    log = (
        "0:00 clock\n0:00 start T010\n0:30 done T010\n0:30 start T020\n1:10 done T020\n1:10 start T040\n"
        "1:20 hold T040\n1:21 start T060"
    )
    worked, held, _ = _blocks(log, "1:40")["T040"]
    assert (held.first, held.last, held.start, held.end) == (0, 0, 80.0, 100.0)
    assert (held.title, held.second, held.labelled) == ("On hold: Swap tray", "since PET 1:20", True)
    assert worked.room_end is None


def test_steps_done_in_the_middle_of_a_task_are_drawn_inside_it() -> None:
    """Contingency steps within the time of the task they interrupted lie on it, drawn in."""
    log = (
        "0:00 clock\n0:00 start T010\n0:30 done T010\n0:30 start T020\n0:40 insert leak\n0:40 start C010\n"
        "0:52 done C010\n0:53 resume T020\n1:20 done T020"
    )
    state = follow_at(PLAN, log, "1:30")
    drawn = [b for b in blocks_of(state, ORDER) if b.task in ("T020", "C010")]
    assert [(b.task, b.nest) for b in drawn] == [("T020", 0), ("C010", 1)]
    assert drawn[0].second == "37 min, briefed 40, 13 min on hold"
    assert drawn[1].second == "contingency, 12 min, briefed 12"


def test_work_broken_off_is_struck_and_its_close_out_follows() -> None:
    """A task broken off is struck through with the word, and its close-out minutes follow it."""
    log = "0:00 clock\n0:00 start T010\n0:30 done T010\n0:30 start T020\n0:45 break_off T020"
    broken, close_out = _blocks(log, "0:47")["T020"]
    assert (broken.form, broken.struck, broken.second) == ("broken off", True, "broken off, 15 of 40 min")
    assert (close_out.start, close_out.end, close_out.second) == (45.0, 51.0, "until PET 0:51")


def test_a_deferred_task_is_struck_where_its_place_is_free() -> None:
    """A deferred task keeps the free part of its briefed place, struck through with the word."""
    (ghost,) = _blocks(STARTED + "0:10 defer T060", "0:20")["T060"]
    assert (ghost.form, ghost.struck, ghost.second) == ("deferred", True, "deferred, 25 min")
    assert 160.0 <= ghost.start < ghost.end <= 185.0


def test_a_deferred_task_whose_place_is_taken_is_named_under_the_sheet() -> None:
    """What left the sortie is listed with its word, whether or not the columns have room for it."""
    state = follow_at(PLAN, STARTED + "0:10 defer T020 ", "0:20")
    assert ("T020", "Carry pump", "deferred") in out_of_sortie(state)


def test_after_the_end_what_was_not_done_is_listed() -> None:
    """Once the sortie is over, tasks not started and not finished are named as such; get-aheads are not."""
    out = out_of_sortie(follow_at(PLAN, STARTED + "0:42 done T010\n1:00 end", "1:10"))
    words = {title: word for _, title, word in out}
    assert words["Prepare tray"] == "not finished"
    assert words["Swap tray"] == "not started"
    assert "Inspect radiator" not in words


def test_get_aheads_are_drawn_only_once_begun() -> None:
    """A get-ahead that nobody began is not in the columns; in work it is."""
    assert "G010" not in _blocks(STARTED, "0:20")
    assert _blocks(STARTED + "1:00 done T030\n1:00 start G010", "1:10")["G010"][0].form == "work"


def _advised(state: SortieState, *choices: Choice, **more: Any) -> SortieState:
    advice = state.advice.model_copy(update={"needed": True, "call": "expect", "choices": list(choices), **more})
    return state.model_copy(update={"advice": advice})


def test_what_needed_advice_gives_up_is_struck_with_the_word() -> None:
    """The choice on which the call rests strikes through what it would defer; without a call nothing is struck."""
    state = follow_at(PLAN, STARTED, "0:20")
    choice = Choice(
        defer=["T060"], end_pet_min=None, in_by_limit=None, decide_by_pet_min=None, value_lost={}, why="x"
    )
    (block,) = [b for b in blocks_of(_advised(state, choice), ORDER) if b.task == "T060"]
    assert (block.struck, block.second) == (True, "choice 1 defers this")
    first = choice.model_copy(update={"defer": ()})
    called = _advised(state, first, choice, call="decide", call_for_now=Change(defer=("T060",)))
    (block,) = [b for b in blocks_of(called, ORDER) if b.task == "T060"]
    assert (block.word, block.second) == ("choice 2", "choice 2 defers this")
    for uncalled in (state, _advised(state, choice, call="none"), _advised(state, choice, call=None)):
        (calm,) = [b for b in blocks_of(uncalled, ORDER) if b.task == "T060"]
        assert not calm.struck and not calm.word


def test_where_no_choice_holds_what_the_call_asks_for_that_is_struck() -> None:
    """The call asks for T060 so that T050, which the choice would defer, is spared. T050 is not struck."""
    state = follow_at(PLAN, STARTED, "0:20")
    choice = Choice(defer=["T050"], end_pet_min=None, in_by_limit=None, decide_by_pet_min=None, value_lost={}, why="x")
    called = _advised(state, choice, call="decide", call_for_now=Change(defer=("T060",)))
    struck = [(b.task, b.word, b.second) for b in blocks_of(called, ORDER) if b.struck]
    assert struck == [("T060", "the call", "the call defers this")]


def test_the_hover_tells_everything_and_markup_is_harmless() -> None:
    """The hover says state, times, what holds the task, its events and as of when; a title cannot inject markup."""
    told = _blocks(STARTED, "0:20")["T010"][0].hover
    for part in ("<b>Unstow pump</b> (T010)", "in work, EV1", "briefed: PET 0:00 to 0:30", "actual: PET 0:05",
                 "projected at plan pace: PET 0:05 to 0:35", "from: e2;", "as of PET 0:20"):
        assert part in told
    assert "Tie down &lt;loose&gt; line" in _blocks(STARTED, "0:20")["T060"][0].hover


@given(
    st.tuples(st.floats(0, 100), st.floats(0, 100)).map(sorted),
    st.lists(st.tuples(st.floats(0, 100), st.floats(0, 100)).map(lambda ends: (min(ends), max(ends))), max_size=6),
)
def test_free_stretches_are_exactly_what_is_not_taken(whole: list[float], taken: list[tuple[float, float]]) -> None:
    """What is free touches nothing taken, and free and taken together fill the whole."""
    start, end = whole
    free = free_stretches(start, end, taken)
    for a, b in free:
        assert start <= a < b <= end
        assert all(b <= begin or a >= finish for begin, finish in taken if finish > begin)
    edges = sorted({start, end, *(e for pair in taken for e in pair if start < e < end)})
    uncovered = sum(
        b - a for a, b in zip(edges, edges[1:], strict=False)
        if not any(begin <= a and b <= finish for begin, finish in taken)
    )
    assert sum(b - a for a, b in free) == pytest.approx(uncovered, abs=1e-9)
