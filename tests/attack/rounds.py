"""Many rounds of the attack, each on a fresh log, on a server in this process."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Sequence
from itertools import islice
from pathlib import Path

from tests.attack.inside import Inside, SharedTrial
from tests.attack.judging import Round, Tally, Target
from tests.attack.mutants import Mutant, Mutator
from tests.attack.sortie import PLAN
from tests.scenario import plan_of

PER_ROUND = 50
PER_REQUEST = 10
RESTART_EVERY = 5


def attack_inside(folder: Path, count: int, seed: int, done: Callable[[Tally], None] = lambda _: None) -> Tally:
    """Try so many mutants; the server is ended and started again in every fifth round.

    `done` is called after each round with what was found so far.
    """
    plan, mutator, tally = plan_of(PLAN), Mutator(seed), Tally()
    trial, loop = SharedTrial(plan), asyncio.new_event_loop()
    try:
        for number in range(-(-count // PER_ROUND)):
            store = folder / f"{number}.db"
            server = Inside(plan, trial, store, loop)
            attack_once(server, tally, list(islice(mutator, min(PER_ROUND, count - tally.tried))),
                restart=number % RESTART_EVERY == 0)
            server.close()
            store.unlink()
            done(tally)
    finally:
        trial.end()
        loop.close()
    return tally


def attack_once(server: Target, tally: Tally, mutants: Sequence[Mutant], *, restart: bool) -> None:
    """Send mutants to a server, and judge it.

    Those that are still JSON objects go several in one request: they are tried together, each alone where that fails, and each
    has an answer of its own.
    """
    attack = Round(server, tally)
    objects = [one for one in mutants if one.is_object]
    for first in range(0, len(objects), PER_REQUEST):
        attack.send(*objects[first : first + PER_REQUEST])
    for one in mutants:
        if not one.is_object:
            attack.send(one)
    attack.look(restart=restart)
