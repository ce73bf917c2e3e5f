"""The simulator of the bench of calls agrees with itself, and its room that knows the future loses least."""

from __future__ import annotations

import itertools

import pytest

from tests.bench.sorties import (
    CLASSES,
    MODES,
    Flight,
    Sortie,
    carried_out,
    hindsight,
    needs_no_cut,
    sortie_of,
)


def flown_through(sortie: Sortie, given_up=()) -> dict[str, float]:
    """Starts of a flight in steps of 7 minutes, with some tasks given up at the outset."""
    flight = Flight(sortie.works, sortie.truth)
    flight.give_up(given_up)
    until = 0.0
    while not flight.is_over:
        if flight.next_after(until) is None:
            until += 7
    return flight.started


@pytest.mark.parametrize("mode", MODES)
def test_the_steps_of_a_flight_are_those_of_the_whole(mode):
    """Step by step each task starts when it does when all is placed at once, also without two of its tasks."""
    for seed in range(5):
        sortie = sortie_of(mode, seed)
        assert flown_through(sortie) == pytest.approx({t: at for t, at, _ in carried_out(sortie.works, sortie.truth, ())})
        some = [w.id for w in sortie.works if not w.required][:2]
        without = set(some) | {w.id for w in sortie.works if set(w.after) & set(some)}
        for _ in sortie.works:  # what comes after what goes, goes
            without |= {w.id for w in sortie.works if set(w.after) & without}
        starts = {t: at for t, at, _ in carried_out(sortie.works, sortie.truth, without)}
        assert flown_through(sortie, without) == pytest.approx(starts)


def test_hindsight_loses_least():
    """Against every subset of a short sortie: least in class 1, then 2, then 3."""
    compared = 0
    for seed in range(40):
        whole = sortie_of(MODES[seed % 4], seed)
        works = tuple(w._replace(after=()) for w in (*whole.works[:8], whole.works[-1]))
        end = max(e for _, _, e in carried_out(works, whole.truth, ()))
        sortie = Sortie(works, end * 0.8, whole.truth)
        free = [w for w in works if not w.required]
        costs = [
            tuple(sum(w.priority == c for w in some) for c in CLASSES)
            for size in range(len(free) + 1) for some in itertools.combinations(free, size)
            if max(e for _, _, e in carried_out(works, whole.truth, {w.id for w in some})) <= sortie.limit
        ]
        if costs:
            assert hindsight(sortie) == min(costs)
            compared += 1
    assert compared > 20


def test_modes_differ_in_what_happens_and_not_in_the_plan():
    """The same works and limit for a seed in every mode; some sorties need a cut, and some do not."""
    for seed in range(5):
        assert len({(sortie_of(mode, seed).works, sortie_of(mode, seed).limit) for mode in MODES}) == 1
        assert len({tuple(sortie_of(mode, seed).truth.values()) for mode in MODES}) == 4
    assert {needs_no_cut(sortie_of("plain", seed)) for seed in range(20)} == {True, False}
