"""A plan that has one of everything, for tests that tell short logs of it."""

from __future__ import annotations

from tests.scenario import follow_at, plan_of, task

PLAN = plan_of(
    task("A", "EV1", 0, 30, shortest=10, closeout=6)
    + task("B", "EV1", 30, 30, after=["A"])
    + task("C", "EV1", 60, 20, after=["B"])
    + task("J", "EV1 EV2", 80, 20, required=True)
    + task("D", "EV2", 0, 40, closeout=4)
    + task("E", "EV2", 40, 40, can_move_to=["EV1"])
    + task("R", "ARM", 0, 60)
    + task("G", "EV2", None, 15, get_ahead=True)
    + task("P", "EV1", 100, 10)
    + task("Q", "EV1", 100, 25)
    + """
[[contingency]]
id = "leak"
trigger = "Leak seen"
hold = ["A"]
[[contingency.task]]
id = "C1"
lanes = ["EV1"]
duration = 8
[[contingency.task]]
id = "C2"
lanes = ["EV1", "EV2"]
duration = 5
after = ["C1"]
[[alternative]]
id = "ending"
default = "short"
[alternative.options]
short = ["P"]
long = ["Q"]
[[suit]]
id = "A"
[suit.water]
loaded = 3.5
reserve = 0.4
[[check]]
id = "suit-read"
every = 30
lanes = ["EV1"]
"""
)


def complaints(log, pet):
    """What does not fit in a log at a PET: expected and found."""
    return [(d.expected, d.found) for d in follow_at(PLAN, log, pet).discrepancies]
