"""Job shops as plans: a machine is a crew lane, a job is a chain of `after`, the end of the sortie is the makespan.

Instances: ft06, H. Fisher and G. L. Thompson in Muth and Thompson, Industrial Scheduling (1963); la01 to la03, S. Lawrence
(1984), table 3. Optima READ in three places. A row is a job: machine and minutes, alternately, in order.
"""

from __future__ import annotations

from dashboard.core.plan.model import Plan

OPTIMA = {"ft06": 55, "la01": 666, "la02": 655, "la03": 597}

ROWS = {
    "ft06": """
2 1 0 3 1 6 3 7 5 3 4 6
1 8 2 5 4 10 5 10 0 10 3 4
2 5 3 4 5 8 0 9 1 1 4 7
1 5 0 5 2 5 3 3 4 8 5 9
2 9 1 3 4 5 5 4 0 3 3 1
1 3 3 3 5 9 0 10 4 4 2 1
""",
    "la01": """
1 21 0 53 4 95 3 55 2 34
0 21 3 52 4 16 2 26 1 71
3 39 4 98 1 42 2 31 0 12
1 77 0 55 4 79 2 66 3 77
0 83 3 34 2 64 1 19 4 37
1 54 2 43 4 79 0 92 3 62
3 69 4 77 1 87 2 87 0 93
2 38 0 60 1 41 3 24 4 83
3 17 1 49 4 25 0 44 2 98
4 77 3 79 2 43 1 75 0 96
""",
    "la02": """
0 20 3 87 1 31 4 76 2 17
4 25 2 32 0 24 1 18 3 81
1 72 2 23 4 28 0 58 3 99
2 86 1 76 4 97 0 45 3 90
4 27 0 42 3 48 2 17 1 46
1 67 0 98 4 48 3 27 2 62
4 28 1 12 3 19 0 80 2 50
1 63 0 94 2 98 3 50 4 80
4 14 0 75 2 50 1 41 3 55
4 72 2 18 1 37 3 79 0 61
""",
    "la03": """
1 23 2 45 0 82 4 84 3 38
2 21 1 29 0 18 4 41 3 50
2 38 3 54 4 16 0 52 1 52
4 37 0 54 2 74 1 62 3 57
4 57 0 81 1 61 3 68 2 30
4 81 0 79 1 89 2 89 3 11
3 33 2 20 0 91 4 20 1 66
4 24 1 84 0 32 2 55 3 8
4 56 0 7 3 54 2 64 1 39
4 40 1 83 0 19 2 8 3 7
""",
}


def plan_of_shop(name: str) -> Plan:
    """The job shop as a plan with the order of its lanes by job, to be re-sequenced."""
    tasks: list[dict[str, object]] = []
    machines = set()
    for job, row in enumerate(ROWS[name].strip().splitlines()):
        numbers = [int(word) for word in row.split()]
        before: list[str] = []
        for step, (machine, minutes) in enumerate(zip(numbers[::2], numbers[1::2], strict=True)):
            machines.add(machine)
            task_id = f"J{job}.{step}"
            tasks.append({"id": task_id, "lanes": [f"M{machine}"], "start": step, "duration": minutes, "after": before})
            before = [task_id]
    return Plan.model_validate(
        {"sortie": {"id": name, "start": "2031-01-01T00:00:00Z", "limit": 1440},
         "lane": [{"id": f"M{m}", "kind": "crew"} for m in sorted(machines)], "task": tasks}
    )
