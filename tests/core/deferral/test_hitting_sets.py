"""The cheapest set that no cut rules out, against every set tried."""

from __future__ import annotations

import itertools
from collections.abc import Iterator

from hypothesis import given
from hypothesis import strategies as st

from dashboard.core.deferral.hitting_sets import CandidateSets, Cut
from dashboard.core.deferral.levels import Level, Selection, TaskLevels
from dashboard.core.deferral.sense import GoesWith

LANE = "EV2"


def task_of(name: str, losses: list[int], *, may_go: bool = True, moves: tuple[str, ...] = ()):
    """A task with one level for each loss; at the last it is out, if it may go."""
    last = len(losses) - 1
    levels = tuple(
        Level(loss, None if place in (0, last) else float(50 - place), may_go and place == last > 0)
        for place, loss in enumerate(losses)
    )
    return TaskLevels(name, 1, levels, False, moves)


@st.composite
def puzzles(draw: st.DrawFn) -> tuple[dict[str, TaskLevels], list[list[str]], list[Cut], list[GoesWith]]:
    """Up to four tasks of one class, groups to keep one of, cuts, and rules by which some go along with others."""
    names = list("ABCD")[:draw(st.integers(1, 4))]
    tasks: dict[str, TaskLevels] = {}
    for name in names:
        losses = list(itertools.accumulate(draw(st.lists(st.integers(1, 10), max_size=2)), initial=0))
        tasks[name] = task_of(
            name, losses, may_go=draw(st.booleans()), moves=draw(st.sampled_from([(), (LANE,)])),
        )
    movable = [name for name in names if tasks[name].moves]
    cuts = [
        Cut(
            {name: draw(st.integers(0, tasks[name].last - 1)) for name in beyond},
            {name: draw(st.sampled_from([None, LANE])) for name in elsewhere},
        )
        for beyond, elsewhere in draw(st.lists(st.tuples(
            st.sets(st.sampled_from([n for n in names if tasks[n].last] or [""])).map(lambda s: sorted(s - {""})),
            st.sets(st.sampled_from(movable or [""])).map(lambda s: sorted(s - {""})),
        ), max_size=4))
    ]
    groups = draw(st.lists(st.lists(st.sampled_from(names), min_size=1, max_size=2), max_size=2))
    pairs = st.tuples(st.sampled_from(names), st.frozensets(st.sampled_from(names), min_size=1, max_size=2))
    return tasks, groups, cuts, [GoesWith(goes, all_of) for goes, all_of in draw(st.lists(pairs, max_size=2))]


def allowed(
    tasks: dict[str, TaskLevels], groups: list[list[str]], cuts: list[Cut], sense: list[GoesWith]
) -> Iterator[Selection]:
    """Every set that the rules and the cuts allow, by trying each level and each lane."""
    names = list(tasks)
    levels = [range(tasks[n].last + 1) for n in names]
    lanes = [(None, *tasks[n].moves) for n in names]
    for chosen, handed in itertools.product(itertools.product(*levels), list(itertools.product(*lanes))):
        at, lane = dict(zip(names, chosen, strict=True)), dict(zip(names, handed, strict=True))
        out = {n for n in names if tasks[n].levels[at[n]].out}
        if any(lane[n] for n in out) or any(all_of <= out and n not in out for n, all_of in sense):
            continue
        if not all(any(at[n] == 0 for n in group) for group in groups):
            continue
        if all(
            any(at[n] > level for n, level in cut.beyond.items()) or any(lane[n] != old for n, old in cut.elsewhere.items())
            for cut in cuts
        ):
            yield Selection({n: level for n, level in at.items() if level}, {n: to for n, to in lane.items() if to})


def loss_of(tasks: dict[str, TaskLevels], selection: Selection) -> int:
    return sum(task.levels[selection.level(name)].loss for name, task in tasks.items())


@given(puzzles())
def test_the_cheapest_set_is_the_cheapest_of_all_that_are_allowed(puzzle) -> None:
    """Its loss is the least, it is allowed itself, and there is none just when no set is."""
    tasks, groups, cuts, sense = puzzle
    every = list(allowed(tasks, groups, cuts, sense))
    sets = CandidateSets(tasks, groups, cuts, sense)
    found = sets.cheapest(sets._losses().get(1, 0))
    assert (found is None) == (not every)
    if found is not None:
        assert found in every
        assert loss_of(tasks, found) == min(loss_of(tasks, one) for one in every)


@given(puzzles())
def test_all_sets_that_are_left_are_listed(puzzle) -> None:
    """Each once, and it is said whether these are all."""
    tasks, groups, cuts, sense = puzzle
    every = list(allowed(tasks, groups, cuts, sense))
    listed, all_of_them = CandidateSets(tasks, groups, cuts, sense).all_left()
    assert all(one in every for one in listed)
    assert len(listed) == len({str(one) for one in listed})
    assert all_of_them == (len(listed) == len(every))


def test_a_cut_is_met_by_going_beyond_or_by_another_lane() -> None:
    """Deferring A costs 5, trimming it 2. The first cut asks for a trim; the second is met for nothing by another lane."""
    tasks = {"A": task_of("A", [0, 2, 5]), "B": task_of("B", [0, 9], moves=(LANE,))}
    sets = CandidateSets(tasks, [], [Cut({"A": 0}, {})])
    assert sets.cheapest(sets._losses()[1]) == Selection({"A": 1}, {})
    sets.add(Cut({"A": 1}, {"B": None}))
    assert sets.cheapest(sets._losses()[1]) == Selection({"A": 1}, {"B": LANE})
    sets.add(Cut({"A": 1}, {"B": LANE}))
    assert sets.cheapest(sets._losses()[1]) == Selection({"A": 2}, {})


def test_of_equal_sets_the_one_that_gives_up_most_is_taken() -> None:
    """B's loss does not count yet, so it goes as well."""
    tasks = {"A": task_of("A", [0, 2]), "B": task_of("B", [0, 9])}
    sets = CandidateSets(tasks, [], [Cut({"A": 0}, {})])
    loss_of_a = 2 * sets.level["A"]
    assert sets.cheapest(loss_of_a, freely=["B"]) == Selection({"A": 1, "B": 1}, {})
    assert sets.cheapest(loss_of_a + sets.level["B"]) == Selection({"A": 1}, {})
