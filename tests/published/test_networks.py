"""Early and late times, float and the chain that sets the end: textbooks, and networkx on random plans."""

from __future__ import annotations

import math
from typing import Any

import networkx as nx
import pytest
from hypothesis import given
from hypothesis import strategies as st

from dashboard.core.plan.model import Plan
from dashboard.core.state.follow import follow
from dashboard.core.state.model import SortieState
from tests.published.networks import HILLIER, PERT_14, SLIDES_8, TAYLOR_5, Activity, as_plan, read

SOURCE, END = "source", "end"
KINDS = {"EV1": "crew", "EV2": "crew", "ARM": "arm"}

# name: table, end, chain that sets the end, and how coarsely the source rounds
TEXTBOOKS: dict[str, tuple[str, float, list[str], float]] = {
    # Taylor, Introduction to Management Science, ch. 8 solutions, problem 5 (read)
    "taylor-5": (TAYLOR_5, 20, ["1-3", "3-4", "4-5", "5-6"], 0),
    # eight-activity lecture slide, slideplayer.com 3283910 (times read; predecessors from its four paths, read)
    "slides-8": (SLIDES_8, 22, ["A", "C", "F", "G", "H"], 0),
    # fourteen activities, studyzin.com 34526 (answers) and wizedu.com 717873 (inputs); read; two decimals
    "pert-14": (PERT_14, 50.83, ["A", "C", "E", "H", "I", "K", "M", "N"], 0.005),
}


def at_pet_zero(plan: Plan) -> SortieState:
    return follow(plan, [], plan.sortie.start, draws=0)


@pytest.mark.parametrize("name", TEXTBOOKS)
def test_textbook_table_of_early_and_late_times(name):
    """Projected start and finish, latest start and finish that meet the published end, and total float, row by row.

    Sources and what was read in them: the table `TEXTBOOKS` above.
    """
    table, end, _, rounding = TEXTBOOKS[name]
    network = read(table)
    exact_end = at_pet_zero(as_plan(network, 1000)).end.plan_pace_pet_min
    state = at_pet_zero(as_plan(network, exact_end))
    assert exact_end == pytest.approx(end, abs=rounding)
    for task_id, activity in network.items():
        task = state.tasks[task_id]
        ours = [
            task.projected_start_pet_min, task.projected_finish_pet_min, task.latest_start_pet_min,
            task.latest_start_pet_min + activity.duration, task.float_min,
        ]
        assert ours == pytest.approx(activity.published, abs=rounding), task_id


@pytest.mark.parametrize("name", TEXTBOOKS)
def test_textbook_critical_path(name):
    """The chain that sets the end is the published critical path, first to last."""
    table, _, critical, _ = TEXTBOOKS[name]
    assert at_pet_zero(as_plan(read(table), 1000)).end.chain == critical


def test_the_network_from_memory_agrees_with_networkx():
    """Hillier and Lieberman, Reliable Construction Co.: predecessors from memory, so networkx decides, not the book.

    The floats and the 44 weeks remembered from the book agree with both; they are compared with networkx, not with us.
    """
    network = read(HILLIER)
    graph = graph_of(network)
    state = at_pet_zero(as_plan(network, 1000))
    end = longest(graph, SOURCE)[END]
    assert state.end.plan_pace_pet_min == end
    floats = {name: end - longest(graph, SOURCE)[name] - longest(graph, name)[END] for name in network}
    assert {name: task.float_min for name, task in state.tasks.items()} == floats
    assert (end, floats) == (44, {name: activity.published[0] for name, activity in network.items()})


# --- random plans ------------------------------------------------------------------------------------------------


def graph_of(network: dict[str, Activity]) -> nx.DiGraph:
    """Nodes are starts; durations lie on the edges, with one to the end, so that no last duration is lost."""
    graph = nx.DiGraph()
    for name, activity in network.items():
        graph.add_edge(SOURCE, name, minutes=0)
        graph.add_edge(name, END, minutes=activity.duration)
        for before in activity.after:
            graph.add_edge(before, name, minutes=network[before].duration)
    return graph


def longest(graph: nx.DiGraph, start: str) -> dict[str, float]:
    """Longest path from a node to every node, in topological order; minus infinity where there is none.

    `networkx.dag_longest_path` is not used: it ignores the last node's duration and goes wrong with negative weights.
    """
    far = dict.fromkeys(graph, -math.inf)
    far[start] = 0
    for node in nx.topological_sort(graph):
        for _, other, minutes in graph.out_edges(node, data="minutes"):
            far[other] = max(far[other], far[node] + minutes)
    return far


