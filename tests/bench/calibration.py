"""How well the percentiles hold: simulated sorties with a known truth.

    python -m tests.bench.calibration [sorties] [first seed] [mechanism, by its place in the table, ...]

Each sortie is drawn from scratch with its own generator (none of the projection's random numbers), logged as it would
be, and followed at 25, 50 and 75 % of its true length. First the tamest kind of sortie that the projection thinks possible
(once more at shares of the briefed length, so that the moment of asking tells nothing of the answer), then mechanisms that
it does not assume, then its own: all kinds, by their weights; in the end a plan that briefs single values.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from typing import NamedTuple

import numpy as np
import scoringrules

from dashboard.core.base.times import parse_instant
from dashboard.core.plan.model import Duration, Plan
from dashboard.core.record.fold import reconcile
from dashboard.core.schedule.ahead import lane_standing
from dashboard.core.schedule.durations import STUCK, extra_spread, log_moments, unbriefed_spread
from dashboard.core.schedule.expected import expect
from dashboard.core.schedule.pace import KINDS, SHIFT_FADES_MIN, centre_log, waiting_log
from dashboard.core.schedule.plan_pace import project
from dashboard.core.state.end_state import briefed_end_pet_min
from tests.scenario import at, log_of, plan_of, task

SHARES = (0.25, 0.50, 0.75)
DRAWS = 2000
Rng = np.random.Generator


def sortie_plan(seed: int = 5, *, ranges: bool = True) -> Plan:
    """Some forty tasks in two lanes, every fifth one joint, with a few links across the lanes; or single values only."""
    rng = np.random.default_rng(seed)
    free, tables = {"EV1": 0.0, "EV2": 0.0}, []
    for i in range(40):
        lanes = ["EV1", "EV2"] if i % 5 == 4 else [min(free, key=lambda lane: free[lane])]
        likely = float(rng.integers(8, 24))
        low, high = round(likely * rng.uniform(0.6, 0.9), 1), round(likely * rng.uniform(1.3, 2.2), 1)
        start = max(free[lane] for lane in lanes)
        links = {"after": [f"T{i - 2:02d}"]} if i % 7 == 6 else {}
        tables.append(task(f"T{i:02d}", " ".join(lanes), round(start, 2), [low, likely, high] if ranges else likely, **links))
        for lane in lanes:
            free[lane] = start + likely
    return plan_of("".join(tables).replace('limit = "7:00"', 'limit = "12:00"'))


class Truth(NamedTuple):
    """A sortie as it really ran, PET minutes."""

    start: dict[str, float]
    finish: dict[str, float]

    @property
    def end(self) -> float:
        return max(self.finish.values())


def run_of(plan: Plan, minutes: dict[str, float]) -> Truth:
    """Serial along the lanes, as the crew works through the plan."""
    free: dict[str, float] = {}
    start: dict[str, float] = {}
    finish: dict[str, float] = {}
    for one in plan.tasks:
        begin = max([free.get(lane, 0.0) for lane in one.lanes] + [finish[needed] for needed in one.after])
        start[one.id], finish[one.id] = begin, begin + minutes[one.id]
        free.update(dict.fromkeys(one.lanes, finish[one.id]))
    return Truth(start, finish)


def pert(rng: Rng, duration: Duration) -> float:
    low, likely, high = duration.low, duration.likely, duration.high
    alpha = 1 + 4 * (likely - low) / (high - low)
    return float(low + (high - low) * rng.beta(alpha, 6 - alpha))


def log_normal(rng: Rng, duration: Duration) -> float:
    return float(duration.likely * np.exp(rng.normal(0, unbriefed_spread(duration.likely))))


def own_mechanism(plan: Plan, rng: Rng) -> dict[str, float]:
    """A kind of sortie by its weight; pace of the pair and of each lane, a shift that fades, tasks by their beta-PERT.

    A single value scatters as learning takes it to: normally about the logarithm of the value.
    """
    kind = KINDS[rng.choice(len(KINDS), p=[k.weight for k in KINDS])]
    pair = rng.normal(0, kind.common) + rng.normal(0, kind.hands)
    shift, at = rng.normal(0, kind.shift), 0.0
    lane = {name: rng.normal(0, kind.lane) for name in ("EV1", "EV2")}
    minutes = {}
    for t in plan.tasks:
        middle = (t.start or 0.0) + t.likely_min / 2
        kept = np.exp(-max(0.0, middle - at) / SHIFT_FADES_MIN)
        fresh = 0.0 if kind.settles else rng.normal(0, kind.shift * np.sqrt(1 - kept**2))
        shift, at = kept * shift + fresh, max(at, middle)
        drawn = pert(rng, t.duration) if t.duration.high > t.duration.low else log_normal(rng, t.duration)
        log_mean, log_variance = log_moments(t.duration)
        own = log_mean + np.sqrt(1 + extra_spread(t.duration, kind.extra) ** 2 / log_variance) * (np.log(drawn) - log_mean)
        own += centre_log(plan) - waiting_log(t.lanes, plan.crew_lane_ids())
        stuck = float(rng.choice(STUCK)) if rng.random() < kind.stick and not t.duration.exact else 1.0
        minutes[t.id] = stuck * float(np.exp(own + pair + shift + np.mean([lane[n] for n in t.lanes])))
    return minutes


def narrow_steady_day(plan: Plan, rng: Rng) -> dict[str, float]:
    """Pace of the pair log-sd 0.10 and of each lane 0.06, each task by its beta-PERT: the tamest kind of sortie."""
    pair = rng.normal(0, 0.10)
    lane = {name: rng.normal(0, 0.06) for name in ("EV1", "EV2")}
    return {
        t.id: pert(rng, t.duration) * float(np.exp(pair + np.mean([lane[n] for n in t.lanes]))) for t in plan.tasks
    }


def one_slow_day(plan: Plan, rng: Rng) -> dict[str, float]:
    """Lanes wholly correlated, and twice as uncertain as assumed: log-sd 0.23."""
    factor = float(np.exp(rng.normal(0, 0.23)))
    return {t.id: pert(rng, t.duration) * factor for t in plan.tasks}


def a_slow_and_uncertain_pair(plan: Plan, rng: Rng) -> dict[str, float]:
    """As ten planned/actual pairs of a historic sortie: every task log-normal about 1.36 x likely, log-sd 0.23."""
    return {t.id: t.likely_min * float(np.exp(rng.normal(np.log(1.36), 0.23))) for t in plan.tasks}


def heavy_tails(plan: Plan, rng: Rng) -> dict[str, float]:
    """One task in twelve takes 1.5 to 4 times what it was drawn to take."""
    minutes = narrow_steady_day(plan, rng)
    return {k: v * float(rng.uniform(1.5, 4.0)) if rng.random() < 1 / 12 else v for k, v in minutes.items()}


def slow_start(plan: Plan, rng: Rng) -> dict[str, float]:
    """The first quarter of the tasks takes 1.5 times as long, the rest is as briefed."""
    minutes = narrow_steady_day(plan, rng)
    return {k: v * (1.5 if i < len(minutes) // 4 else 1.0) for i, (k, v) in enumerate(minutes.items())}


def log_until(truth: Truth, pet: float) -> list[object]:
    """The log as it stood at a PET."""
    lines = [(0.0, "clock", "")]
    lines += [(t, "start", k) for k, t in truth.start.items() if t <= pet]
    lines += [(t, "done", k) for k, t in truth.finish.items() if t <= pet]
    lines.sort(key=lambda line: (line[0], line[1] != "clock", line[1] != "done"))
    return log_of("\n".join(f"{t!r} {kind} {name}".rstrip() for t, kind, name in lines))


class Score(NamedTuple):
    """One forecast against the truth, minutes."""

    held: bool
    below: bool
    above: bool
    miss: float
    simple_miss: float
    crps: float
    crps_outside: float
    rank: float


def score_one(plan: Plan, truth: Truth, pet: float) -> Score:
    """Follow at a PET; the simple forecast is the briefed end plus the worst lane's delay."""
    record = reconcile(plan, log_until(truth, pet), parse_instant(at(pet)))
    projection = project(record)
    expected = expect(record, projection, draws=DRAWS)
    assert expected is not None
    delays = [
        -ahead for name in plan.crew_lane_ids()
        if (ahead := lane_standing(
            record, name, [r for t in record.order if name in (r := record.runs[t]).lanes]).ahead_min) is not None
    ]
    simple = (briefed_end_pet_min(plan) or 0.0) + max(delays, default=0.0)
    p10, p50, p90 = np.percentile(expected.end, (10, 50, 90))
    return Score(
        p10 <= truth.end <= p90, truth.end < p10, truth.end > p90, abs(p50 - truth.end), abs(simple - truth.end),
        crps_of(expected.end, truth.end), float(scoringrules.crps_ensemble(truth.end, expected.end, estimator="nrg")),
        float((expected.end < truth.end).mean()),
    )


