"""The deferral problem as plain data."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from dashboard.core.base.times import parse_instant
from dashboard.core.deferral.items import Deferral, RemainingTask, coarsened, deferral_of, tightened
from dashboard.core.record.fold import reconcile
from dashboard.core.schedule.plan_pace import project
from dashboard.core.suits.budget import budgets
from tests.core.deferral.cases import HOME, LANES, STOP
from tests.scenario import at, log_of, plan_of, suit, task

TABLES = (
    task("A", "EV1", 0, 40, closeout=5, shortest=20) + task("B", "EV1", 40, 30, after=["A"], can_move_to=["EV2"], value=3.0)
    + task("C", "EV2", 0, 20, not_before=30, follows=[{"task": "A", "lag": 2}], needs=["daylight"]) + HOME
    + '[[window]]\nkind = "daylight"\nfrom = 0\nto = 90\n'
)
BEGUN = "0:00 clock\n0:00 start A"
OXYGEN = suit("A", oxygen={"loaded": 1.0, "reserve": 0.1, "base": 0.06, "per_watt": 0})


def problem(tables: str = TABLES, log: str = BEGUN, pet: str = "0:10", **more) -> Deferral:
    record = reconcile(plan_of(LANES + tables), log_of(log), parse_instant(at(pet)))
    projection = project(record)
    return deferral_of(record, projection, budgets(record, projection), 100, **more)


def items(*args, **more) -> dict[str, RemainingTask]:
    return {item.id: item for item in problem(*args, **more).items}


def test_work_in_hand_may_be_cut_or_broken_off_and_not_deferred() -> None:
    """A has worked for 10 of 40 min and is useful from 20 up: 30 min are left, at least 10; its close-out takes 5."""
    a = items()["A"]
    assert (a.worked_s, a.length_s, a.least_s, a.closeout_s) == (600, 1800, 600, 300)
    assert a.in_work and not a.may_defer
    assert a.loss_per_s == pytest.approx(1 / 2400)
    assert a.broken_off_loss == 1.0
    assert items(pet="0:25")["A"].broken_off_loss == pytest.approx(15 / 40)


def test_what_has_not_begun_may_be_deferred_and_handed_over() -> None:
    """B comes after A and may go to EV2; it cannot be cut or broken off."""
    b = items()["B"]
    assert b.may_defer and b.closeout_s is None and b.least_s == b.length_s == 1800
    assert (b.moves, b.value) == (("EV2",), 3.0)


def test_the_times_that_bind_a_task_are_in_seconds() -> None:
    """C begins no earlier than 0:30, 2 min after A, and inside its window."""
    c = items()["C"]
    assert (c.from_s, c.waits, c.windows) == (1800, (("A", 120),), (((0, 5400),),))


def test_what_is_kept_or_required_is_done_whole() -> None:
    """HOME is required; B and A are to be kept. What must only stay may still be handed over."""
    assert not items()["HOME"].may_defer and items()["HOME"].home and not items()["B"].home
    kept = items(keep=("A", "B"))
    assert not kept["B"].may_defer and kept["B"].moves == ()
    assert (kept["A"].closeout_s, kept["A"].least_s) == (None, kept["A"].length_s)
    stays = items(stay=("B",))["B"]
    assert not stays.may_defer and stays.moves == ("EV2",)


def test_a_task_of_an_inserted_contingency_is_not_given_up() -> None:
    """C2 stays, although it is not required; A, which was briefed, may go."""
    found = items(STOP, "0:00 clock\n0:00 insert arm-stop", "0:00")
    assert not found["C2"].may_defer and found["A"].may_defer


def test_a_tighter_problem_has_an_earlier_limit_and_less_in_the_suits() -> None:
    """By 5 min, and by what 5 min use: 0.06 kg/h make 0.005 kg. 0.01 kg of 1 went in the 10 min before."""
    plain, tight = problem(TABLES + OXYGEN), problem(TABLES + OXYGEN, tighten_min=5)
    assert (plain.limit_s, tight.limit_s) == (6000, 5700)
    assert plain.supplies[0].usable == pytest.approx(1.0 - 0.1 - 0.01)
    assert plain.supplies[0].usable - tight.supplies[0].usable == pytest.approx(0.005)
    assert (plain.supplies[0].suit, plain.supplies[0].lane) == ("A", "EV1")


def test_what_an_answer_overran_is_taken_off() -> None:
    """2.5 s past the limit: 3 s less. 30 s short of oxygen: what 30 s of waiting use. Nothing overrun: nothing to tighten."""
    plain = problem(TABLES + OXYGEN)
    late = tightened(plain, 100 + 2.5 / 60, {"A": 1.0}, {"A": "oxygen"})
    assert late == replace(plain, limit_s=plain.limit_s - 3)
    short = tightened(plain, 90, {"A": -0.5}, {"A": "oxygen"})
    assert short is not None and short.limit_s == plain.limit_s
    assert plain.supplies[0].usable - short.supplies[0].usable == pytest.approx(0.06 / 120)
    assert tightened(plain, 100, {"A": 0.0}, {"A": "oxygen"}) is None


def test_a_problem_is_put_in_the_largest_unit_that_divides_its_times() -> None:
    """Without a trim all times are whole tens of minutes, and one is 2 min: the unit is 2 min. With a trim it stays 1 s."""
    tables = TABLES.replace("shortest = 20\n", "").replace("closeout = 5", "closeout = 4")
    plain = problem(tables)
    coarse, unit_s = coarsened(plain)
    assert unit_s == 120
    assert coarse.limit_s * unit_s == plain.limit_s
    for before, after in zip(plain.items, coarse.items, strict=True):
        assert after.length_s * unit_s == before.length_s
        assert [(other, lag * unit_s) for other, lag in after.waits] == list(before.waits)
        assert math.isclose(after.loss_per_s * after.length_s, before.loss_per_s * before.length_s)
    assert coarsened(problem()) == (problem(), 1)


def test_a_leg_behind_a_get_ahead_decides_no_length() -> None:
    """The way back depends on the leg to the boom alone: the leg to the mast waits for a get-ahead and is not in the problem."""
    legs = (
        '[[worksite]]\nid = "airlock"\n[[worksite]]\nid = "mast"\nreturn = 20\n[[worksite]]\nid = "boom"\nreturn = 5\n'
        '[[route]]\nfrom = "boom"\nto = "airlock"\nduration = 5\n[[route]]\nfrom = "mast"\nto = "airlock"\nduration = 20\n'
        + task("OUT", "EV1", 0, 6, leg="boom") + task("W", "EV1", 6, 10, worksite="boom")
        + task("G", "EV1", None, 8, get_ahead=True) + task("MAST", "EV1", 16, 8, leg="mast", after=["G"])
        + task("BACK", "EV1", 24, 20, leg="airlock")
    )
    found = items(legs + HOME, "0:00 clock", "0:00")
    named = {leg for item in found.values() for gone, _ in item.without for leg in gone}
    assert "MAST" not in found and named <= found.keys()
