"""The pace of this sortie: shrunk towards 1, and exact where a closed form exists."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from dashboard.core.base.times import parse_instant
from dashboard.core.plan.model import Duration
from dashboard.core.record.fold import reconcile
from dashboard.core.schedule.boxed import boxed_draws, learn_overrun
from dashboard.core.schedule.constants import value
from dashboard.core.schedule.durations import SCATTER_UNBRIEFED, log_moments
from dashboard.core.schedule.pace import (
    ARM,
    ARM_SPREAD,
    BOXED,
    COMMON,
    HANDS,
    KINDS,
    LANE_SPREAD,
    LEAST_OF_LIKELY,
    LEG,
    LEG_SPREAD,
    NARROW,
    ODD_SPREAD,
    SHIFT_FADES_MIN,
    WAITING_LOG,
    WHOLE_SORTIE_LOG,
    Kind,
    centre_log,
    kind_of_work,
    learn_pace,
)
from tests.scenario import at, follow_at, log_of, plan_of, task

STEADY = Kind(COMMON, NARROW, LEG_SPREAD, LANE_SPREAD, shift=0.0, extra=0.0, weight=1.0, centred=False)
STICKING_WEIGHT = value("STICKING_WEIGHT")
PAIR = COMMON**2 + NARROW**2  # variance of the hands-on pace of the pair
SHIFTING = STEADY._replace(shift=0.3)
BRIEFED = [20, 30, 50]


def lane_of(count: int, lanes: str = "EV1", minutes: object = None) -> str:
    return "".join(task(f"T{i}", lanes, 30 * i, minutes or BRIEFED) for i in range(count))


def run_through(count: int, each_min: float) -> str:
    lines = ["0:00 clock"]
    for i in range(count):
        lines += [f"{i * each_min} start T{i}", f"{(i + 1) * each_min} done T{i}"]
    return "\n".join(lines)


def pace_of(plan_text: str, log: str, pet: float | str = 600, kinds=(STEADY,)):
    """By one steady kind of sortie where the test names no other."""
    return learn_pace(reconcile(plan_of(plan_text), log_of(log), parse_instant(at(pet))), kinds)


def spread_of(pace, lanes):
    """Variance of the logarithm of the pace of these lanes, of one kind."""
    row = pace.row(lanes)
    return row @ pace.beliefs[0].covariance @ row


def test_with_nothing_finished_the_pace_is_as_briefed():
    """Factor 1 for every lane, with the spread we start from."""
    pace = pace_of(lane_of(3), "0:00 clock", 0)
    assert [pace.factor(lane) for lane in ("EV1", "EV2", "ARM")] == [1.0, 1.0, 1.0]
    assert spread_of(pace, ["EV1"]) == pytest.approx(PAIR + LANE_SPREAD**2)


@pytest.mark.parametrize("count", [1, 3, 8])
def test_one_lane_is_the_textbook_mean_of_a_normal_with_a_normal_prior(count):
    """Precision adds up; the mean is the precision-weighted mean of "as briefed" and what was seen."""
    pace = pace_of(lane_of(count), run_through(count, 45.0))
    log_mean, log_variance = log_moments(Duration(low=20, likely=30, high=50))
    prior = 1 / (PAIR + LANE_SPREAD**2)
    seen = count / log_variance
    mean = seen * (math.log(45) - log_mean) / (prior + seen)
    assert pace.factor("EV1") == pytest.approx(math.exp(mean))
    assert spread_of(pace, ["EV1"]) == pytest.approx(1 / (prior + seen))


def test_few_finished_tasks_move_the_pace_little_many_move_it_far():
    """Each taking half as long again as its mean: 1 < factor after 1 < after 3 < after 12 < 1.5."""
    factors = [pace_of(lane_of(n), run_through(n, 47.5)).factor("EV1") for n in (1, 3, 12)]
    assert 1.0 < factors[0] < factors[1] < factors[2] < 1.5
    assert factors[0] < 1.2


def test_what_one_crew_member_shows_counts_in_part_for_the_other():
    """Through the pace of the pair: EV2 moves by its share of the spread, the arm not at all."""
    pace = pace_of(lane_of(6), run_through(6, 45.0))
    ev1, ev2 = (math.log(pace.factor(lane)) for lane in ("EV1", "EV2"))
    assert ev2 / ev1 == pytest.approx(PAIR / (PAIR + LANE_SPREAD**2))
    assert pace.factor("ARM") == 1.0


def test_the_arm_has_a_pace_of_its_own():
    """Arm tasks say nothing about the crew."""
    pace = pace_of(lane_of(6, "ARM"), run_through(6, 45.0))
    assert pace.factor("ARM") > 1.1
    assert pace.factor("EV1") == 1.0
    assert spread_of(pace_of(lane_of(1, "ARM"), "0:00 clock", 0), ["ARM"]) == pytest.approx(ARM_SPREAD**2)


def test_a_joint_task_counts_for_both_lanes_alike():
    """Half a lane term each; a joint task with the arm tells of the crew member alone."""
    pace = pace_of(lane_of(6, "EV1 EV2"), run_through(6, 45.0))
    assert pace.factor("EV1") == pytest.approx(pace.factor("EV2"))
    assert pace.factor("EV1") > 1.05
    assert pace.row(["EV1", "ARM"]).tolist() == pace.row(["EV1"]).tolist()
    unseen = pace_of(lane_of(1), "0:00 clock", 0)
    assert spread_of(unseen, ["EV1", "EV2"]) == pytest.approx(PAIR + LANE_SPREAD**2 / 2)


def test_a_timed_wait_says_nothing_about_pace():
    """Three equal values, though it took half as long again."""
    assert pace_of(lane_of(1, minutes=[30, 30, 30]), run_through(1, 45.0)).factor("EV1") == 1.0


def test_a_task_without_briefed_spread_is_taken_to_scatter_by_a_fifth():
    """Closed form again, with our own scatter; at a length of one grain."""
    pace = pace_of(lane_of(1, minutes=20), run_through(1, 30.0))
    prior, seen = 1 / (PAIR + LANE_SPREAD**2), 1 / SCATTER_UNBRIEFED**2
    assert math.log(pace.factor("EV1")) == pytest.approx(seen * math.log(1.5) / (prior + seen))


@pytest.mark.parametrize(
    "log",
    [
        "0:00 clock\n0:45 done T0",
        "0:00 clock\n0:00 start T0\n0:45 break_off T0",
        "0:00 clock\n0:00 start T0\n0:05 trim T0 duration=15\n0:45 done T0",
        "0:00 clock\n0:00 start T0",
        "0:00 clock\n0:00 start T0\n0:10 hold T0",
    ],
    ids=["start unknown", "broken off", "trimmed", "in work", "on hold"],
)
def test_only_a_task_that_ran_its_course_says_something(log):
    """Unknown start, broken off, cut to a called length, not over: the pace stays as briefed."""
    text = task("T0", "EV1", 0, BRIEFED, shortest=10, closeout=5)
    pace = pace_of(text, log)
    assert pace.factor("EV1") == 1.0
    assert pace.finished["EV1"] == 0


def test_time_on_hold_is_not_slow_work():
    """30 minutes of work with an hour's hold inside is 30 minutes."""
    held = pace_of(lane_of(1), "0:00 clock\n0:00 start T0\n0:10 hold T0\n1:10 resume T0\n1:30 done T0")
    straight = pace_of(lane_of(1), "0:00 clock\n0:00 start T0\n0:30 done T0")
    assert held.factor("EV1") == pytest.approx(straight.factor("EV1"))


