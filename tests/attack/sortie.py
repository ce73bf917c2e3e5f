"""The sortie that the attack is made on: small, with every table of the plan, and a log with events of every sort."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

from dashboard.core.base.times import instant_text
from tests.scenario import PET_ZERO, SORTIE, TWO_IN_SUITS, suit, task

ARM = '[[lane]]\nid = "ARM"\nkind = "arm"\n'
PLACES = """
[[worksite]]
id = "boom"
return = 14
return_workload = "heavy"
leave_by = "4:40"
[[worksite]]
id = "mast"
return = 9
[[route]]
from = "boom"
to = "mast"
duration = [4, 6, 9]
[[window]]
kind = "daylight"
from = "0:32"
to = "1:50"
[[window]]
kind = "daylight"
from = "2:10"
to = "3:40"
"""
TASKS = (
    task("T010", "EV1", 0, 20, title="Unstow pump", activity="unstow", notes="two hands")
    + task("T020", "EV1", 20, [20, 30, 50], shortest=15, closeout=5, after=["T010"], can_move_to=["EV2"], worksite="boom")
    + task("T025", "EV1", 55, 6, leg="mast")
    + task("T030", "EV2", 0, [50, 60, 90], required=True, worksite="mast", workload=320)
    + task("T040", "EV1 EV2", 62, 60, after=["T020", "T030"], together="tray", obliges=["T050"], worksite="mast")
    + task("T050", "EV1 EV2", 125, 25, priority=1, closeout=6, follows=[{"task": "T040", "lag": 2}])
    + task("T060", "EV2 ARM", 152, 40, together="tray", needs=["daylight"], value=2.0)
    + task("T070", "EV1", 150, 20, boxed=True, serves=["T060"], not_before="2:20")
    + task("T090", "EV2", None, 15, get_ahead=True, priority=3)
    + task("T100", "EV1", 195, 10) + task("T110", "EV1", 195, 14)
)
REST = """
[[contingency]]
id = "leak"
trigger = "Leak seen at a fitting"
hold = ["T040"]
[[contingency.task]]
id = "C010"
lanes = ["EV1"]
duration = [5, 10, 20]
[[contingency.task]]
id = "C020"
lanes = ["EV2"]
duration = 8
after = ["C010"]
[[alternative]]
id = "old"
default = "lash"
[alternative.options]
lash = ["T100"]
bring = ["T110"]
[[check]]
id = "read"
title = "Suit readings"
every = 30
lanes = ["EV1", "EV2"]
"""
AMOUNTS = {
    "oxygen": {"loaded": 0.66, "reserve": 0.05}, "co2": {"loaded": 0.73, "reserve": 0.04},
    "battery": {"loaded": 480, "reserve": 30, "base": 55}, "water": {"loaded": 4.5, "reserve": 0.25, "base": 0.14},
}  # fmt: skip
PLAN = (
    f'[sortie]\n{SORTIE}title = "Attack"\nconfidence = 0.9\n{TWO_IN_SUITS}{ARM}{suit("A", **AMOUNTS)}{suit("B", **AMOUNTS)}'
    f"{PLACES}{TASKS}{REST}"
)
NOW_PET_MIN = 75.0  # when the attack happens


def at(pet_min: float, zero: datetime = PET_ZERO) -> str:
    """The instant of a PET."""
    return instant_text(zero + timedelta(minutes=pet_min))


def plan_text(zero: datetime) -> str:
    """The plan, with PET zero at another instant."""
    return PLAN.replace(instant_text(PET_ZERO), instant_text(zero))


def log(zero: datetime = PET_ZERO) -> list[dict[str, Any]]:
    """The log up to the attack."""
    return [{**event, "at": at(pet_min, zero)} for pet_min, event in _LOG]


def _event(number: int, pet_min: float, kind: str, **fields: Any) -> tuple[float, dict[str, Any]]:
    return pet_min, {"id": f"b{number}", "kind": kind, **fields}


_LOG = [
    _event(1, 0, "clock"),
    _event(2, 1, "start", task="T010"),
    _event(3, 2, "start", task="T030", lanes=["EV2"], by="EV2"),
    _event(4, 24, "done", task="T010"),
    _event(5, 25, "start", task="T020"),
    _event(6, 30, "reading", suit="A", oxygen=0.6, battery=440),
    _event(7, 40, "hold", task="T020", reason="cable in the way"),
    _event(8, 47, "resume", task="T020"),
    _event(9, 50, "estimate", task="T030", remaining=30),
    _event(10, 55, "decision", text="Lose the get-ahead", defer=["T090"]),
    _event(11, 60, "note", text="Sun on the tray"),
    _event(12, 62, "check", check="read", lane="EV1"),
]
