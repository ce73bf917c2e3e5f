"""The expected projection: every draw is the plan-pace schedule of its own durations, and luck is kept between states."""

from __future__ import annotations

from dataclasses import replace

import networkx as nx
import numpy as np
import pytest
from scipy import integrate, stats

from dashboard.core.base.times import parse_instant
from dashboard.core.record.fold import reconcile
from dashboard.core.schedule.durations import ESTIMATE_SPREAD, remaining_draws, uniforms
from dashboard.core.schedule.expected import PACE, expect
from dashboard.core.schedule.lengths import LEAST_HOLD_MIN
from dashboard.core.schedule.pace import KINDS, Belief, Kind, learn_pace
from dashboard.core.schedule.plan_pace import project
from tests.pert import pert_variance
from tests.scenario import LANES, at, follow_at, log_of, plan_of, task

LIGHT = '[[window]]\nkind = "daylight"\nfrom = "0:30"\nto = "1:15"\n[[window]]\nkind = "daylight"\nfrom = "2:00"\nto = "3:00"\n'
LEAK = (
    '[[contingency]]\nid = "leak"\nhold = ["C"]\n'
    '[[contingency.task]]\nid = "L1"\nlanes = ["EV1"]\nduration = [5, 8, 15]\n'
)
ENDING = '[[alternative]]\nid = "ending"\ndefault = "short"\n[alternative.options]\nshort = ["S"]\nlong = ["M"]\n'
PLAN = (
    task("A", "EV1", 0, [10, 15, 30]) + task("B", "EV2", 0, [15, 20, 40]) + task("J", "EV1 EV2", 20, [5, 10, 25])
    + task("C", "EV1", 30, [10, 20, 40], needs=["daylight"]) + task("D", "EV2", 30, [5, 10, 30], after=["A"])
    + task("R", "ARM", 0, [20, 30, 50])
    + task("E", "EV2", 40, [10, 15, 30], follows=[{"task": "R", "lag": 12}, {"task": "C", "lag": 5}])
    + task("F", "EV1", 60, [5, 10, 20], not_before="1:40") + task("G", "EV1", None, 20, get_ahead=True)
    + task("S", "EV1 EV2", 80, [5, 8, 12]) + task("M", "EV1 EV2", None, [40, 45, 60])
    + LIGHT + LEAK + ENDING
)
LOGS = {
    "nothing started": ("0:00 clock", "0:00"),
    "in work": ("0:00 clock\n0:00 start A\n0:00 start B\n0:00 start R", "0:12"),
    "far overrun": ("0:00 clock\n0:00 start A\n0:00 start B\n0:00 start R", "1:12"),
    "an estimate": ("0:00 clock\n0:00 start A\n0:00 start B\n0:10 estimate B remaining=30", "0:14"),
    "an estimate used up": ("0:00 clock\n0:00 start A\n0:00 start B\n0:05 estimate B remaining=5", "0:14"),
    "broken off": ("0:00 clock\n0:00 start A\n0:00 start B\n0:08 break_off A", "0:09"),
    "trimmed": ("0:00 clock\n0:00 start A\n0:04 trim C duration=9", "0:05"),
    "deferred": ("0:00 clock\n0:00 start A\n0:04 defer D", "0:05"),
    "other ending": ("0:00 clock\n0:00 start A\n0:04 choose ending option=long", "0:05"),
    "contingency": (
        "0:00 clock\n0:00 start A\n0:14 done A\n0:00 start B\n0:20 done B\n0:20 start J\n0:30 done J\n"
        "0:30 start C\n0:41 insert leak", "0:43",
    ),
    "after a hold": ("0:00 clock\n0:00 start A\n0:05 hold all\n0:25 resume all", "0:27"),
    "moved": ("0:00 clock\n0:00 start A\n0:04 move D before=C", "0:05"),
}


AS_BRIEFED = (Kind(1e-9, 1e-9, 1e-9, 1e-9, shift=0, extra=0, weight=1, centred=False),)  # the pace is known, and 1