def test_draws_have_the_mean_and_the_covariance_of_the_belief():
    """20,000 draws, and the same seed gives the same ones."""
    pace = pace_of(lane_of(4) , run_through(4, 45.0))
    drawn = pace.draws(1, 20000)
    assert drawn.mean(axis=1) == pytest.approx(pace.mean, abs=3e-3)
    assert np.cov(drawn) == pytest.approx(pace.beliefs[0].covariance, abs=5e-4)
    assert (drawn == pace.draws(1, 20000)).all()
    shifting = pace_of(lane_of(4), run_through(4, 45.0), kinds=(SHIFTING,))
    assert np.cov(shifting.draws(1, 40000)) == pytest.approx(shifting.beliefs[0].covariance, abs=3e-3)


# -- kinds of sortie ---------------------------------------------------------------------------------------------------


def test_weights_of_the_kinds_add_up_to_1_before_and_after_anything_is_seen():
    """Before, they are those of the table."""
    assert sum(kind.weight for kind in KINDS) == pytest.approx(1.0)
    unseen = pace_of(lane_of(3), "0:00 clock", 0, KINDS)
    assert [b.weight for b in unseen.beliefs] == pytest.approx([kind.weight for kind in KINDS])
    seen = pace_of(lane_of(6), run_through(6, 45.0), kinds=KINDS)
    assert sum(b.weight for b in seen.beliefs) == pytest.approx(1.0)


