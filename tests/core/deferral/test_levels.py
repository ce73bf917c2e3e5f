"""Levels of giving up, and the change that a selection of levels describes."""

from __future__ import annotations

from dashboard.core.base.times import parse_instant
from dashboard.core.deferral.items import deferral_of
from dashboard.core.deferral.levels import (
    LOSS_SCALE,
    Level,
    Selection,
    TaskLevels,
    change_of,
    levels_of,
    tasks_out,
    with_all_that_goes_along,
    with_task_back,
)
from dashboard.core.deferral.sense import GoesWith
from dashboard.core.events.change import Change
from dashboard.core.record.fold import reconcile
from dashboard.core.schedule.plan_pace import project
from tests.core.deferral.cases import HOME, LANES
from tests.scenario import at, log_of, plan_of, task

WHOLE, OUT = Level(0, None, False), Level(1, None, True)
TABLES = (
    task("A", "EV1", 0, 40, closeout=5, value=2.0) + task("B", "EV1", 40, 30, shortest=26.5, priority=1, can_move_to=["EV2"])
    + task("C", "EV1", 70, 30, after=["B"]) + HOME
)


def levels(most_trims: int | None = None) -> dict[str, TaskLevels]:
    """The levels at PET 0:10, with A in work for 10 of its 40 min."""
    record = reconcile(plan_of(LANES + TABLES), log_of("0:00 clock\n0:00 start A"), parse_instant(at("0:10")))
    return levels_of(deferral_of(record, project(record), {}, 100), most_trims)


def test_a_task_goes_from_whole_by_whole_minutes_to_out() -> None:
    """B lasts 30 min and is useful from 26.5 up: 29, 28, 27, the shortest itself, and out. Each costs its share of 1."""
    assert [(level.length_min, level.out) for level in levels()["B"].levels] == [
        (None, False), (29, False), (28, False), (27, False), (26.5, False), (None, True),
    ]
    shares = [0, 1 / 30, 2 / 30, 3 / 30, 3.5 / 30, 1]
    assert [level.loss for level in levels()["B"].levels] == [round(share * LOSS_SCALE) for share in shares]
    assert levels()["B"].moves == ("EV2",)


def test_work_in_hand_is_broken_off_for_what_is_left_of_its_value() -> None:
    """10 of 40 min of A are done: three quarters of its value of 2 would be lost."""
    assert levels()["A"].levels == (Level(0, None, False), Level(round(1.5 * LOSS_SCALE), None, True))
    assert levels()["A"].breaks_off and not levels()["B"].breaks_off


def test_a_required_task_has_one_level() -> None:
    """It is whole, and nothing else."""
    assert levels()["HOME"].levels == (Level(0, None, False),)
    assert levels()["HOME"].last == 0


def test_few_lengths_keep_the_shortest() -> None:
    """Of 29, 28, 27 and 26.5 two are left, the shortest among them."""
    assert [level.length_min for level in levels(2)["B"].levels] == [None, 28, 26.5, None]


def test_a_selection_is_a_change() -> None:
    """The last level of work in hand breaks it off, that of B defers it; a level between trims."""
    tasks = levels()
    out = Selection({"A": 1, "B": tasks["B"].last}, {})
    assert change_of(tasks, out, {}) == Change(defer=("B",), break_off=("A",))
    cut = Selection({"B": 2}, {"B": "EV2"})
    assert change_of(tasks, cut, {"ending": "short"}) == Change(
        trim={"B": 28}, move={"B": "EV2"}, choose={"ending": "short"}
    )


def test_what_goes_along_goes_or_nothing_does() -> None:
    """C goes with B, and B with A: all three are out. When C may not go, none of them is."""
    may_go = {name: TaskLevels(name, 2, (WHOLE, OUT), False, ("EV2",)) for name in "ABCD"}
    chain = [GoesWith("B", frozenset("A")), GoesWith("C", frozenset("B"))]
    handed = Selection({}, {"B": "EV2", "D": "EV2"})
    assert with_all_that_goes_along(may_go, chain, handed, "A") == Selection({"A": 1, "B": 1, "C": 1}, {"D": "EV2"})
    stuck = {**may_go, "C": TaskLevels("C", 2, (WHOLE,), False, ())}
    assert with_all_that_goes_along(stuck, chain, handed, "A") == handed


def test_what_a_task_needs_comes_back_with_it() -> None:
    """C needs B, and B needs A or D: A comes back, and D stays out."""
    tasks = {name: TaskLevels(name, 2, (WHOLE, OUT), False, ()) for name in "ABCD"}
    sense = [GoesWith("B", frozenset("AD")), GoesWith("C", frozenset("B"))]
    all_out = Selection(dict.fromkeys("ABCD", 1), {})
    assert tasks_out(tasks, all_out) == set("ABCD")
    assert with_task_back(tasks, sense, all_out, "C") == Selection({"D": 1}, {})
