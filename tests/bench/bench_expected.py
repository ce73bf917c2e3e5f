"""How fast the expected projection is, against a longest path and a simulation of the same plan, one draw at a time.

    python -m tests.bench.bench_expected

The same plan, the same durations, in the same run: before anything is timed the finishes of all three are compared.
"""

from __future__ import annotations

import platform
import time
from collections.abc import Callable, Iterable
from statistics import median

import networkx as nx
import numpy as np
import simpy

from dashboard.core.base.times import parse_instant
from dashboard.core.plan.model import Plan
from dashboard.core.record.fold import reconcile
from dashboard.core.record.record import Record
from dashboard.core.schedule import durations
from dashboard.core.schedule.expected import DRAWS, SEED, Expected, expect
from dashboard.core.schedule.plan_pace import project
from dashboard.core.state.follow import follow
from tests.scenario import at, log_of, plan_of, task

TASKS = 60
SLOW_DRAWS = 200
BAR_MS = 25.0
BAR_LONGEST_PATH = 200.0
BAR_SIMULATION = 100.0
Lengths = dict[str, float]


def bench_plan() -> Plan:
    """Sixty tasks in two lanes and the arm: joint tasks, `after`, lags."""
    text, lanes = "", ("EV1", "EV2", "EV1 EV2", "EV1", "EV2", "EV2 ARM")
    for i in range(TASKS):
        links: dict[str, object] = {"after": [f"T{i - 4}"]} if i % 7 == 6 else {}
        if i % 9 == 8:
            links["follows"] = [{"task": f"T{i - 3}", "lag": 2}]
        text += task(f"T{i}", lanes[i % 6], 5 * i, [6, 9 + i % 5, 20], **links)
    return plan_of(text.replace('limit = "7:00"', 'limit = "12:00"'))


def before_each(plan: Plan) -> dict[str, list[tuple[str, float]]]:
    """What must be over before each task, with lags: its links and its lane-mates."""
    tail: dict[str, str] = {}
    found = {}
    for one in plan.tasks:
        found[one.id] = [(o, 0.0) for o in one.after] + [(f.task, f.lag) for f in one.follows]
        found[one.id] += [(tail[lane], 0.0) for lane in one.lanes if lane in tail]
        tail.update(dict.fromkeys(one.lanes, one.id))
    return found


def longest_path(graph: nx.DiGraph, order: list[str], lengths: Lengths) -> Lengths:
    """Finishes, by one forward pass over the graph; the order is worked out once, outside."""
    finish: Lengths = {}
    for name in order:
        begin = max((finish[o] + data["lag"] for o, _, data in graph.in_edges(name, data=True)), default=0.0)
        finish[name] = begin + lengths[name]
    return finish


def simulation(before: dict[str, list[tuple[str, float]]], lengths: Lengths) -> Lengths:
    """Finishes, by a process a task that waits for what it comes after."""
    env = simpy.Environment()
    over = {name: env.event() for name in before}
    finish: Lengths = {}

    def later(event: simpy.Event, lag: float) -> Iterable[simpy.Event]:
        yield event
        yield env.timeout(lag)

    def work(name: str) -> Iterable[simpy.Event]:
        waits = [env.process(later(over[o], lag)) if lag else over[o] for o, lag in before[name]]
        if waits:
            yield env.all_of(waits)
        yield env.timeout(lengths[name])
        finish[name] = env.now
        over[name].succeed()

    for name in before:
        env.process(work(name))
    env.run()
    return finish


def seconds_of(work: Callable[[], object], times: int) -> float:
    """Processor time, median of so many runs: what else the machine does counts little."""
    found = []
    for _ in range(times):
        began = time.process_time()
        work()
        found.append(time.process_time() - began)
    return median(found)


def clear_caches() -> None:
    """As in a fresh process: no random numbers and no tables yet."""
    for cached in (durations.uniforms, durations.normals, durations.fresh_draws, durations.mixed_draws, durations.log_moments,
                   durations._beta_tables):
        cached.cache_clear()