def drawn(text, log, pet, draws=400, seed=2031, kinds=KINDS):
    record = reconcile(plan_of(text), log_of(log), parse_instant(at(pet)))
    projection = project(record)
    return record, projection, expect(record, projection, draws=draws, seed=seed, pace=learn_pace(record, kinds))


@pytest.mark.parametrize("name", LOGS)
def test_every_draw_is_the_plan_pace_schedule_of_its_own_durations(name):
    """Windows, lags, joint tasks, alternatives and contingencies included, to a millionth of a minute."""
    log, pet = LOGS[name]
    record, projection, expected = drawn(PLAN, log, pet)
    lengths = expected.finish - expected.start
    for k in range(0, 400, 13):
        for i, task_id in enumerate(expected.tasks):
            run = record.runs[task_id]
            run.whole_by_estimate_min = run.worked_min(record.pet_min) + lengths[i, k]
        alone = project(record)
        assert alone.sequence == projection.sequence
        for i, task_id in enumerate(expected.tasks):
            slot = alone.slots[task_id]
            assert expected.start[i, k] == pytest.approx(slot.start_pet_min, abs=1e-6), (task_id, k)
            assert expected.finish[i, k] == pytest.approx(slot.finish_pet_min, abs=1e-6), (task_id, k)
        assert expected.end[k] == pytest.approx(alone.end_pet_min, abs=1e-6)


def longest_paths(plan, lengths):
    """Finishes by networkx: a node a task, an edge from what is over first, weighed with what lies between starts."""
    graph, tail = nx.DiGraph(), {}
    for one in plan.tasks:
        graph.add_edge("zero", one.id, weight=one.not_before or 0.0)
        before = [(o, 0.0) for o in one.after] + [(f.task, f.lag) for f in one.follows]
        before += [(tail[lane], 0.0) for lane in one.lanes if lane in tail]
        for other, lag in before:
            weight = lengths[other] + lag
            if not graph.has_edge(other, one.id) or graph[other][one.id]["weight"] < weight:
                graph.add_edge(other, one.id, weight=weight)
        tail.update(dict.fromkeys(one.lanes, one.id))
    start = {"zero": 0.0}
    for node in nx.topological_sort(graph):
        for _, after, data in graph.out_edges(node, data=True):
            start[after] = max(start.get(after, 0.0), start[node] + data["weight"])
    return {one.id: start[one.id] + lengths[one.id] for one in plan.tasks}


def test_every_draw_is_a_longest_path_of_networkx():
    """Without windows, a plan with joint tasks, lags and `not_before`: 100 draws, every finish."""
    text = "".join(
        task(
            f"T{i}", ("EV1", "EV2", "EV1 EV2", "ARM")[i * 7 % 4], 10 * i, [5, 10 + i % 7, 30],
            **({"after": [f"T{i - 3}"]} if i % 5 == 4 else {}),
            **({"follows": [{"task": f"T{i - 2}", "lag": i % 4}]} if i % 6 == 5 else {}),
            **({"not_before": 25.0 * i / 3} if i % 9 == 8 else {}),
        )
        for i in range(30)
    )
    record, _, expected = drawn(text, "0:00 clock", "0:00")
    for k in range(100):
        lengths = {t: expected.finish[i, k] - expected.start[i, k] for i, t in enumerate(expected.tasks)}
        paths = longest_paths(record.plan, lengths)
        for i, task_id in enumerate(expected.tasks):
            assert expected.finish[i, k] == pytest.approx(paths[task_id], abs=1e-6)


def test_the_same_seed_gives_the_same_answer_and_another_seed_a_close_one():
    """Bit for bit; P50 of the end within half a minute at 5,000 draws."""
    log, pet = LOGS["in work"]
    first, again = (drawn(PLAN, log, pet, 5000)[2] for _ in range(2))
    assert (first.finish == again.finish).all()
    other = drawn(PLAN, log, pet, 5000, seed=7)[2]
    assert (first.end != other.end).any()
    assert np.median(first.end) == pytest.approx(np.median(other.end), abs=0.5)


