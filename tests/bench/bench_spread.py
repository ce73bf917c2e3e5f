"""The spread before anything is finished, against the lengths of real sorties: `python -m tests.bench spread`.

For typical plans of 6.5 h: the width from P10 to P90 of the end, and where P50 lies beside the brief. Then how many of 41 real
sorties, whose plan was published before, ended between P10 and P90 of plans of their length. Then the constants of the
forecast, with what sets each.
"""

from __future__ import annotations

from functools import cache
from typing import NamedTuple

import numpy as np

from dashboard.core.base.times import parse_instant
from dashboard.core.plan.model import Plan
from dashboard.core.record.fold import reconcile
from dashboard.core.schedule.constants import CONSTANTS
from dashboard.core.schedule.expected import expect
from dashboard.core.schedule.plan_pace import project
from dashboard.core.state.end_state import briefed_end_pet_min
from tests.bench.typical import STYLES, typical_plan
from tests.published.sortie_lengths import SORTIES
from tests.scenario import at

PLANS_PER_STYLE = 8


class Start(NamedTuple):
    """The end as foretold at PET zero, and as briefed. PET minutes."""

    briefed: float
    p10: float
    p50: float
    p90: float

    @property
    def width(self) -> float:
        """Minutes from P10 to P90."""
        return self.p90 - self.p10


def start_of(plan: Plan) -> Start:
    """What is foretold of a plan before anything is finished."""
    record = reconcile(plan, [], parse_instant(at(0)))
    expected = expect(record, project(record))
    assert expected is not None
    p10, p50, p90 = np.percentile(expected.end, (10, 50, 90))
    return Start(briefed_end_pet_min(plan) or 0.0, p10, p50, p90)


@cache
def starts(style: str, minutes: float = 390.0) -> tuple[Start, ...]:
    """Of typical plans of one style."""
    return tuple(start_of(typical_plan(style, seed, minutes)) for seed in range(PLANS_PER_STYLE))


def ratio_interval(minutes: float) -> tuple[float, float]:
    """P10 and P90 of the end over its brief, on average over typical plans of about such a length."""
    found = [start for style in STYLES for start in starts(style, 30.0 * round(minutes / 30.0))]
    return float(np.mean([s.p10 / s.briefed for s in found])), float(np.mean([s.p90 / s.briefed for s in found]))


def coverage() -> tuple[float, float, float]:
    """Share of the 41 sorties that ended before P10, between P10 and P90, and after P90."""
    places = []
    for sortie in SORTIES:
        p10, p90 = ratio_interval(sortie.planned_min)
        ratio = sortie.actual_min / sortie.planned_min
        places.append(0 if ratio < p10 else 1 if ratio <= p90 else 2)
    before, held, after = (places.count(place) / len(places) for place in range(3))
    return before, held, after


def main() -> None:
    """Print the tables."""
    print(f"{'typical plans of 6.5 h':<26}{'P10-P90, min':>16}{'P50 less brief, min':>24}")
    for style in STYLES:
        found = starts(style)
        widths, centres = [s.width for s in found], [s.p50 - s.briefed for s in found]
        print(f"{style:<26}{min(widths):>8.0f} to{max(widths):>5.0f}{min(centres):>16.0f} to{max(centres):>5.0f}")
    before, held, after = coverage()
    print("Bars: 85 to 125 min; within 15 min.")
    print(f"\n{len(SORTIES)} real sorties: {held:.0%} between P10 and P90, {before:.0%} before, {after:.0%} after.")
    print("Bar: 80 % +/- 8.\n")
    print(f"{'constant':<26}{'value':>8} {'unit':<5}{'basis':<9}what it rests on or is worth")
    for name, one in CONSTANTS.items():
        print(f"{name:<26}{one.value:>8g} {one.unit:<5}{one.basis:<9}{one.worth}")


if __name__ == "__main__":
    main()
