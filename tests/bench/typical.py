"""Plans of six to seven hours as they are typically briefed, made from a seed."""

from __future__ import annotations

import numpy as np

from dashboard.core.plan.model import Plan
from tests.scenario import plan_of, task

STYLES = ("ranges", "single values", "legs and boxed stops", "mostly joint")


def typical_plan(style: str, seed: int, minutes: float = 390.0) -> Plan:
    """Two crew members with tasks of 8 to 30 min, joint ones at the beginning, the end and in between.

    ``ranges``: [0.65 to 0.9, 1, 1.3 to 1.9] times the likely length, half of the tasks timed to the minute. ``legs and boxed
    stops``: four stops, each with a leg to it, and a way home. ``mostly joint``: three of four tasks by both.
    """
    rng = np.random.default_rng([seed, STYLES.index(style)])
    free, tables = {"EV1": 0.0, "EV2": 0.0}, []

    def add(lanes: list[str], length: float, **more: object) -> None:
        start = max(free[lane] for lane in lanes)
        low, high = length * rng.uniform(0.65, 0.9), length * rng.uniform(1.3, 1.9)
        duration: object = round(length, 1) if style == "single values" else [round(low, 1), round(length, 1), round(high, 1)]
        tables.append(task(f"T{len(tables):02d}", " ".join(lanes), round(start, 2), duration, **more))
        free.update(dict.fromkeys(lanes, start + length))

    def work(until: float, joint: float) -> None:
        while max(free.values()) < until:
            both = rng.random() < joint
            lane = min(free, key=lambda name: free[name])
            add(["EV1", "EV2"] if both else [lane], min(float(rng.integers(8, 31)), max(4.0, until - min(free.values()))))

    sites = ""
    add(["EV1", "EV2"], 25.0, required=True)
    if style == "legs and boxed stops":
        sites = "".join(f'[[worksite]]\nid = "W{i}"\nreturn = {8 * i}\n' for i in range(5))
        stop = (minutes - 25.0 - 40.0) / 4
        for i in range(1, 5):
            add(["EV1", "EV2"], 12.0, leg=f"W{i}")
            if i % 2:
                add(["EV1", "EV2"], stop - 12.0, worksite=f"W{i}", boxed=True)
            else:
                work(25.0 + i * stop, 0.25)
                level = max(free.values())
                free.update(dict.fromkeys(free, level))
    else:
        work(minutes - 40.0, 0.75 if style == "mostly joint" else 0.2)
    add(["EV1", "EV2"], 40.0, required=True)
    return plan_of(sites + "".join(tables).replace('limit = "7:00"', 'limit = "9:00"'))