def test_percentiles_move_only_when_something_happened():
    """A note, a check of the arm, another lane's decision: EV1's percentiles stay as they are to the last bit."""
    text = "".join(
        task(f"X{i}", "EV1", 20 * i, [10, 20, 40]) + task(f"Y{i}", "EV2", 20 * i, [10, 20, 40]) for i in range(5)
    )
    base = "0:00 clock\n0:00 start X0\n0:00 start Y0"
    before = follow_at(plan_of(text), base, "0:10")
    noted = follow_at(plan_of(text), base + "\n0:05 note hello", "0:10")
    other = follow_at(plan_of(text), base + "\n0:05 defer Y3", "0:10")
    for i in range(5):
        for now in (noted, other):
            assert now.tasks[f"X{i}"].p10_pet_min == before.tasks[f"X{i}"].p10_pet_min
            assert now.tasks[f"X{i}"].p90_pet_min == before.tasks[f"X{i}"].p90_pet_min
    assert other.tasks["Y4"].p90_pet_min < before.tasks["Y4"].p90_pet_min


def test_time_alone_moves_the_end_of_a_lane_smoothly():
    """Minute by minute without an event, P50 of the end never moves back, nor on by two minutes in one."""
    text = task("A", "EV1", 0, [10, 15, 30]) + task("B", "EV1", 15, [10, 15, 30])
    p50 = [follow_at(plan_of(text), "0:00 clock\n0:00 start A", m).end.p50_pet_min for m in range(46)]
    steps = np.diff(p50)
    assert steps.min() > -0.1
    assert steps.max() < 2.0


def test_before_zero_and_at_zero_the_same_sortie_is_drawn():
    """The first task is fresh in both; PET zero does not move."""
    text = task("A", "EV1", 0, [10, 15, 30]) + task("B", "EV1", 15, [10, 15, 30])
    assert follow_at(plan_of(text), "", "-0:30").end.p90_pet_min == follow_at(plan_of(text), "", "0:00").end.p90_pet_min


def test_a_lane_of_one_task_has_the_percentiles_of_its_distribution():
    """Pace left out: P10, P50 and P90 of scipy's beta to 1 % of the range."""
    text = task("A", "EV1", 0, [30, 40, 65])
    own = drawn(text, "0:00 clock", "0:00", 20000, kinds=AS_BRIEFED)[2].end
    theirs = stats.beta(1 + 40 / 35, 5 - 40 / 35, loc=30, scale=35)
    assert np.percentile(own, (10, 50, 90)) == pytest.approx(theirs.ppf((0.1, 0.5, 0.9)), abs=0.35)


def test_an_estimate_is_the_median_of_what_remains():
    """When it is made, with its own spread of the logarithm, whatever was briefed and at whatever pace."""
    log = "0:00 clock\n0:00 start A\n0:20 estimate A remaining=30"
    _, _, expected = drawn(task("A", "EV1", 0, [10, 15, 30]), log, "0:20", 20000)
    left = expected.end - 20
    assert np.median(left) == pytest.approx(30, rel=0.01)
    assert np.log(left).std() == pytest.approx(ESTIMATE_SPREAD, rel=0.03)


@pytest.mark.parametrize("since", [10.0, 30.0, 31.0, 90.0])
def test_what_remains_by_an_estimate_is_the_log_logistic_of_scipy_given_the_time_since(since):
    """Before the estimate is used up, at that moment, and long after: P(left > x) = S(since + x) / S(since)."""
    text, log = task("A", "EV1", 0, [10, 15, 30]), "0:00 clock\n0:00 start A\n0:20 estimate A remaining=30"
    left = drawn(text, log, 20 + since, 20000)[2].end - 20 - since
    law = stats.fisk(np.pi / (np.sqrt(3) * ESTIMATE_SPREAD), scale=30)
    for more in (1, 3, 8, 20, 40):
        assert (left > more).mean() == pytest.approx(law.sf(since + more) / law.sf(since), abs=0.012)