def _links(graph: nx.DiGraph, before: str, after: str, minutes: float) -> None:
    """An edge; of two links between the same tasks the longer one counts."""
    known = graph.get_edge_data(before, after, {"minutes": -math.inf})["minutes"]
    graph.add_edge(before, after, minutes=max(known, minutes))


def graph_of_plan(tasks: list[dict[str, Any]]) -> nx.DiGraph:
    """The same graph with lags and lane order; only crew tasks lead to the end."""
    graph = nx.DiGraph()
    graph.add_node(END)
    length = {task["id"]: task["duration"] for task in tasks}
    last: dict[str, str] = {}
    for task in tasks:
        name = task["id"]
        _links(graph, SOURCE, name, task.get("not_before", 0))
        for before in task["after"]:
            _links(graph, before, name, length[before])
        for link in task["follows"]:
            _links(graph, link["task"], name, length[link["task"]] + link["lag"])
        for lane in task["lanes"]:
            if lane in last:
                _links(graph, last[lane], name, length[last[lane]])
            last[lane] = name
        if any(KINDS[lane] == "crew" for lane in task["lanes"]):
            _links(graph, name, END, length[name])
    return graph


@st.composite
def task_tables(draw):
    """Tasks in random lanes, each linked to some of those briefed before it."""
    tasks: list[dict[str, Any]] = []
    for i in range(draw(st.integers(1, 12))):
        names = [task["id"] for task in tasks]
        some = st.lists(st.sampled_from(names), unique=True, max_size=3) if names else st.just([])
        tasks.append({
            "id": f"T{i}",
            "lanes": draw(st.lists(st.sampled_from(sorted(KINDS)), unique=True, min_size=1)),
            "start": i,
            "duration": draw(st.integers(0, 60)),
            "after": draw(some),
            "follows": [{"task": name, "lag": draw(st.integers(0, 30))} for name in draw(some)],
        })
        if draw(st.booleans()):
            tasks[-1]["not_before"] = draw(st.integers(0, 120))
    return tasks


def plan_with(tasks: list[dict[str, Any]], limit: float = 1400) -> Plan:
    return Plan.model_validate({
        "sortie": {"id": "random", "start": "2031-04-12T09:10:00Z", "limit": limit},
        "lane": [{"id": name, "kind": kind} for name, kind in KINDS.items()],
        "task": tasks,
    })


@given(task_tables())
def test_projected_times_are_longest_paths(tasks):
    """Every start is the longest path from now over links, lags, lane order and `not_before`; so is the end."""
    state = at_pet_zero(plan_with(tasks))
    early = longest(graph_of_plan(tasks), SOURCE)
    for task in tasks:
        seen = state.tasks[task["id"]]
        assert seen.projected_start_pet_min == early[task["id"]]
        assert seen.projected_finish_pet_min == early[task["id"]] + task["duration"]
    assert state.end.plan_pace_pet_min == (early[END] if early[END] > -math.inf else None)


@given(task_tables())
def test_float_and_latest_start_are_what_longest_paths_leave(tasks):
    """Float: what the longest way on to a crew task's end leaves. Latest start: the same, measured against the limit.

    A task that no crew task waits for has neither: however late it is, the end of the sortie, the latest finish over
    the crew lanes, does not move.
    """
    state = at_pet_zero(plan_with(tasks))
    graph = graph_of_plan(tasks)
    early = longest(graph, SOURCE)
    end = early[END]
    for task in tasks:
        name, seen = task["id"], state.tasks[task["id"]]
        on = longest(graph, name)
        ways = [on[t["id"]] + t["duration"] for t in tasks if on[t["id"]] > -math.inf and _of_the_crew(t)]
        if not ways:
            assert seen.float_min is None
            assert seen.latest_start_pet_min is None
            continue
        assert seen.float_min == end - early[name] - max(ways)
        assert seen.latest_start_pet_min == 1400 - max(ways)


def _of_the_crew(task: dict[str, Any]) -> bool:
    return any(KINDS[lane] == "crew" for lane in task["lanes"])


@given(task_tables())
def test_the_chain_is_a_longest_path_to_the_end(tasks):
    """Each task of the chain begins when the one before lets it, has no float, and the last one ends the sortie."""
    state = at_pet_zero(plan_with(tasks))
    graph = graph_of_plan(tasks)
    chain = state.end.chain
    for before, after in zip(chain, chain[1:], strict=False):
        gap = state.tasks[after].projected_start_pet_min - state.tasks[before].projected_start_pet_min
        assert gap == graph.edges[before, after]["minutes"]
    for name in chain:
        assert state.tasks[name].float_min == 0
    if chain:
        assert state.tasks[chain[-1]].projected_finish_pet_min == state.end.plan_pace_pet_min