def crps_of(draws: np.ndarray, found: float) -> float:
    """Continuous ranked probability score of a sample, plain estimator: E|X - y| - E|X - X'| / 2."""
    ordered, n = np.sort(draws), len(draws)
    spread = 2.0 * float(ordered @ (2 * np.arange(1, n + 1) - n - 1)) / n**2
    return float(np.abs(ordered - found).mean()) - spread / 2


Mechanism = Callable[[Plan, Rng], dict[str, float]]
SINGLE_VALUES = "single values: "
MECHANISMS: tuple[tuple[str, Mechanism, bool], ...] = (  # name, what draws it, asked at shares of the true length
    ("narrow and steady", narrow_steady_day, True),
    ("narrow and steady, by the briefed length", narrow_steady_day, False),
    ("one slow or fast day, lanes wholly correlated", one_slow_day, True),
    ("ten historic pairs: 1.36 x likely, log-sd 0.23", a_slow_and_uncertain_pair, True),
    ("heavy tails", heavy_tails, True),
    ("slow start", slow_start, True),
    ("own mechanism", own_mechanism, True),
    ("own mechanism, by the briefed length", own_mechanism, False),
    (SINGLE_VALUES + "own mechanism", own_mechanism, True),
    (SINGLE_VALUES + "own mechanism, by the briefed length", own_mechanism, False),
    (SINGLE_VALUES + "ten historic pairs", a_slow_and_uncertain_pair, True),
)