def test_percentiles_move_smoothly_over_the_moment_an_estimate_is_used_up():
    """Second by second from 2 min before to 2 min after: no percentile of the end moves by more than 3 s in one."""
    text = task("A", "EV1", 0, [10, 15, 30]) + task("B", "EV1", 15, [10, 15, 30])
    log = "0:00 clock\n0:00 start A\n0:10 estimate A remaining=20"
    moments = 30 + np.arange(-120, 121, 4) / 60
    found = np.array([np.percentile(drawn(text, log, float(m), 4000)[2].end, (10, 50, 90)) for m in moments])
    steps = np.diff(found, axis=0)
    assert np.abs(steps).max() < 4 * 3 / 60
    assert steps.min() > -1e-6


def test_percentiles_move_smoothly_as_a_task_passes_its_single_value():
    """Second by second from 2 min before to 2 min after: no percentile of the end moves by more than 3 s in one."""
    text, log = task("A", "EV1", 0, 20) + task("B", "EV1", 20, 15), "0:00 clock\n0:00 start A"
    seen = [
        np.percentile(drawn(text, log, 20.0 + second / 60, 20000)[2].end, (5, 10, 50, 90, 95)) for second in range(-120, 121, 5)
    ]
    steps = np.diff(np.array(seen), axis=0)
    assert steps.min() > -0.01 and steps.max() < 5 * 3 / 60


def test_a_timed_wait_takes_what_it_takes_at_any_pace():
    """Three equal values, after a slow task: every draw is that long, and what comes after it scatters."""
    text = task("A", "EV1", 0, 20) + task("W", "EV1", 20, [15, 15, 15]) + task("B", "EV1", 35, 15)
    _, _, expected = drawn(text, "0:00 clock\n0:00 start A\n0:40 done A", "0:40")
    row = {name: i for i, name in enumerate(expected.tasks)}
    assert expected.finish[row["W"]] - expected.start[row["W"]] == pytest.approx(15.0)
    assert (expected.finish[row["B"]] - expected.start[row["B"]]).std() > 2.0


def test_a_hold_does_not_use_an_estimate_up():
    """Half an hour on hold after an estimate of 20 min: what remains is drawn as if no time had passed."""
    text = task("A", "EV1", 0, [10, 15, 30])
    log = "0:00 clock\n0:00 start A\n0:10 estimate A remaining=20"
    straight = drawn(text, log, "0:15")[2]
    held = drawn(text, log + "\n0:12 hold A\n0:42 resume A", "0:45")[2]
    assert held.end - 45 == pytest.approx(straight.end - 15)


def test_a_hold_with_no_end_in_sight_lasts_on_average_as_long_again():
    """At least ten minutes; what is held goes on after it, and so does the rest of its lane."""
    text = task("A", "EV1", 0, 30) + task("B", "EV1", 30, 10) + task("C", "EV2", 0, 30)
    for since, mean in ((5, LEAST_HOLD_MIN), (40, 40.0)):
        log = "0:00 clock\n0:00 start A\n0:10 hold A reason=leak"
        _, _, expected = drawn(text, log, 10 + since, 20000)
        begun = expected.start[expected.tasks.index("A")] - (10 + since)
        assert begun.mean() == pytest.approx(mean, rel=0.03)
        assert stats.kstest(begun, stats.expon(scale=mean).cdf).pvalue > 1e-4
        a, b = (expected.tasks.index(t) for t in "AB")
        assert (expected.start[b] >= expected.finish[a] - 1e-9).all()