def test_kinds_are_weighed_by_how_well_each_foretold_what_was_seen():
    """Each weight is its first weight times scipy's multivariate normal density of the log ratios, where no task is odd."""
    minutes = [33, 52, 41, 60, 38, 47]
    lines, now, middle = ["0:00 clock"], 0.0, []
    for i, took in enumerate(minutes):
        lines += [f"{now} start T{i}", f"{now + took} done T{i}"]
        middle.append(now + took / 2)
        now += took
    kinds = tuple(kind._replace(odd=0.0) for kind in KINDS)
    pace = pace_of(lane_of(6), "\n".join(lines), 400, kinds)
    centre = centre_log(plan_of(lane_of(6))) - WAITING_LOG
    assert pace.centre_of(plan_of(lane_of(6)).tasks[0], ["EV1"]) == pytest.approx(centre)
    log_mean, log_variance = log_moments(Duration(low=20, likely=30, high=50))
    knots = np.arange(pace.knots) * 30.0
    hats = np.maximum(0, 1 - np.abs(np.subtract.outer(middle, knots)) / 30.0)
    comes_and_goes = np.exp(-np.abs(np.subtract.outer(knots, knots)) / SHIFT_FADES_MIN)
    settles = np.exp(-np.add.outer(knots, knots) / SHIFT_FADES_MIN)
    density = [
        kind.weight * stats.multivariate_normal(
            np.zeros(6),
            kind.common**2 + kind.hands**2 + kind.lane**2
            + kind.shift**2 * hats @ (settles if kind.settles else comes_and_goes) @ hats.T
            + np.eye(6) * (log_variance + kind.extra**2),
        ).pdf(np.log(minutes) - log_mean - centre)
        for kind in kinds
    ]
    assert [b.weight for b in pace.beliefs] == pytest.approx(np.array(density) / sum(density), rel=1e-4)


def test_a_task_may_be_odd_and_the_belief_after_it_is_the_mixture_of_both_ways():
    """Mean and variance of the mixture of two normals, by scipy and numpy, after one task of two and a half times its length."""
    kind = STEADY._replace(odd=0.1)
    pace = pace_of(lane_of(1), run_through(1, 80.0), kinds=(kind,))
    log_mean, log_variance = log_moments(Duration(low=20, likely=30, high=50))
    prior, off = PAIR + LANE_SPREAD**2, math.log(80.0) - log_mean
    spreads = np.array([log_variance, log_variance + ODD_SPREAD**2])
    odds = np.array([0.9, 0.1]) * stats.norm(0, np.sqrt(prior + spreads)).pdf(off)
    odds /= odds.sum()
    means, variances = prior / (prior + spreads) * off, prior * spreads / (prior + spreads)
    mean = odds @ means
    assert math.log(pace.factor("EV1")) == pytest.approx(mean)
    assert spread_of(pace, ["EV1"]) == pytest.approx(odds @ (variances + means**2) - mean**2)


def ten_tasks(odd_ones, odd_min):
    """Log of ten tasks of 31 min, but for some that took longer, and the time at which the last is done."""
    lines, now = ["0:00 clock"], 0.0
    for i in range(10):
        took = odd_min if i in odd_ones else 31.0
        lines += [f"{now} start T{i}", f"{now + took} done T{i}"]
        now += took
    return "\n".join(lines), now


def test_one_task_that_sticks_hardly_changes_what_nine_others_say():
    """It took four times as long. The pace moves by less than half of what it would if no task could be odd, and is surer."""
    def read(kinds, odd_ones):
        return pace_of(lane_of(12), *ten_tasks(odd_ones, 124.0), kinds).read("EV1")

    without = tuple(kind._replace(odd=0.0) for kind in KINDS)
    moved = {kinds: read(kinds, (4,)).factor - read(kinds, ()).factor for kinds in (KINDS, without)}
    assert moved[without] > 0.02
    assert abs(moved[KINDS]) < moved[without] / 2
    width = {kinds: (told := read(kinds, (4,))).p90 - told.p10 for kinds in (KINDS, without)}
    assert width[KINDS] < 0.8 * width[without]


