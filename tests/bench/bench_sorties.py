"""The expected end of real sorties against two naive forecasts: `python -m tests.bench sorties`.

Every ten minutes of PET, with the log as it then was. Naive: the end at plan pace, and the briefed end plus the present delay
of the lane that is further behind; the better of the two over the sortie counts. Sources stand in `tests/published/README.md`.
Before that, when the room would have been told and asked, beside what it did (`real_calls.py`).

Constants set on a sortie that is also scored would flatter it. So the second table scores each sortie with the constants that
did best on the other two, out of those that keep the width at the start (`bench_spread`).

The forecast means: if nothing more is given up. The rooms gave more up, so the end as it was is no truth for it before their
cuts. The last two tables hold it against the end with the minutes added that the room gave up afterwards, at the lengths of the
plan; the naive ways are held against the same. What the cut work would really have taken is not known.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from datetime import timedelta
from itertools import product
from pathlib import Path
from typing import NamedTuple

import numpy as np

from dashboard.core.base.times import parse_instant
from dashboard.core.record.fold import reconcile
from dashboard.core.schedule import durations
from dashboard.core.schedule.ahead import lane_standing
from dashboard.core.schedule.expected import expect
from dashboard.core.schedule.pace import KINDS, WIDE, Kind, learn_pace
from dashboard.core.schedule.plan_pace import project
from dashboard.core.state.end_state import briefed_end_pet_min
from replay.moments import truth_of
from replay.recording import RecordedRun, load_run
from tests.bench.real_calls import cuts, show
from tests.bench.typical import typical_plan
from tests.scenario import at

HERE = Path(__file__).parents[1] / "published"
SORTIES = ("apollo16_eva1", "apollo16_eva2", "apollo17_eva1")
STEP_MIN = 10.0


class Moment(NamedTuple):
    """Forecasts of the end at one instant, less what it became. Minutes."""

    pet_min: float
    p10: float
    p50: float
    p90: float
    plan_pace: float
    briefed_plus_delay: float

    @property
    def held(self) -> bool:
        """Whether the end lay between P10 and P90."""
        return self.p10 <= 0 <= self.p90


class Priors(NamedTuple):
    """The constants of the forecast that are chosen with these sorties in view."""

    hands: float
    shift_weight: float
    scatter: float

    @property
    def kinds(self) -> tuple[Kind, ...]:
        """The kinds of sortie with these constants."""
        shifting = sum(kind.weight for kind in KINDS if kind.shift)
        other = (1 - self.shift_weight) / (1 - shifting)
        return tuple(
            kind._replace(
                hands=kind.hands if kind.hands == WIDE else self.hands,
                weight=kind.weight * (self.shift_weight / shifting if kind.shift else other),
            )
            for kind in KINDS
        )


GRID = tuple(Priors(*one) for one in product((0.03, 0.05, 0.07), (0.05, 0.15), (0.18, 0.22, 0.26)))
WIDTH_BAR_MIN = (85.0, 125.0)


@contextmanager
def scatter_of(spread: float) -> Iterator[None]:
    """Single values scatter by this, and nothing that was drawn before is remembered."""
    remembered = (durations.log_moments, durations.mean_min, durations.fresh_draws, durations.mixed_draws, durations._stretch)
    before = durations.SCATTER_UNBRIEFED
    try:
        durations.SCATTER_UNBRIEFED = spread
        for function in remembered:
            function.cache_clear()
        yield
    finally:
        durations.SCATTER_UNBRIEFED = before
        for function in remembered:
            function.cache_clear()


def moments(run: RecordedRun, kinds: tuple[Kind, ...] = KINDS) -> Iterator[Moment]:
    """Every ten minutes from PET zero on, while crew work remains."""
    truth = truth_of(run)
    pet = 0.0
    while pet < truth.end_pet_min:
        now = truth.pet_zero + timedelta(minutes=pet)
        record = reconcile(run.plan, run.known_at(now), now)
        projection = project(record)
        expected = expect(record, projection, pace=learn_pace(record, kinds))
        if expected is not None and record.end_pet_min is None:
            standings = [
                lane_standing(record, lane, [r for r in record.runs.values() if lane in r.lanes])
                for lane in run.plan.crew_lane_ids()
            ]
            behind = [-one.ahead_min for one in standings if one.ahead_min is not None]
            naive = (projection.end_pet_min, (briefed_end_pet_min(run.plan) or 0.0) + max(behind, default=0.0))
            forecasts = [*np.percentile(expected.end, (10, 50, 90)), *naive]
            yield Moment(pet, *(value - truth.end_pet_min for value in forecasts))
        pet += STEP_MIN


class Score(NamedTuple):
    """One sortie: mean absolute errors, the share held and the mean width, minutes."""

    moments: int
    p50: float
    plan_pace: float
    briefed_plus_delay: float
    held: float
    width: float

    @property
    def naive(self) -> float:
        """Error of the better naive way over the sortie."""
        return min(self.plan_pace, self.briefed_plus_delay)


def as_meant(run: RecordedRun, one: Moment) -> Moment:
    """The same forecasts, less the end without what the room gave up after that instant."""
    later = sum(cut.minutes for cut in cuts(run) if cut.pet_min > one.pet_min)
    return Moment(one.pet_min, *(value - later for value in one[1:]))


def score(name: str, priors: Priors | None = None, *, meant: bool = False) -> Score:
    """Score one sortie, with the constants as they are or with others; `meant`: against what the forecast means."""
    run = load_run(HERE / name)
    with scatter_of(durations.SCATTER_UNBRIEFED if priors is None else priors.scatter):
        found = list(moments(run, KINDS if priors is None else priors.kinds))
    if meant:
        found = [as_meant(run, one) for one in found]
    errors = [float(np.mean([abs(getattr(m, key)) for m in found])) for key in ("p50", "plan_pace", "briefed_plus_delay")]
    return Score(
        len(found), *errors, float(np.mean([m.held for m in found])), float(np.mean([m.p90 - m.p10 for m in found]))
    )


def width_at_start(priors: Priors) -> float:
    """Mean width of the end of typical plans with these constants, minutes."""
    widths = []
    with scatter_of(priors.scatter):
        for style in ("ranges", "single values", "mostly joint"):
            record = reconcile(typical_plan(style, 0), [], parse_instant(at(0)))
            expected = expect(record, project(record), pace=learn_pace(record, priors.kinds))
            assert expected is not None
            widths.append(float(np.subtract(*np.percentile(expected.end, (90, 10)))))
    return float(np.mean(widths))


def main() -> None:
    """Print when each room was told and asked, then the scores: constants as they are, and each sortie left out; each twice."""
    show({name: HERE / name for name in SORTIES})
    as_they_are = {name: score(name) for name in SORTIES}
    print_scores("with the constants as they are", as_they_are)
    allowed = [priors for priors in GRID if WIDTH_BAR_MIN[0] <= width_at_start(priors) <= WIDTH_BAR_MIN[1]]
    scores = {priors: {name: score(name, priors) for name in SORTIES} for priors in allowed}
    left_out, chosen = {}, {}
    for name in SORTIES:
        best = min(allowed, key=lambda priors: sum(s.p50 for other, s in scores[priors].items() if other != name))
        left_out[name], chosen[name] = scores[best][name], best
        print(f"{name}: by the other two, of {len(allowed)} choices that keep the width at the start: {best}")
    print_scores("with constants chosen by the other two", left_out)
    print_scores("as they are, if nothing more had been given up", {name: score(name, meant=True) for name in SORTIES})
    as_chosen = {name: score(name, chosen[name], meant=True) for name in SORTIES}
    print_scores("chosen by the other two, if nothing more had been given up", as_chosen)
    print("Bars: better by 15 % over all; P10 to P90 holds 80 % +/- 8.")


def print_scores(title: str, scores: Mapping[str, Score]) -> None:
    """One table."""
    print(f"{title}, minutes")
    print(f"{'sortie':<16}{'moments':>8}{'|P50|':>8}{'plan pace':>11}{'brief+delay':>13}{'better by':>11}{'held':>7}{'width':>7}")
    for name, one in scores.items():
        print(f"{name:<16}{one.moments:>8}{one.p50:>8.1f}{one.plan_pace:>11.1f}{one.briefed_plus_delay:>13.1f}"
              f"{1 - one.p50 / one.naive:>11.0%}{one.held:>7.0%}{one.width:>7.0f}")
    moments_of = [one.moments for one in scores.values()]
    p50, naive, held = (
        float(np.average([getattr(one, key) for one in scores.values()], weights=moments_of)) for key in ("p50", "naive", "held")
    )
    print(f"{'all':<16}{sum(moments_of):>8}{p50:>8.1f}{naive:>24.1f}{1 - p50 / naive:>11.0%}{held:>7.0%}\n")


if __name__ == "__main__":
    main()
