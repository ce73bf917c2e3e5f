"""The standing attack at large: mutated events and hostile files, on servers that must go on whatever they are sent.

Of the mutants, `SERVED_SHARE` go over HTTP to a server process (`tetherline serve`, a SQLite file), which is killed and started
again on the same store after every round. The rest go to a server inside this process: the same routes, intake, trials, desk
and store without a socket, with a new log for each round and a restart in every fifth one. Mutants that are JSON objects go ten
in one request, where each has an answer of its own. Beside them, one hostile file for each twenty mutants.
"""

from __future__ import annotations

import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from itertools import islice
from pathlib import Path

from tests.attack.files import try_files
from tests.attack.judging import Tally
from tests.attack.mutants import Mutator
from tests.attack.rounds import PER_ROUND, attack_inside, attack_once
from tests.attack.served import Served
from tests.attack.sortie import NOW_PET_MIN, plan_text
from tests.bench.measure import Measured

COUNT, SEED = 100_000, 1
SERVED_SHARE = 0.05
MUTANTS_PER_FILE = 20
ROUNDS_PER_STORE = 4
MOST_SHOWN = 40
TOLD_EVERY_S = 10.0


def measure(count: int = COUNT, seed: int = SEED) -> Iterator[Measured]:
    """The counts go to standard error; the table gets the time of each event."""
    served_count = round(count * SERVED_SHARE)
    with tempfile.TemporaryDirectory() as folder:
        faults = 0
        for name, attack, tries in (
            ("inside", attack_inside, count - served_count), ("served", attack_served, served_count),
        ):  # fmt: skip
            began_s = time.perf_counter()
            tally = attack(Path(folder), tries, seed, _telling(name, tries))
            _report(name, tally)
            faults += len(tally.faults)
            yield Measured(f"one mutated event, {name}", [(time.perf_counter() - began_s) / max(1, tally.tried)])
        began_s, files = time.perf_counter(), count // MUTANTS_PER_FILE
        found = try_files(Path(folder), files, seed)
        _say(f"files: {files} tried, {len(found.faults)} faults; {dict(sorted(found.counts.items()))}")
        for fault in found.faults[:MOST_SHOWN]:
            _say(f"  FAULT {fault[:500]}")
        yield Measured("one hostile file", [(time.perf_counter() - began_s) / max(1, files)])
    if faults or found.faults:
        sys.exit(f"expected no fault; found {faults + len(found.faults)}")


def attack_served(folder: Path, count: int, seed: int, done: Callable[[Tally], None] = lambda _: None) -> Tally:
    """Try so many mutants on a server process, killed and started again after each round; a new store after some rounds."""
    zero = datetime.now(UTC).replace(microsecond=0) - timedelta(minutes=NOW_PET_MIN)
    plan_file, mutator, tally, server = folder / "plan.toml", Mutator(seed + 1, zero), Tally(), None
    plan_file.write_text(plan_text(zero), encoding="utf-8")
    try:
        for number in range(-(-count // PER_ROUND)):
            if number % ROUNDS_PER_STORE == 0:
                if server is not None:
                    server.close()
                server = Served(plan_file, folder / f"served-{number}.db")
                server.begin(zero)
            assert server is not None
            mutants = list(islice(mutator, min(PER_ROUND, count - tally.tried)))
            attack_once(server, tally, mutants, restart=True)
            done(tally)
    finally:
        if server is not None:
            server.close()
    return tally


def _telling(name: str, count: int) -> Callable[[Tally], None]:
    """Says every few seconds how far the attack is."""
    last_s = time.monotonic()

    def tell(tally: Tally) -> None:
        nonlocal last_s
        if time.monotonic() - last_s >= TOLD_EVERY_S:
            last_s = time.monotonic()
            _say(f"{name}: {tally.tried} of {count}, {len(tally.faults)} faults")

    return tell


def _report(name: str, tally: Tally) -> None:
    _say(
        f"{name}: {tally.tried} mutated events tried, {tally.acknowledged} acknowledged, {dict(tally.statuses)}; "
        f"{tally.states_missed} states missed, {tally.lost} acknowledged events lost over {tally.restarts} restarts; "
        f"slowest answer {tally.slowest_s:.2f} s, to {tally.slowest!r}"
    )
    for reason, times in tally.reasons.most_common(MOST_SHOWN):
        _say(f"  {times:>6}  {reason}")
    for fault in tally.faults[:MOST_SHOWN]:
        _say(f"  FAULT {str(fault)[:2000]}")


def _say(text: str) -> None:
    print(text, file=sys.stderr, flush=True)
