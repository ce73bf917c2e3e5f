"""The worksites of the state."""

from __future__ import annotations

from tests.scenario import follow_at, plan_of, task

SITES = '[[worksite]]\nid = "mast"\nreturn = 20\nleave_by = "5:10"\n[[worksite]]\nid = "lock"\nreturn = 0\n'
WORK = (
    task("T010", "EV1", 0, 30, worksite="mast") + task("T020", "EV1", 40, 30, worksite="mast")
    + task("T030", "EV1", 100, 10, worksite="lock", required=True)
)  # fmt: skip


def test_a_worksite_says_by_when_it_must_be_left_and_when_it_is():
    """The earlier of the plan's time and the way back; the last task there sets when it is left."""
    site = follow_at(plan_of(SITES + WORK), "0:00 clock\n0:00 start T010", "0:10").worksites["mast"]
    assert (site.return_min, site.leave_by_pet_min, site.leave_by_set_by) == (20, 310, "the plan")
    assert site.last_task == "T020" and 55 < site.leaves_pet_min < 65  # both briefed lengths, at the pace that is expected
    late = SITES.replace('"5:10"', '"8:00"')
    site = follow_at(plan_of(late + WORK), "0:00 clock\n0:00 start T010", "0:10").worksites["mast"]
    assert site.leave_by_set_by == "the way back, by the planned limit less reserve" and site.leave_by_pet_min <= 390 - 20


def test_the_airlock_and_a_site_without_work_are_left_out():
    """Nothing has to be said of them."""
    more = SITES + '[[worksite]]\nid = "boom"\nreturn = 9\n'
    assert set(follow_at(plan_of(more + WORK), "0:00 clock\n0:00 start T010", "0:10").worksites) == {"mast"}