def test_a_held_lane_keeps_everything_in_it_waiting():
    """And only in it; with everything on hold, each lane waits."""
    text = task("A", "EV1", 0, 30) + task("B", "EV1", 30, 10) + task("C", "EV2", 0, 30)
    log = "0:00 clock\n0:00 start A\n0:00 start C\n0:10 hold lane=EV1 reason=cramp"
    _, _, expected = drawn(text, log, "0:12", 4000)
    rows = {t: i for i, t in enumerate(expected.tasks)}
    assert (expected.start[rows["A"]] > 12).all()
    assert (expected.start[rows["C"]] == 12).all()
    _, _, expected = drawn(text, log.replace("lane=EV1", "all=true"), "0:12", 4000)
    assert (expected.start[rows["C"]] > 12).all()


def test_a_hold_for_a_contingency_ends_with_its_tasks():
    """No guess about the hold: what it held begins the moment the inserted task is over."""
    _, _, expected = drawn(PLAN.replace('needs = ["daylight"]\n', ""), *LOGS["contingency"])
    rows = {t: i for i, t in enumerate(expected.tasks)}
    assert expected.start[rows["C"]] == pytest.approx(expected.finish[rows["L1"]])


def test_a_task_that_misses_its_window_waits_for_the_next_one_in_those_draws_only():
    """Starts lie in the first window or at the opening of the second; none starts in the dark."""
    text = task("A", "EV1", 0, [10, 40, 60]) + task("C", "EV1", 40, [20, 25, 30], needs=["daylight"]) + LIGHT
    _, _, expected = drawn(text, "0:00 clock\n0:00 start A", "0:05", 4000, kinds=AS_BRIEFED)
    start, finish = (x[expected.tasks.index("C")] for x in (expected.start, expected.finish))
    in_first, in_second = (start >= 30) & (finish <= 75 + 1e-6), (start >= 120) & (finish <= 180 + 1e-6)
    assert (in_first | in_second).all()
    assert 0.05 < in_first.mean() < 0.95


def test_get_aheads_and_tasks_of_another_ending_are_not_drawn():
    """The option in force is; after `choose` the other one."""
    record, _, expected = drawn(PLAN, "0:00 clock", "0:00")
    assert {"G", "M"}.isdisjoint(expected.tasks)
    assert "S" in expected.tasks
    assert "M" in drawn(PLAN, *LOGS["other ending"])[2].tasks


def test_the_arm_is_drawn_but_does_not_set_the_end():
    """Its tasks have percentiles; the end is the crew's."""
    text = task("A", "EV1", 0, [5, 10, 20]) + task("R", "ARM", 0, [100, 120, 200])
    state = follow_at(plan_of(text), "0:00 clock", "0:00")
    assert state.tasks["R"].p90_pet_min > 100
    assert state.end.p90_pet_min < 60


def test_with_nothing_of_the_crew_left_there_is_no_chance_and_that_is_said():
    """No percentiles, and the reason in words; the actual end stands."""
    state = follow_at(plan_of(task("A", "EV1", 0, 10)), "0:00 clock\n0:00 start A\n0:12 done A", "0:15")
    assert state.end.p50_pet_min is None
    assert state.end.in_by_limit is None
    assert "nothing of the crew remains" in state.not_known["end.p50_pet_min"]
    unasked = drawn(task("A", "EV1", 0, 10), "0:00 clock\n0:00 start A\n0:12 done A", "0:15")[2]
    assert unasked is None


def test_tasks_finished_slowly_push_out_the_percentiles_of_those_that_remain():
    """By the learned pace, for both lanes; the plan-pace end does not learn."""
    text = "".join(task(f"X{i}", "EV1", 20 * i, [15, 20, 30]) for i in range(10))
    slow = "0:00 clock\n" + "\n".join(f"{i * 30} start X{i}\n{i * 30 + 30} done X{i}" for i in range(5))
    state = follow_at(plan_of(text), slow, 150)
    assert state.end.plan_pace_pet_min == 250
    assert state.lanes["EV1"].pace > 1.15
    assert state.end.p50_pet_min > 150 + 100 * 1.15
    pace = learn_pace(reconcile(plan_of(text), log_of(slow), parse_instant(at(150))))
    assert pace.factor("EV1") == state.lanes["EV1"].pace


