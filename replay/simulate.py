"""Writes simulated runs of a plan: logs as a room would keep them, with a given pace, spread and troubles.

A simulated run is marked: its header says ``setting = "simulated"``, and its first note says that it did not happen. The same
plan, seed and options give the same bytes. `replay.simulated_sortie` simulates the work; this module makes the log of it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import timedelta
from pathlib import Path
from typing import Any

import numpy as np

from dashboard.core.base.times import instant_text, plus_minutes
from dashboard.core.events.event import Event
from dashboard.core.events.kinds import parse_event
from dashboard.core.plan.model import Plan
from replay.conditions import Conditions
from replay.library import write_run
from replay.simulated_sortie import Row, SimulatedSortie
from replay.simulated_suits import Rng

ON_PURPOSE = ("forgotten",)  # the only trouble that leaves a discrepancy in the log


@dataclass(frozen=True)
class Simulated:
    """One simulated run.

    Parameters
    ----------
    events : list of event models
        In the order in which they were received.
    date : str
        Day of the run.
    on_purpose : list of str
        Ids of the events that cause a discrepancy on purpose.
    """

    events: list[Event]
    date: str
    on_purpose: list[str]


def simulate(plan: Plan, conditions: Conditions, seed: int, number: int = 0) -> Simulated:
    """Simulate one run.

    Parameters
    ----------
    plan : Plan
    conditions : Conditions
    seed : int
    number : int
        Number of the run for this seed. Each run of a seed has its own day.

    Returns
    -------
    Simulated
    """
    rng = np.random.default_rng([seed, number])
    zero = plan.sortie.start + timedelta(days=number, seconds=int(rng.integers(0, 600)))
    rows = SimulatedSortie(plan, conditions, rng).run()
    written = _as_written(rows, plan, conditions, rng)
    day = zero.date().isoformat()
    order = sorted(written.rows, key=lambda row: (row.received, row.at))
    events = [
        parse_event(
            {
                "id": row.id,
                "at": instant_text(_second(zero, row.at)),
                "kind": row.kind,
                "by": "simulated",
                "received": instant_text(_second(zero, row.received)),
                "seq": seq,
                **written.fields(row, zero),
            }
        )
        for seq, row in enumerate(order, start=1)
    ]
    return Simulated(events, day, written.on_purpose)


def write_simulated(
    plan: Plan, plan_text: str, folder: Path, count: int, seed: int, conditions: Conditions
) -> Iterator[Path]:
    """Write simulated runs, each in its own folder.

    Parameters
    ----------
    plan : Plan
    plan_text : str
        The plan file.
    folder : Path
        The folder of the runs' folders.
    count : int
        Number of runs.
    seed : int
    conditions : Conditions

    Yields
    ------
    Path
        Each folder, after it is written.

    Raises
    ------
    InputError
        When a folder already holds a run, or cannot be written.
    """
    for number in range(count):
        run = simulate(plan, conditions, seed, number)
        place = folder / f"run-{number + 1:04d}"
        troubles = (
            ", ".join(f"{name} {mean:g}" for name, mean in sorted(conditions.troubles.items())) or "none"
        )
        notes = (
            f"Simulated, not a record of anything that happened. Seed {seed}, run {number + 1}; pace {conditions.pace:g}, "
            f"spread {conditions.spread:g}, correlation {conditions.correlation:g}; troubles per run: {troubles}."
        )
        if run.on_purpose:
            notes += f" Left out on purpose, to cause discrepancies: the start before {', '.join(run.on_purpose)}."
        header = {
            "title": f"{plan.sortie.id}, simulated run {number + 1}",
            "setting": "simulated",
            "date": run.date,
            "notes": notes,
        }
        write_run(place, plan_text, run.events, header)
        yield place


def _second(zero: Any, pet_min: float) -> Any:
    return plus_minutes(zero, round(pet_min * 60) / 60)


# --- how the room logs it --------------------------------------------------------------------------


@dataclass
class _Written:
    rows: list[Row]
    on_purpose: list[str] = field(default_factory=list)

    def fields(self, row: Row, zero: Any) -> dict[str, Any]:
        """The fields of an entry, with PET converted to instants."""
        more = dict(row.more)
        if "to_pet_min" in more:
            more["changes"] = {"at": instant_text(_second(zero, more.pop("to_pet_min")))}
        return more


def _as_written(rows: list[Row], plan: Plan, conditions: Conditions, rng: Rng) -> _Written:
    """Give each entry its id and its time of entry, and add troubles of the log: late, amended, withdrawn, forgotten."""
    last = -1.0
    for number, row in enumerate(rows, start=1):  # entries of one moment are received in their order
        row.id = f"e{number:04d}"
        last = row.received = max(row.at + float(rng.uniform(0.1, 0.8)), last + 0.02)
    starts = [row for row in rows if row.kind == "start"]
    written = _Written(rows)
    for row in _picked(
        rng, [r for r in rows if r.kind in ("start", "done")], conditions.troubles.get("late", 0.0)
    ):
        row.received = row.at + float(rng.uniform(4, 15))
    for row in _picked(rng, starts, conditions.troubles.get("amended", 0.0)):
        right, row.at = row.at, row.at + float(rng.uniform(1, 3))
        row.received = max(row.received, row.at + 0.2)
        said = row.received + float(rng.uniform(1, 6))
        rows.append(Row(said, "amend", {"event": row.id, "to_pet_min": right}, f"{row.id}a", said + 0.2))
    for row in _picked(rng, [r for r in starts if r.at > 5], conditions.troubles.get("withdrawn", 0.0)):
        later = [s.more["task"] for s in starts if s.at > row.at + 10]
        if later:
            wrong = Row(
                row.at,
                "start",
                {"task": later[-1], "note": "entered by mistake"},
                f"{row.id}w",
                row.received + 0.1,
            )
            rows += [
                wrong,
                Row(row.at + 1, "withdraw", {"event": wrong.id}, f"{row.id}x", row.received + 1.1),
            ]
    answered = {row.more.get("event") for row in rows}
    late = {r.more["task"] for r in rows if r.kind == "done" and r.received > r.at + 2}
    forgettable = [
        r
        for r in starts
        if r.id not in answered and r.more["task"] not in late and not _held(rows, r.more["task"])
    ]
    for row in _picked(rng, forgettable, conditions.troubles.get("forgotten", 0.0)):
        rows.remove(row)
        written.on_purpose += [r.id for r in rows if r.kind == "done" and r.more["task"] == row.more["task"]]
    return written


def _held(rows: list[Row], task: str) -> bool:
    """Whether the task may have been put on hold: by name, or by an inserted contingency."""
    return any(r.kind == "insert" or r.kind == "hold" and r.more["task"] == task for r in rows)


def _picked(rng: Rng, rows: list[Row], mean: float) -> list[Row]:
    count = min(len(rows), int(rng.poisson(mean)))
    return [rows[i] for i in sorted(rng.choice(len(rows), size=count, replace=False))] if count else []