def test_where_one_thing_after_the_other_sticks_more_is_expected_to():
    """Three of ten tasks took three times as long: draws in which tasks ahead stick gain weight, and lose it when none did."""
    def sticking(odd_ones):
        return sum(b.weight for b in pace_of(lane_of(12), *ten_tasks(odd_ones, 93.0), KINDS).beliefs if b.stick > 0)

    assert sticking(()) < STICKING_WEIGHT / 2
    assert sticking((2, 5, 8)) > 2 * STICKING_WEIGHT


def test_draws_are_shared_out_over_the_kinds_by_their_weights():
    """Every draw belongs to one kind; blocks of extra scatter cover all of them, in order."""
    pace = pace_of(lane_of(6), run_through(6, 45.0), kinds=KINDS)
    blocks = pace.blocks(5000)
    assert blocks[0].start == 0
    assert [b.stop for b in blocks[:-1]] == [b.start for b in blocks[1:]]
    assert blocks[-1].stop == 5000
    for extra in {kind.extra for kind in KINDS}:
        share = sum(b.weight for b in pace.beliefs if b.extra == extra)
        assert sum(b.stop - b.start for b in blocks if b.extra == extra) == pytest.approx(5000 * share, abs=3)


def test_a_shift_fades_to_half_in_the_time_that_it_should():
    """e^-1 after SHIFT_FADES_MIN: the pace foreseen an hour after the last finished task is that much nearer to none."""
    pace = pace_of(lane_of(4), run_through(4, 45.0), 180, (SHIFTING._replace(common=1e-6, hands=1e-6, lane=1e-6),))
    shift = pace.mean[pace.first_shift :]
    now = int(180 / 30)
    assert shift[now] > 0.2
    assert shift[now + 2] / shift[now] == pytest.approx(math.exp(-60 / SHIFT_FADES_MIN))
    assert pace.factor("EV1") < math.exp(shift[now])


def test_a_slow_start_followed_by_normal_pace_is_not_extrapolated():
    """Six tasks at half as fast again, then eight as briefed: nearer to 1 than without kinds of sortie that shift."""
    lines, now = ["0:00 clock"], 0.0
    for i in range(14):
        took = 46.0 if i < 6 else 31.0
        lines += [f"{now} start T{i}", f"{now + took} done T{i}"]
        now += took
    text = lane_of(16)
    without = tuple(kind for kind in KINDS if not kind.shift)
    steady, learned = (pace_of(text, "\n".join(lines), now, kinds).factor("EV1") for kinds in (without, KINDS))
    assert steady > 1.12
    assert abs(learned - 1) < 0.8 * (steady - 1)


def test_a_day_that_stays_slow_is_learned_in_full():
    """Twelve tasks at half as fast again: 1.4 or more, where the narrow prior alone holds it back."""
    narrow, learned = (pace_of(lane_of(12), run_through(12, 47.5), kinds=kinds).factor("EV1") for kinds in ((STEADY,), KINDS))
    assert narrow < learned
    assert learned > 1.38


def test_tasks_that_scatter_beyond_their_ranges_widen_what_remains_and_tame_ones_do_not():
    """The weight of extra scatter goes up with ratios of 0.6 and 1.8 in turn, and down with ratios near 1."""
    def extra(each):
        lines, now = ["0:00 clock"], 0.0
        for i in range(10):
            took = each[i % len(each)]
            lines += [f"{now} start T{i}", f"{now + took} done T{i}"]
            now += took
        return sum(b.weight for b in pace_of(lane_of(10), "\n".join(lines), now, KINDS).beliefs if b.extra > 0)

    before = sum(kind.weight for kind in KINDS if kind.extra > 0)
    assert extra([20, 58]) > 0.9
    assert extra([31, 32]) < before