def test_percentiles_of_the_state_are_those_of_the_draws():
    """P10, P50 and P90 of the end, and P10 and P90 of a finish."""
    log, pet = LOGS["in work"]
    state = follow_at(plan_of(PLAN), log, pet)
    expected = drawn(PLAN, log, pet, 5000)[2]
    ends = (state.end.p10_pet_min, state.end.p50_pet_min, state.end.p90_pet_min)
    assert ends == pytest.approx(np.percentile(expected.end, (10, 50, 90)))
    row = expected.finish[expected.tasks.index("D")]
    assert (state.tasks["D"].p10_pet_min, state.tasks["D"].p90_pet_min) == pytest.approx(np.percentile(row, (10, 90)))


def driven(text, log="0:00 clock", pet="0:00", draws=4000, kinds=KINDS):
    record, projection, expected = drawn(text, log, pet, draws, kinds=kinds)
    drivers = expected.drivers(projection, {"EV1", "EV2"}, {t: r.lanes for t, r in record.runs.items()})
    return {d.task: d for d in drivers}, drivers, expected


def test_what_drives_the_end_is_named_with_its_share():
    """The one long uncertain task leads, the pace comes next; a task with much float is never critical and has no share."""
    text = task("A", "EV1", 0, [20, 60, 180]) + task("B", "EV2", 0, [4, 5, 6]) + task("S", "EV1 EV2", 60, [4, 5, 6])
    by_task, drivers, _ = driven(text)
    assert [d.task for d in drivers[:2]] == ["A", PACE]
    assert 0.9 < sum(d.spread_share for d in drivers) < 1.03
    assert by_task["S"].sets_end == by_task[PACE].sets_end == 1.0
    assert by_task["A"].sets_end > 0.99
    assert by_task["B"].sets_end < 0.01
    assert by_task["B"].spread_share < 0.005


def test_shares_of_a_chain_are_those_of_the_variances():
    """One lane, pace known: var(A) / (var(A) + var(B) + var(C)), by the variance of the beta-PERT."""
    points = {"A": [10, 15, 30], "B": [20, 40, 80], "C": [5, 10, 11]}
    text = "".join(task(t, "EV1", i, p) for i, (t, p) in enumerate(points.items()))
    by_task, _, _ = driven(text, draws=40000, kinds=AS_BRIEFED)
    variance = {t: pert_variance(*p) for t, p in points.items()}
    for name, own in variance.items():
        assert by_task[name].spread_share == pytest.approx(own / sum(variance.values()), abs=0.015)
    assert by_task[PACE].spread_share < 1e-3


@pytest.mark.parametrize("behind", [0.0, 15.0, 45.0])
def test_shares_of_two_lanes_are_those_of_clark_s_maximum(behind):
    """The later of two nearly normal lanes: cov(max, X) = P(X is later) var(X) (Clark 1961, by quadrature here).

    So the share of a lane is P^2 var(X) / var(max): small when it rarely is the later one, however wide it is.
    """
    spread, n = 7.0, 12  # a lane is n symmetric tasks: variance 2 n spread^2 / 14 each way
    text = "".join(
        task(f"{lane}-{i}", lane, i, [20 - spread + more, 20 + more, 20 + spread + more])
        for lane, more in (("EV1", behind / n), ("EV2", 0.0)) for i in range(n)
    )
    by_task, _, expected = driven(text, draws=40000, kinds=AS_BRIEFED)
    sd = np.sqrt(n * pert_variance(20 - spread, 20, 20 + spread))
    one, two = stats.norm(240 + behind, sd), stats.norm(240, sd)
    later = stats.norm.cdf(behind / (sd * np.sqrt(2)))

    def moment(power):
        return integrate.quad(lambda x: x**power * (one.pdf(x) * two.cdf(x) + two.pdf(x) * one.cdf(x)), 100, 500)[0]

    variance = moment(2) - moment(1) ** 2
    for lane, is_later in (("EV1", later), ("EV2", 1 - later)):
        share = sum(d.spread_share for t, d in by_task.items() if t.startswith(lane))
        assert share == pytest.approx(is_later**2 * sd**2 / variance, abs=0.03)
        assert by_task[f"{lane}-0"].sets_end == pytest.approx(is_later, abs=0.015)