def main(sorties: int = 500, first_seed: int = 1_000_000, *only: int) -> None:
    """Print one table; a row does not depend on which others are asked for."""
    plan, without_ranges = sortie_plan(), sortie_plan(ranges=False)
    briefed = briefed_end_pet_min(plan) or 0.0
    began = time.perf_counter()
    print(f"{len(plan.tasks)} tasks, two lanes, briefed end {briefed:.0f} min; {sorties} sorties a")
    print(f"mechanism from seed {first_seed}; followed at 25, 50 and 75 % of the length; {DRAWS} draws.")
    print(f"{'mechanism':<48}{'at':>5}{'P10-P90':>9}{'below':>7}{'above':>7}{'|P50-end|':>11}{'simple':>8}"
          f"{'lower by':>10}{'CRPS':>7}{'outside':>9}")
    for number, (name, mechanism, at_true_length) in enumerate(MECHANISMS):
        if only and number not in only:
            continue
        briefing = without_ranges if name.startswith(SINGLE_VALUES) else plan
        truths = [
            run_of(plan, mechanism(briefing, np.random.default_rng([first_seed, number, i]))) for i in range(sorties)
        ]
        for share in SHARES:
            asked = [(t, share * (t.end if at_true_length else briefed)) for t in truths]
            table = np.array(
                [score_one(briefing, t, pet) for t, pet in asked if pet < t.end], dtype=float  # else it is over already
            ).mean(axis=0)
            held, below, above, miss, simple, ours, outside, _ = table
            print(f"{name:<48}{share:>5.0%}{held:>9.1%}{below:>7.1%}{above:>7.1%}{miss:>11.2f}{simple:>8.2f}"
                  f"{1 - miss / simple:>10.1%}{ours:>7.3f}{outside:>9.3f}", flush=True)
    print(f"Bars: P10-P90 holds 80 % +/- 4 (own mechanism); at 50 % at least 30 % lower. {time.perf_counter() - began:.0f} s")


if __name__ == "__main__":
    main(*(int(word) for word in sys.argv[1:]))