def test_the_number_and_what_is_said_of_the_evidence_come_from_one_belief():
    """Nothing finished: no number, and why. Few tasks: a number near 1, which is not told from the brief. Many: it is told."""
    plan = plan_of(lane_of(14))
    none = follow_at(plan, "0:00 clock", 0).lanes["EV1"]
    assert (none.pace, none.pace_p10, none.pace_told) == (None, None, False)
    assert follow_at(plan, "0:00 clock", 0).not_known["lanes.EV1.pace"] == "no finished task tells of it"
    few = follow_at(plan, run_through(2, 45.0), 92).lanes["EV1"]
    assert not few.pace_told and few.pace_p10 < 1 < few.pace < few.pace_p90
    many = follow_at(plan, run_through(12, 45.0), 541).lanes["EV1"]
    assert many.pace_told and 1 < many.pace_p10 < many.pace < many.pace_p90


@pytest.mark.parametrize("count", [1, 4, 9])
def test_what_is_said_of_a_lane_is_what_its_work_is_drawn_at(count):
    """P10, the middle and P90 of the factor that the draws put on hands-on work, the centre taken out; to 1 %."""
    pace = pace_of(lane_of(10), run_through(count, 42.0), 42.0 * count, (STEADY, STEADY._replace(hands=0.25, weight=1.0)))
    drawn = np.exp(pace.row(["EV1"]) @ pace.draws(1, 40000))
    read = pace.read("EV1")
    assert (read.p10, read.p90) == pytest.approx(np.percentile(drawn, (10, 90)), rel=0.01)
    assert read.factor == pytest.approx(np.exp(np.log(drawn).mean()), rel=0.01)


@pytest.mark.parametrize("days", [2, 365, 36_500])
def test_however_long_the_clock_runs_on_the_pace_covers_the_sortie_alone(days: int):
    """A plan that was started long ago costs what one of today does; the shift stands still where the sortie is over."""
    text = lane_of(4)
    pace = pace_of(text, run_through(3, 45.0), days * 1440.0, KINDS)
    limit_min = plan_of(text).sortie.limit
    assert pace.knots <= (limit_min + 12 * 60) / 30 + 2
    assert all(len(belief.mean) == pace.first_shift + pace.knots for belief in pace.beliefs)
    assert pace.factor("EV1") > 1.05


def test_no_pace_is_learned_while_pet_zero_is_in_doubt():
    """Work weeks after the planned start, with no clock event: what is thought beforehand stands."""
    plan = plan_of(lane_of(6))
    weeks = 30 * 1440
    log = log_of("\n".join(f"{weeks + 46 * i} start T{i}\n{weeks + 46 * i + 45} done T{i}" for i in range(4)))
    record = reconcile(plan, log, parse_instant(at(weeks + 200)))
    assert record.pet_zero_doubt
    pace = learn_pace(record)
    assert pace.factor("EV1") == pytest.approx(1.0) and sum(pace.finished.values()) == 0


# -- kinds of work -----------------------------------------------------------------------------------------------------


def mixed(legs: int, hands: int) -> str:
    """A lane of legs of 20 min, then of hands-on work of 30 min each."""
    sites = "".join(f'[[worksite]]\nid = "W{i}"\nreturn = 5\n' for i in range(legs))
    text = "".join(task(f"T{i}", "EV1", 20 * i, [14, 20, 34], leg=f"W{i}") for i in range(legs))
    return sites + text + "".join(task(f"T{legs + i}", "EV1", 20 * legs + 30 * i, BRIEFED) for i in range(hands))


def test_each_task_is_of_one_kind_of_work():
    """A boxed stop before all; what no crew lane takes part in is an arm task."""
    plan = plan_of(
        '[[worksite]]\nid = "W"\n' + task("H", "EV1 ARM", 0, 9) + task("L", "EV1 ARM", 9, 9, leg="W")
        + task("A", "ARM", 18, 9, leg="W") + task("B", "EV1", 18, 9, boxed=True)
    )
    kinds = {t.id: kind_of_work(t, t.lanes, plan.crew_lane_ids()) for t in plan.tasks}
    assert kinds == {"H": HANDS, "L": LEG, "A": ARM, "B": BOXED}


def test_two_quick_legs_do_not_make_the_hands_on_work_quick():
    """Each in half its time: the next leg is expected much quicker, hands-on work less than 2 % so, and it is not told."""
    pace = pace_of(mixed(3, 8), run_through(2, 10.0), 25, KINDS)
    assert pace.factor("EV1", LEG) < 0.75
    assert 0.98 < pace.factor("EV1") < 1.0
    assert not pace.read("EV1").told


