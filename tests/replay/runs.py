"""Short recorded runs for the tests of scores and learning."""

from __future__ import annotations

from pathlib import Path

from dashboard.core.plan.model import Plan
from replay.conditions import Conditions
from replay.recording import RecordedRun, recorded
from replay.simulate import simulate
from tests.scenario import log_of, plan_of, task

LANTERN = Path(__file__).parents[2] / "replay" / "scenarios" / "lantern-2"

PLAN = plan_of(
    task("T010", "EV1", 0, [20, 30, 50], title="Unstow pump", activity="unstow")
    + task("T020", "EV1", 30, [20, 30, 50], title="Carry pump", activity="carry")
    + task("T030", "EV2", 0, [40, 60, 90], title="Prepare tray", activity="tray")
    + task("T040", "EV1 EV2", 60, [60, 90, 140], title="Swap tray", after=["T020", "T030"], activity="tray")
)


def run_of(log: str, plan: Plan = PLAN, **header: str) -> RecordedRun:
    """A recorded run from short lines."""
    return recorded(plan, log_of(log), header=header)


def simulated_runs(plan: Plan, count: int, seed: int = 1, **conditions: object) -> list[tuple[str, RecordedRun]]:
    """Simulated runs of a plan, in memory."""
    made = [simulate(plan, Conditions(**conditions), seed, number) for number in range(count)]  # type: ignore[arg-type]
    return [
        (f"r{number}", recorded(plan, run.events, header={"setting": "simulated", "date": run.date}))
        for number, run in enumerate(made)
    ]