def one_by_one(expected: Expected, k: int) -> Lengths:
    return {t: float(expected.finish[i, k] - expected.start[i, k]) for i, t in enumerate(expected.tasks)}


def main() -> None:
    """Print one table."""
    plan, now = bench_plan(), parse_instant(at(0))
    log = log_of("0:00 clock")
    record: Record = reconcile(plan, log, now)
    projection = project(record)
    expected = expect(record, projection)
    assert expected is not None
    before = before_each(plan)
    graph = nx.DiGraph()
    graph.add_nodes_from(before)
    graph.add_weighted_edges_from(
        ((o, n, max(lag for p, lag in links if p == o)) for n, links in before.items() for o, _ in links), weight="lag"
    )
    order = list(nx.topological_sort(graph))
    columns = [one_by_one(expected, k) for k in range(SLOW_DRAWS)]
    for k, lengths in enumerate(columns):
        ours = expected.finish[:, k]
        for finish in (longest_path(graph, order, lengths), simulation(before, lengths)):
            assert np.allclose([finish[t] for t in expected.tasks], ours, atol=1e-6)

    def cold() -> None:
        clear_caches()
        expect(record, projection)

    follow_s = seconds_of(lambda: follow(plan, log, now), 30)
    alone_s = seconds_of(lambda: follow(plan, log, now, draws=0), 30)
    warm_s = seconds_of(lambda: expect(record, projection), 30)
    cold_s = seconds_of(cold, 10)
    path_s = seconds_of(lambda: [longest_path(graph, order, lengths) for lengths in columns], 5) / SLOW_DRAWS
    library_s = seconds_of(lambda: [nx.dag_longest_path_length(graph, weight="lag") for _ in columns], 3) / SLOW_DRAWS
    simulated_s = seconds_of(lambda: [simulation(before, lengths) for lengths in columns], 5) / SLOW_DRAWS
    clear_caches()
    first = time.process_time()
    follow(plan, log, now)
    first_ms = (time.process_time() - first) * 1e3
    ours_s = warm_s / DRAWS
    print(f"{TASKS} tasks, {DRAWS} draws, seed {SEED}; Python {platform.python_version()}, numpy {np.__version__}")
    print(f"{SLOW_DRAWS} draws compared: longest path, simulation and ours agree in every finish")
    rows = [
        ("one follow, median", f"{follow_s * 1e3:.1f} ms", f"bar {BAR_MS:g} ms", follow_s * 1e3 <= BAR_MS),
        ("the very first, caches empty", f"{first_ms:.1f} ms", "", None),
        ("one follow without draws", f"{alone_s * 1e3:.1f} ms", "", None),
        ("the draws alone, numbers at hand", f"{warm_s * 1e3:.1f} ms", f"{ours_s * 1e6:.2f} us a draw", None),
        ("the draws alone, caches empty", f"{cold_s * 1e3:.1f} ms",
         f"{1 - warm_s / cold_s:.0%} of it random numbers and tables", None),
        ("longest path over networkx, a draw", f"{path_s * 1e6:.0f} us",
         f"{path_s / ours_s:.0f} times ours (bar {BAR_LONGEST_PATH:g})", path_s / ours_s >= BAR_LONGEST_PATH),
        ("same, caches empty", "", f"{path_s / (cold_s / DRAWS):.0f} times ours", None),
        ("networkx's own longest path, a draw", f"{library_s * 1e6:.0f} us",
         f"{library_s / ours_s:.0f} times ours (length only)", None),
        ("simulation in SimPy, a draw", f"{simulated_s * 1e6:.0f} us",
         f"{simulated_s / ours_s:.0f} times ours (bar {BAR_SIMULATION:g})", simulated_s / ours_s >= BAR_SIMULATION),
        ("same, caches empty", "", f"{simulated_s / (cold_s / DRAWS):.0f} times ours", None),
    ]
    for what, value, note, met in rows:
        print(f"{what:<38}{value:>10}  {note}{'' if met is None else ': met' if met else ': NOT met'}")


if __name__ == "__main__":
    main()