def test_what_legs_show_is_the_closed_form_of_the_hierarchical_model():
    """Covariance of the two paces over the variance of what was seen: only the common pace is shared."""
    pace = pace_of(mixed(3, 8), run_through(2, 14.0), 30)
    log_mean, log_variance = log_moments(Duration(low=14, likely=20, high=34))
    shared = COMMON**2
    seen = math.log(14.0) - log_mean
    weight = 1 / (shared + LEG_SPREAD**2 + log_variance / 2)
    assert math.log(pace.factor("EV1")) == pytest.approx(shared * weight * seen)
    assert math.log(pace.factor("EV1", LEG)) == pytest.approx((shared + LEG_SPREAD**2) * weight * seen)


def test_slow_hands_on_work_says_little_of_the_legs():
    """Eight tasks at half as long again: the legs to come are taken to be slower, by less than half as much."""
    pace = pace_of(mixed(0, 8), run_through(8, 47.5), 400, KINDS)
    assert 1.0 < pace.factor("EV1", LEG) < 1 + (pace.factor("EV1") - 1) / 2


def test_a_boxed_stop_says_nothing_about_pace():
    """It took half as long again as its set length."""
    assert pace_of(task("T0", "EV1", 0, BRIEFED, boxed=True), run_through(1, 45.0)).finished["EV1"] == 0


def test_before_anything_is_finished_the_work_takes_its_likely_length_and_what_whole_sorties_run_over():
    """The mean of the ranges is taken back, and what whole sorties run over is added."""
    mean = (20 + 4 * 30 + 50) / 6
    assert centre_log(plan_of(lane_of(3))) == pytest.approx(math.log(30 / mean) + WHOLE_SORTIE_LOG)
    assert centre_log(plan_of(task("A", "ARM", 0, BRIEFED))) == 0.0


def test_what_boxed_stops_run_over_is_a_part_of_what_whole_sorties_run_over():
    """Work at its centre and the boxed stop at its mean are together as much over the brief as whole sorties mostly are."""
    text = lane_of(3, "EV1 EV2") + task("S", "EV1 EV2", 90, 60, boxed=True)
    work = 3 * (20 + 4 * 30 + 50) / 6 * math.exp(centre_log(plan_of(text)))
    overrun = learn_overrun(reconcile(plan_of(text), [], parse_instant(at(0))))
    stop = boxed_draws(60.0, 0.0, overrun, (np.arange(20000) + 0.5) / 20000)
    assert work + stop.mean() == pytest.approx(150 * math.exp(WHOLE_SORTIE_LOG), rel=1e-3)
    many = "".join(task(f"S{i}", "EV1 EV2", 90 + i, 1, boxed=True) for i in range(60))
    assert centre_log(plan_of(lane_of(3, "EV1 EV2") + many)) == pytest.approx(math.log(LEAST_OF_LIKELY * 90 / 95))


def test_joint_work_is_not_taken_to_be_shorter_because_other_work_waits():
    """What is lost by waiting is taken back from the work of single lanes alone: the end of a sortie is often joint."""
    plan = plan_of(lane_of(3) + task("BOTH", "EV1 EV2", 90, BRIEFED) + task("A", "ARM", 90, BRIEFED))
    pace = learn_pace(reconcile(plan, [], parse_instant(at(0))))
    tasks = {one.id: one for one in plan.tasks}
    alone, both, arm = (pace.centre_of(tasks[name], tasks[name].lanes) for name in ("T0", "BOTH", "A"))
    assert both == pytest.approx(centre_log(plan))
    assert both - alone == pytest.approx(WAITING_LOG)
    assert arm == 0.0


def test_a_slow_start_that_settles_leaves_less_open_than_one_that_may_come_back():
    """Four tasks take half as long again: a shift at PET zero is then known, and fades. One that comes and goes may return."""
    known = {"common": 1e-6, "hands": 1e-6, "lane": 1e-6}
    pair = (STEADY._replace(**known, shift=0.3, settles=settles) for settles in (True, False))
    settled, comes_back = (pace_of(lane_of(8), run_through(4, 46.0), 184, (kind,)) for kind in pair)
    late = np.zeros(len(settled.mean))
    late[settled.first_shift + 10] = 1.0
    spreads = [float(late @ pace.beliefs[0].covariance @ late) for pace in (settled, comes_back)]
    assert 0 < settled.mean @ late < 0.02
    assert spreads[0] < spreads[1] / 100