def test_a_wide_task_that_rarely_sets_the_end_does_not_lead():
    """A, beside the lane that sets the end, is by far the widest; it is the later one in few draws and has a small share."""
    text = task("A", "EV2", 0, [10, 20, 150]) + "".join(task(f"L{i}", "EV1", 20 * i, [15, 20, 30]) for i in range(5))
    by_task, drivers, _ = driven(text, draws=20000)
    assert 0.0 < by_task["A"].sets_end < 0.08
    assert by_task["A"].spread_share < 0.10
    assert drivers[0].task == PACE


def test_the_pace_that_drives_the_end_is_the_crew_s_even_when_the_arm_works_first():
    """Its share of variance is the same whether an arm task stands first in the order or last."""
    text = "".join(task(f"X{i}", "EV1", 20 * i + 1, [19, 20, 21]) for i in range(10))
    shares = []
    for arm_start in (0, 500):
        by_task, _, _ = driven(text + task("R", "ARM", arm_start, [20, 30, 50]))
        shares.append(by_task[PACE].spread_share)
    assert shares[0] == pytest.approx(shares[1], abs=0.02)
    assert shares[0] > 0.8


def test_a_task_in_work_goes_on_at_the_pace_of_its_lane():
    """At half as fast again as briefed, 30 minutes of work are worth 20, and what remains takes 1.5 times as long."""
    text = task("A", "EV1", 0, [20, 30, 50])
    record = reconcile(plan_of(text), log_of("0:00 clock\n0:00 start A"), parse_instant(at("0:30")))
    fresh = learn_pace(record)
    mean = np.zeros(len(fresh.mean))
    mean[0] = np.log(1.5)
    known = Belief(1.0, 0.0, 0.0, fresh.first_shift, mean, np.zeros((len(mean), len(mean))))
    slow = replace(fresh, centre=None, beliefs=(known,))
    left = expect(record, project(record), pace=slow, draws=500).end - 30
    as_briefed = remaining_draws(record.runs["A"].task.duration, 20.0, uniforms(2031, "A", 500))
    assert left == pytest.approx(1.5 * as_briefed, rel=1e-3)


def test_luck_is_kept_when_a_task_outlasts_its_estimate():
    """A draw that was long before is long after: what remains still rises with the same numbers."""
    text = task("A", "EV1", 0, [10, 15, 30])
    log = "0:00 clock\n0:00 start A"
    before = drawn(text, log, "0:35", 4000, kinds=AS_BRIEFED)[2].end
    after = drawn(text, log + "\n0:20 estimate A remaining=10", "0:35", 4000, kinds=AS_BRIEFED)[2].end
    assert np.corrcoef(before, after)[0, 1] > 0.9


def test_in_by_limit_is_the_share_of_draws_in_by_the_limit_less_reserve():
    """Without suits; the reserve is not to be used."""
    sortie = '[sortie]\nid = "t"\nstart = 2031-04-12T09:10:00Z\nlimit = "1:20"\nreserve = 30\n' + LANES
    text = sortie + task("A", "EV1", 0, [30, 45, 90])
    state = follow_at(plan_of(text), "0:00 clock", "0:00")
    expected = drawn(text, "0:00 clock", "0:00", 5000)[2]
    assert state.end.in_by_limit == pytest.approx((expected.end <= 50).mean())
    assert 0.1 < state.end.in_by_limit < 0.9
