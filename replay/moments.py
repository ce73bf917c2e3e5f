"""Scores one recorded run: at every moment, the projection from what was known then against what happened.

A moment is an instant at which the room received something, from PET zero on. The score uses the state and the draws that
the board showed. Warnings and alerts can also appear while nothing is logged; for them the state is also computed every
`TICK_MIN` between two moments.

The whole log gives the truth. A projection cannot know of later decisions that changed the plan of record. Therefore the
moments after the last such decision are marked `settled`, and scored separately as well.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import NamedTuple

import numpy as np
import pandas as pd

from dashboard.core.base.times import minutes_between, plus_minutes
from dashboard.core.record.fold import reconcile
from dashboard.core.record.kept import KeptFold
from dashboard.core.record.lifecycle import DONE
from dashboard.core.record.record import Record
from dashboard.core.schedule.expected import DRAWS, Expected
from dashboard.core.schedule.plan_pace import project
from dashboard.core.state.follow import follow, state_with_draws
from dashboard.core.state.model import SortieState
from dashboard.words import how_many
from replay.crps import crps_of_sorted
from replay.recording import RecordedRun

TICK_MIN = 5.0
MOMENT_COLUMNS = (
    "pet_min",
    "share",
    "settled",
    "p10",
    "p50",
    "p90",
    "plan_pace",
    "briefed",
    "briefed_plus_delay",
    "error",
    "held",
    "crps",
    "plan_pace_error",
    "briefed_error",
    "briefed_plus_delay_error",
    "in_by_limit",
    "needed",
    "tasks",
    "task_abs_error",
    "task_error",
    "task_held",
    "task_crps",
)


class Truth(NamedTuple):
    """What happened, from the whole log.

    Parameters
    ----------
    end_pet_min : float
    finish_pet_min : dict of str to float
        For each task that was done.
    pet_zero : datetime
    in_by_limit : bool or None
        None: the readings do not show whether every suit kept its reserve.
    last_change : datetime or None
        The last decision.
    first_given_up : datetime or None
        The first decision that gave something up.
    """

    end_pet_min: float
    finish_pet_min: dict[str, float]
    pet_zero: datetime
    in_by_limit: bool | None
    last_change: datetime | None
    first_given_up: datetime | None


class Warned(NamedTuple):
    """The first warning, and whether it was right.

    Parameters
    ----------
    first_pet_min : float or None
        None: there was no warning.
    before_end_min : float or None
        Minutes from the warning to the actual end.
    before_giving_up_min : float or None
        Minutes from the warning to the first decision that gave something up.
    verdict : str
        In words.
    """

    first_pet_min: float | None
    before_end_min: float | None
    before_giving_up_min: float | None
    verdict: str


class AlertLoad(NamedTuple):
    """How often alerts appeared.

    Parameters
    ----------
    came_up : int
    mean_per_10_min : float or None
        None: the log covers less than 10 min.
    most_in_10_min : int
    toggles : int
        How often an alert appeared for the third time or more within a minute.
    """

    came_up: int
    mean_per_10_min: float | None
    most_in_10_min: int
    toggles: int


@dataclass(frozen=True)
class RunScore:
    """The score of one run.

    `moments` has one row per moment and the columns of `MOMENT_COLUMNS`. Errors are projected less actual, minutes.
    """

    name: str
    setting: str
    date: str
    sortie: str
    end_pet_min: float
    in_by_limit: bool | None
    moments: pd.DataFrame
    warned: Warned
    alerts: AlertLoad


class Unscorable(ValueError):
    """A run that cannot be scored. The text gives the reason."""


def score_run(run: RecordedRun, name: str, draws: int = DRAWS) -> RunScore:
    """Compute the state of a run at every moment, and score what was projected.

    Parameters
    ----------
    run : RecordedRun
    name : str
        Name of the run in its library.
    draws : int
        Number of draws of the expected projection.

    Returns
    -------
    RunScore

    Raises
    ------
    Unscorable
        When the log does not show when the crew was in, or has no moment to score.
    """
    truth = truth_of(run)
    rows: list[dict[str, float | bool | None]] = []
    alerts: list[tuple[float, frozenset[str]]] = []
    needed: list[tuple[float, bool | None]] = []
    marks, fold = set(run.marks), KeptFold(run.plan)
    for mark in with_ticks(run.marks):
        known = run.known_at(mark)
        state, expected = state_with_draws(fold.reconcile(known, mark), mark, draws=draws)
        pet = minutes_between(truth.pet_zero, mark)
        if pet < 0 or state.basis.pet_zero_from != "clock event" and run.pet_zero_known > mark:
            continue
        alerts.append((pet, frozenset(alert.id for alert in state.alerts if alert.level == "alert")))
        if expected is None or state.end.p50_pet_min is None or state.ended:
            continue
        needed.append((pet, state.advice.needed))
        if mark not in marks:
            continue
        rows.append(_moment(mark, pet, state, expected, truth))
    if not rows:
        raise Unscorable("no moment at which crew work remained and PET zero was known")
    moments = pd.DataFrame(rows, columns=list(MOMENT_COLUMNS))
    return RunScore(
        name,
        run.setting or "not said",
        run.date,
        run.plan.sortie.id,
        truth.end_pet_min,
        truth.in_by_limit,
        moments,
        _warned(needed, truth),
        alert_load(alerts),
    )


def truth_of(run: RecordedRun) -> Truth:
    """What happened, from the whole log.

    Parameters
    ----------
    run : RecordedRun

    Returns
    -------
    Truth

    Raises
    ------
    Unscorable
        When no crew task was done, or when crew work is open at the end of a log without an `end` event.
    """
    last = follow(run.plan, run.events, run.last, draws=0)
    record = reconcile(run.plan, run.events, run.last)
    crew = set(run.plan.crew_lane_ids())
    open_work = [t for t in project(record).sequence if crew & set(record.runs[t].lanes)]
    if open_work and not last.ended:
        raise Unscorable(f"the log stops before the crew is in ({how_many(len(open_work), 'crew task')} still open)")
    finishes = [
        r.finish_pet_min for r in record.runs.values() if crew & set(r.lanes) and r.finish_pet_min is not None
    ]
    if not finishes or last.end.plan_pace_pet_min is None:
        raise Unscorable("no crew task was done")
    end = last.end.plan_pace_pet_min
    changed = [e.at for e in record.counted.events if e.is_decision]
    gave = [e.at for e in record.counted.events if e.gives_up()]
    return Truth(
        end,
        {
            t: r.finish_pet_min
            for t, r in record.runs.items()
            if r.state == DONE and r.finish_pet_min is not None
        },
        record.pet_zero,
        _was_in(run, record, end),
        max(changed, default=None),
        min(gave, default=None),
    )


def _was_in(run: RecordedRun, record: Record, end: float) -> bool | None:
    """Whether the crew was in by the planned limit less reserve, with every last reading at or above its reserve."""
    if end > run.plan.sortie.limit_less_reserve_pet_min:
        return False
    worn = {lane.suit for lane in run.plan.lanes if lane.suit is not None}
    known = True
    for suit in (suit for suit in run.plan.suits if suit.id in worn):
        for name, given in suit.consumables().items():
            readings = record.readings.get((suit.id, name))
            if readings and readings[-1][1] < given.reserve:
                return False
            known = known and readings is not None
    return True if known else None


def _moment(
    mark: datetime, pet: float, state: SortieState, expected: Expected, truth: Truth
) -> dict[str, float | bool | None]:
    shift = minutes_between(
        truth.pet_zero, state.basis.pet_zero
    )  # converts PET as counted then to PET as known afterwards
    actual = truth.end_pet_min - shift
    end = np.sort(expected.end)[None, :]
    p10, p50, p90 = np.percentile(end[0], (10, 50, 90)).tolist()
    briefed = state.end.briefed_pet_min
    behind = [
        -lane.ahead_min for lane in state.lanes.values() if lane.kind == "crew" and lane.ahead_min is not None
    ]
    delayed = None if briefed is None else briefed + max(behind, default=0.0)
    plan_pace = state.end.plan_pace_pet_min
    return {
        "pet_min": pet,
        "share": min(1.0, max(0.0, pet / truth.end_pet_min)),
        "settled": truth.last_change is None or mark >= truth.last_change,
        "p10": p10 + shift,
        "p50": p50 + shift,
        "p90": p90 + shift,
        "plan_pace": _plus(plan_pace, shift),
        "briefed": _plus(briefed, shift),
        "briefed_plus_delay": _plus(delayed, shift),
        "error": p50 - actual,
        "held": p10 <= actual <= p90,
        "crps": float(crps_of_sorted(end, np.array([actual]))[0]),
        "plan_pace_error": _plus(plan_pace, -actual),
        "briefed_error": _plus(briefed, -actual),
        "briefed_plus_delay_error": _plus(delayed, -actual),
        "in_by_limit": state.end.in_by_limit,
        "needed": state.advice.needed,
        **_tasks(expected, truth.finish_pet_min, shift),
    }


def _plus(value: float | None, more: float) -> float | None:
    return None if value is None else value + more


def _tasks(expected: Expected, finish: Mapping[str, float], shift: float) -> dict[str, float | bool | None]:
    """Mean scores over the tasks that remained at the moment and were done later; no numbers if there are none."""
    rows = [i for i, task_id in enumerate(expected.tasks) if task_id in finish]
    if not rows:
        return {"tasks": 0}
    actual = np.array([finish[expected.tasks[i]] - shift for i in rows])
    ordered = np.sort(expected.finish[rows], axis=1)
    last = ordered.shape[1] - 1
    p10, p50, p90 = (ordered[:, round(last * share)] for share in (0.1, 0.5, 0.9))
    return {
        "tasks": len(rows),
        "task_abs_error": float(np.abs(p50 - actual).mean()),
        "task_error": float((p50 - actual).mean()),
        "task_held": float(((p10 <= actual) & (actual <= p90)).mean()),
        "task_crps": float(crps_of_sorted(ordered, actual).mean()),
    }


# --- warnings and alerts --------------------------------------------------------------------------


def with_ticks(marks: Sequence[datetime]) -> list[datetime]:
    """Add instants between the marks.

    Parameters
    ----------
    marks : sequence of datetime
        In order.

    Returns
    -------
    list of datetime
        The marks, and an instant every `TICK_MIN` between two of them.
    """
    found = []
    for earlier, later in zip(marks, marks[1:], strict=False):
        quiet = math.ceil(minutes_between(earlier, later) / TICK_MIN)
        found += [plus_minutes(earlier, TICK_MIN * number) for number in range(quiet)]
    return [*found, *marks[-1:]]


def _warned(advised: Sequence[tuple[float, bool | None]], truth: Truth) -> Warned:
    """The first moment at which advice was needed, and whether it was right."""
    first = next((pet for pet, needed in advised if needed), None)
    gave = None if truth.first_given_up is None else minutes_between(truth.pet_zero, truth.first_given_up)
    if first is None:
        verdict = {
            True: "none, rightly",
            False: "missed: in after the limit",
            None: "none; outcome not known",
        }
        return Warned(None, None, None, verdict[truth.in_by_limit])
    acted = gave is not None and gave >= first
    lead = gave - first if gave is not None and acted else None
    if truth.in_by_limit is False:
        verdict_of = "right: in after the limit"
    elif acted:
        verdict_of = "acted on: the outcome without it is not known"
    elif truth.in_by_limit is None:
        verdict_of = "not known: readings do not show it"
    else:
        verdict_of = "wrong: in by the limit, nothing given up"
    return Warned(first, truth.end_pet_min - first, lead, verdict_of)


def alert_load(seen: Sequence[tuple[float, Iterable[str]]]) -> AlertLoad:
    """Count how often alerts appeared.

    Parameters
    ----------
    seen : sequence of (float, iterable of str)
        PET minutes, and the names of the alerts that stood, in order of time. An alert appears when it stands and did not
        stand at the moment before.

    Returns
    -------
    AlertLoad
    """
    before: frozenset[str] = frozenset()
    came: list[tuple[float, str]] = []
    for pet, names in seen:
        now = frozenset(names)
        came += [(pet, name) for name in sorted(now - before)]
        before = now
    times = [pet for pet, _ in came]
    most = max((sum(pet <= other < pet + 10 for other in times) for pet in times), default=0)
    toggles = sum(
        sum(name == other and pet - 1 <= earlier < pet for earlier, other in came) >= 2 for pet, name in came
    )
    length = seen[-1][0] - seen[0][0] if seen else 0.0
    return AlertLoad(len(came), len(came) / length * 10 if length >= 10 else None, most, toggles)
