"""Published activity networks in our own compact form, each turned into a plan whose lanes never bind.

A line is ``name duration : predecessors : early start, early finish, late start, late finish, total float``; of what a
source does not give there is no column.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from dashboard.core.plan.model import Plan

TAYLOR_5 = """
1-2   7 :         :  0  7  2  9 2
1-3  10 :         :  0 10  0 10 0
2-4   6 : 1-2     :  7 13  9 15 2
3-4   5 : 1-3     : 10 15 10 15 0
3-5   4 : 1-3     : 10 14 14 18 4
4-5   3 : 2-4 3-4 : 15 18 15 18 0
5-6   2 : 3-5 4-5 : 18 20 18 20 0
"""

SLIDES_8 = """
A 4 :     :  0  4  0  4 0
B 3 : A   :  4  7  7 10 3
C 5 : A   :  4  9  4  9 0
D 2 : A   :  4  6  7  9 3
E 5 : B C :  9 14 10 15 1
F 6 : C D :  9 15  9 15 0
G 4 : E F : 15 19 15 19 0
H 3 : G   : 19 22 19 22 0
"""

# Optimistic, likely and pessimistic days stand as a/m/b; the duration is (a + 4m + b) / 6.
PERT_14 = """
A 5/5/7   :     :  0     5.33   0     5.33 0
B 1/2/5   :     :  0     2.33   8    10.33 8
C 5/5/5   : A   :  5.33 10.33   5.33 10.33 0
D 4/8/13  : A   :  5.33 13.5    7.17 15.33 1.83
E 1/10/17 : B C : 10.33 20     10.33 20    0
F 1/5/7   : D   : 13.5  18.17  15.33 20    1.83
G 2/6/9   : D   : 13.5  19.33  18.5  24.33 5
H 4/4/6   : E F : 20    24.33  20    24.33 0
I 2/7/10  : G H : 24.33 31     24.33 31    0
J 2/4/7   : I   : 31    35.17  33.5  37.67 2.5
K 6/10/13 : I   : 31    40.83  31    40.83 0
L 2/6/6   : J   : 35.17 40.5   37.67 43    2.5
M 2/2/3   : K   : 40.83 43     40.83 43    0
N 7/7/12  : L M : 43    50.83  43    50.83 0
"""

# Durations read (H from memory), predecessors and floats from memory; the last column is the float alone.
HILLIER = """
A  2 :     : 0
B  4 : A   : 0
C 10 : B   : 0
D  6 : C   : 4
E  4 : C   : 0
F  5 : E   : 0
G  7 : D   : 4
H  9 : E G : 4
I  7 : C   : 2
J  8 : F I : 0
K  4 : J   : 1
L  5 : J   : 0
M  2 : H   : 4
N  6 : K L : 0
"""


@dataclass(frozen=True)
class Activity:
    """One activity: duration, predecessors, and the published columns."""

    duration: float
    after: list[str]
    published: list[float] = field(default_factory=list)


def read(table: str) -> dict[str, Activity]:
    """The activities of a table."""
    network = {}
    for line in table.strip().splitlines():
        head, before, columns = line.split(":")
        name, length = head.split()
        network[name] = Activity(_duration(length), before.split(), [float(value) for value in columns.split()])
    return network


def _duration(text: str) -> float:
    if "/" not in text:
        return float(text)
    low, likely, high = (float(part) for part in text.split("/"))
    return (low + 4 * likely + high) / 6


def as_plan(network: dict[str, Activity], limit: float) -> Plan:
    """A plan with a crew lane for each activity. All briefed starts are zero: no published answer goes in."""
    return Plan.model_validate({
        "sortie": {"id": "network", "start": "2031-04-12T09:10:00Z", "limit": limit},
        "lane": [{"id": f"lane-{name}", "kind": "crew"} for name in network],
        "task": [
            {"id": name, "lanes": [f"lane-{name}"], "start": 0, "duration": activity.duration, "after": activity.after}
            for name, activity in network.items()
        ],
    })
