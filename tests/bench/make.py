"""Plans and logs of any size for the benchmarks: invented, and the same for the same seed."""

from __future__ import annotations

import json
import random
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from dashboard.core.base.times import instant_text, minutes_between, parse_instant

PET_ZERO = parse_instant("2031-04-12T09:10:00Z")
SHARE_DONE = 0.5


def plan_table(tasks: int, seed: int = 1, zero: datetime = PET_ZERO) -> dict[str, Any]:
    """A plan of so many tasks: pairs of crew and an arm, one task in six joint, some order between them."""
    rng = random.Random(seed)
    lanes = _lane_names(tasks)
    crew = [name for name in lanes if name.startswith("EV")]
    free_at = dict.fromkeys(lanes, 0)
    table: list[dict[str, Any]] = []
    for number in range(tasks):
        wanted = rng.sample(crew, 2) if rng.random() < 1 / 6 else [min(lanes, key=lambda name: free_at[name])]
        likely = rng.randint(4, 12)
        start = max(free_at[name] for name in wanted)
        for name in wanted:
            free_at[name] = start + likely
        after = [earlier["id"] for earlier in table[-20:] if rng.random() < 0.05 and _ends(earlier) <= start]
        table.append(
            {
                "id": f"T{number:04d}",
                "title": f"Task {number}",
                "lanes": wanted,
                "start": start,
                "duration": [likely - 2, likely, likely + rng.randint(1, 9)],
                "after": after[:2],
                "priority": rng.randint(1, 4),
                "closeout": 2,
            }
        )
    end = max(free_at.values())
    return {
        "sortie": {
            "id": f"bench-{tasks}",
            "start": instant_text(zero),
            "limit": min(24 * 60, end + 40),
            "reserve": 10,
        },
        "lane": [
            {
                "id": name,
                "kind": "crew" if name in crew else "arm",
                **({"suit": f"S{name}"} if name in crew else {}),
            }
            for name in lanes
        ],
        "suit": [
            {
                "id": f"S{name}",
                "oxygen": {"loaded": 3.0, "reserve": 0.1},
                "battery": {"loaded": 3000, "reserve": 30},
            }
            for name in crew
        ],
        "task": table,
    }


def log_rows(plan: dict[str, Any], events: int, seed: int = 2, zero: datetime = PET_ZERO) -> list[dict[str, Any]]:
    """A log of so many events: half of the plan carried out, filled up with what a room writes down."""
    rng = random.Random(seed)
    rows: list[tuple[float, dict[str, Any]]] = [(0.0, {"kind": "clock"})]
    free_at = {lane["id"]: 1.0 for lane in plan["lane"]}
    for task in plan["task"][: int(len(plan["task"]) * SHARE_DONE)]:
        begin = max(free_at[name] for name in task["lanes"])
        took = task["duration"][1] * rng.uniform(0.8, 1.4)
        rows += [
            (begin, {"kind": "start", "task": task["id"]}),
            (begin + took, {"kind": "done", "task": task["id"]}),
        ]
        for name in task["lanes"]:
            free_at[name] = begin + took
    last = max(at for at, _ in rows)
    worked = [(at, row["task"]) for at, row in rows if row["kind"] == "start"]
    while len(rows) < events:
        rows.append(_filler(rng, last, worked, plan))
    rows = sorted(rows[:events], key=lambda row: row[0])
    return [
        {
            "id": f"e{number}",
            "at": instant_text(zero + timedelta(minutes=round(at, 3))),
            "seq": number,
            **row,
        }
        for number, (at, row) in enumerate(rows, start=1)
    ]


def write_sortie(folder: Path, tasks: int, events: int, zero: datetime = PET_ZERO) -> tuple[Path, Path]:
    """A plan file and a log file of these sizes."""
    plan = plan_table(tasks, zero=zero)
    plan_file, log_file = folder / "plan.toml", folder / "run-1.jsonl"
    plan_file.write_text(_toml(plan, zero), encoding="utf-8")
    rows = log_rows(plan, events, zero=zero)
    log_file.write_text("".join(f"{json.dumps(row)}\n" for row in rows), encoding="utf-8")
    return plan_file, log_file


def zero_that_ends_now(tasks: int, events: int) -> datetime:
    """The PET zero with which the last event of such a log is a minute old, so that a live server counts all of them."""
    return datetime.now(UTC).replace(microsecond=0) - timedelta(minutes=last_minute(tasks, events) + 1)


def last_minute(tasks: int, events: int) -> float:
    """The time of the last event of such a log, minutes after PET zero."""
    last = log_rows(plan_table(tasks), events)[-1:]
    return max((minutes_between(PET_ZERO, parse_instant(row["at"])) for row in last), default=0.0)


def _filler(
    rng: random.Random, last: float, worked: list[tuple[float, str]], plan: dict[str, Any]
) -> tuple[float, dict[str, Any]]:
    draw = rng.random()
    if draw < 0.3:
        begin, task = rng.choice(worked)
        return begin + 1.0, {"kind": "estimate", "task": task, "remaining": rng.randint(1, 9)}
    if draw < 0.6:
        at = rng.uniform(0, last)
        suit = rng.choice(plan["suit"])
        left = suit["oxygen"]["loaded"] * (1 - 0.6 * at / max(last, 1.0))
        return at, {"kind": "reading", "suit": suit["id"], "oxygen": round(left, 3)}
    return rng.uniform(0, last), {"kind": "note", "text": f"Note {rng.randint(0, 9999)}"}


def _lane_names(tasks: int) -> list[str]:
    pairs = max(1, tasks // 330)
    return [f"EV{number}" for number in range(1, 2 * pairs + 1)] + [
        f"ARM{number}" for number in range(1, pairs + 1)
    ]


def _ends(task: dict[str, Any]) -> int:
    return int(task["start"] + task["duration"][1])


def _toml(plan: dict[str, Any], zero: datetime) -> str:
    import tomlkit

    return tomlkit.dumps({**plan, "sortie": {**plan["sortie"], "start": zero}})
