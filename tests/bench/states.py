"""Writes the states of many logs to a file, so that two versions of the program can be compared byte by byte.

    python -m tests.bench.states before.txt     # on one version
    python -m tests.bench.states after.txt      # on the other; then compare the two files

The cases are the recorded run of the demo every ten minutes, and 200 random logs of a plan that has one of everything.
Each line holds the name of the case, the digest of its state as JSON, and the JSON itself.
"""

from __future__ import annotations

import random
import sys
from collections.abc import Iterator
from datetime import datetime, timedelta
from hashlib import sha256
from pathlib import Path
from typing import Any

from dashboard.core.base.times import instant_text
from dashboard.core.events.kinds import parse_event
from dashboard.core.state.follow import follow
from replay.recording import load_run
from tests.core.sorties import PLAN
from tests.scenario import PET_ZERO

RUN = Path(__file__).parents[2] / "replay" / "scenarios" / "lantern-2"
RANDOM_LOGS = 200
TASKS = ("A", "B", "C", "J", "D", "E", "R", "G", "P", "Q", "C1", "C2", "X")
LANES = ("EV1", "EV2", "ARM")


def random_log(seed: int) -> list[Any]:
    """A log of up to 40 events of every kind, each received soon or late after it happened."""
    rng = random.Random(seed)
    rows = []
    for number in range(rng.randint(1, 40)):
        minute = rng.uniform(0, 300)
        rows.append(
            {
                "id": f"e{number}",
                "at": _at(minute),
                "received": _at(minute + rng.choice((0, 0, 1, 60)) * rng.random()),
                **_body(rng, number),
            }
        )
    rows.sort(key=lambda row: row["received"])
    return [parse_event({**row, "seq": seq}) for seq, row in enumerate(rows, start=1)]


def _at(minute: float) -> str:
    return instant_text(PET_ZERO + timedelta(minutes=round(minute, 2)))


def _body(rng: random.Random, number: int) -> dict[str, Any]:
    task, other, lane = rng.choice(TASKS), rng.choice(TASKS), rng.choice(LANES)
    bodies: list[dict[str, Any]] = [
        {"kind": "start", "task": task},
        {"kind": "start", "task": task, "lanes": [lane]},
        {"kind": "start", "task": other},
        {"kind": "done", "task": task},
        {"kind": "done", "task": other},
        {"kind": rng.choice(("hold", "resume")), "task": task},
        {"kind": rng.choice(("hold", "resume")), "lane": lane},
        {"kind": rng.choice(("hold", "resume")), "all": True},
        {"kind": "break_off", "task": task},
        {"kind": "estimate", "task": task, "remaining": rng.randint(0, 90)},
        {"kind": rng.choice(("defer", "reinstate")), "tasks": [task, other]},
        {"kind": "trim", "task": task, "duration": rng.randint(0, 60)},
        {"kind": "insert", "contingency": "leak"},
        {"kind": "choose", "alternative": "ending", "option": rng.choice(("short", "long"))},
        {"kind": "add", "task": {"id": "X", "lanes": ["EV1"], "duration": 9}},
        {"kind": "move", "task": task, "lane": lane, "before": other},
        {"kind": "reading", "suit": "A", "water": round(rng.uniform(0, 4), 3)},
        {"kind": "decision", "text": "as said", "defer": [task], "trim": {other: rng.randint(5, 60)}},
        {"kind": "note", "text": "nothing odd"},
        {"kind": "amend", "event": f"e{rng.randint(0, number)}", "changes": {"at": _at(rng.uniform(0, 300))}},
        {"kind": "withdraw", "event": f"e{rng.randint(0, number)}"},
        {"kind": "clock"},
        {"kind": "end"},
    ]
    weights = [4 if body["kind"] in ("start", "done") else 0.2 if body["kind"] in ("clock", "end") else 1 for body in bodies]
    return rng.choices(bodies, weights)[0]


def cases() -> Iterator[tuple[str, Any, list[Any], datetime]]:
    """Name, plan, events and instant of each case."""
    run = load_run(RUN)
    for minute in range(-10, 440, 10):
        now = run.pet_zero + timedelta(minutes=minute)
        yield f"recorded run, PET {minute} min", run.plan, run.known_at(now), now
    for seed in range(RANDOM_LOGS):
        minute = random.Random(seed).uniform(0, 330)
        yield f"random log {seed}", PLAN, random_log(seed), PET_ZERO + timedelta(minutes=minute)


def main() -> None:
    """Write the states of all cases to the file that is named."""
    if len(sys.argv) != 2:
        sys.exit("expected the name of one file to write; found " + (" ".join(sys.argv[1:]) or "none"))
    with Path(sys.argv[1]).open("w", encoding="utf-8") as out:
        for name, plan, events, now in cases():
            text = follow(plan, events, now).model_dump_json()
            out.write(f"{name}\t{sha256(text.encode()).hexdigest()}\t{text}\n")
            print(name, file=sys.stderr)


if __name__ == "__main__":
    main()
